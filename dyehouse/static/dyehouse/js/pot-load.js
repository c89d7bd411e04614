// Loading a pot: the sum of the put-up's weight shown as the dry weight to expect, while none is weighed.

const form = document.querySelector("[data-load]");
const pieces = form?.querySelector('[name="pieces"]');
const weight = form?.querySelector('[name="dry_weight"]');

const showSum = () => {
  const count = Number.parseInt(pieces.value, 10);
  const milligrams = Number(form.dataset.nominal) * count;
  weight.placeholder = count > 0 ? String(milligrams / 1000) : "";
};

if (pieces && weight) {
  pieces.addEventListener("input", showSum);
  showSum();
}
