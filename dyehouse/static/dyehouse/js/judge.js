// Adds up the counts of a judgement while they are stepped, so that what still waits is seen at once. The server checks.
for (const form of document.querySelectorAll("[data-judge]")) {
  const add = () => {
    for (const total of form.querySelectorAll("[data-total]")) {
      const counts = form.querySelectorAll(`[data-adds="${total.dataset.total}"]`);
      const sum = [...counts].reduce((all, input) => all + (Number.parseInt(input.value, 10) || 0), 0);
      total.querySelector("output").value = String(sum);
      total.toggleAttribute("data-too-many", sum > Number(total.dataset.of));
    }
  };
  form.addEventListener("input", add);
  form.addEventListener("change", add);
  add();
}
