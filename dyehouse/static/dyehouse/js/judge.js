// Adds up the counts of a judgement while they are stepped, so that what still waits is seen at once. The server checks.
// All count as good at first, so a piece counted as anything else is taken from the good ones.
for (const form of document.querySelectorAll("[data-judge]")) {
  const add = () => {
    for (const total of form.querySelectorAll("[data-total]")) {
      const counts = form.querySelectorAll(`[data-adds="${total.dataset.total}"]`);
      const sum = [...counts].reduce((all, input) => all + (Number.parseInt(input.value, 10) || 0), 0);
      total.querySelector("output").value = String(sum);
      total.toggleAttribute("data-too-many", sum > Number(total.dataset.of));
    }
  };
  const takeFromGood = (event) => {
    const changed = event.target;
    const total = form.querySelector(`[data-total="${changed.dataset.adds}"]`);
    const good = form.querySelector(`[data-adds="${changed.dataset.adds}"][name^="good_"]`);
    if (!total || !good || changed === good) return;
    const counts = form.querySelectorAll(`[data-adds="${changed.dataset.adds}"]`);
    const sum = [...counts].reduce((all, input) => all + (Number.parseInt(input.value, 10) || 0), 0);
    const over = sum - Number(total.dataset.of);
    if (over > 0) good.value = String(Math.max(0, (Number.parseInt(good.value, 10) || 0) - over));
  };
  form.addEventListener("input", takeFromGood);
  form.addEventListener("input", add);
  form.addEventListener("change", add);
  add();
}
