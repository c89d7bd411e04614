// What every page shares: steppers, menus that close, dialogs, and focus after a refused form.

document.documentElement.classList.add("js");

document.addEventListener("click", (event) => {
  const step = event.target.closest("[data-stepper] [data-step]");
  if (step) {
    const input = step.parentElement.querySelector("input");
    const by = Number(step.dataset.step);
    const least = input.min === "" ? -Infinity : Number(input.min);
    const most = input.max === "" ? Infinity : Number(input.max);
    const now = Number.parseInt(input.value, 10) || 0;
    input.value = String(Math.min(most, Math.max(least, now + by)));
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.dispatchEvent(new Event("change", { bubbles: true }));
    return;
  }

  const opener = event.target.closest("[data-opens]");
  if (opener) document.getElementById(opener.dataset.opens)?.showModal();
  const closer = event.target.closest("[data-closes-dialog]");
  if (closer) closer.closest("dialog")?.close();

  for (const menu of document.querySelectorAll("details[data-closes][open]")) {
    if (!menu.contains(event.target)) menu.open = false;
  }
});

document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  for (const menu of document.querySelectorAll("details[data-closes][open]")) {
    menu.open = false;
    menu.querySelector("summary").focus();
  }
});

const focusFirstWrong = (root) => {
  const wrong = root.querySelector('[aria-invalid="true"], .form-errors');
  wrong?.closest("details")?.setAttribute("open", "");
  wrong?.focus();
};

// A refused form comes back with the first wrong field ready to be put right.
document.addEventListener("htmx:afterSettle", (event) => {
  if (event.detail.xhr?.status === 422) focusFirstWrong(event.detail.elt.isConnected ? event.detail.elt : document);
});
focusFirstWrong(document);
