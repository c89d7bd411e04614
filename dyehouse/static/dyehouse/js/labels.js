// The first label is picked on a picture of the sheet, which shows what the counts would fill. The server reckons again.
const form = document.querySelector("[data-labels-form]");

const number = (input) => Math.max(0, Number.parseInt(input?.value, 10) || 0);

const say = (first, count, onASheet) => {
  if (count < 1 || first < 1 || first > onASheet) return "";
  const last = first + count - 1;
  if (last > onASheet) return `From label ${first}, on ${Math.ceil(last / onASheet)} sheets.`;
  return last === first ? `Label ${first}.` : `Labels ${first} to ${last}.`;
};

const show = () => {
  const fields = form.querySelector("#sheet-fields");
  const first = number(form.querySelector("[name=start_at]"));
  const count = [...form.querySelectorAll("[data-counts-labels]")].reduce((sum, each) => sum + number(each), 0);
  for (const label of fields.querySelectorAll("[data-label]")) {
    const at = Number(label.dataset.label);
    label.toggleAttribute("data-used", at >= first && at < first + count);
  }
  const filled = fields.querySelector("[data-filled]");
  if (filled) filled.textContent = say(first, count, Number(fields.dataset.labelsASheet));
  const total = form.querySelector("[data-total]");
  if (total) total.value = String(count);
};

if (form) {
  form.addEventListener("input", show);
  form.addEventListener("change", show);
  form.addEventListener("htmx:afterSettle", show);
  form.addEventListener("click", (event) => {
    const label = event.target.closest("[data-label]");
    if (!label) return;
    form.querySelector("[name=start_at]").value = label.dataset.label;
    show();
  });
  show();
}
