// The studio's page: one more row at a touch, and a first guess of zone, country and currency that stays changeable.

for (const rows of document.querySelectorAll("[data-rows]")) {
  const total = rows.querySelector(`[name="${rows.dataset.rows}-TOTAL_FORMS"]`);
  const list = rows.querySelector("[data-rows-list]");
  const template = rows.querySelector("template");
  rows.querySelector("[data-rows-add]").addEventListener("click", () => {
    const number = Number(total.value);
    const fresh = document.createElement("div");
    fresh.innerHTML = template.innerHTML.replaceAll("__prefix__", String(number));
    const row = fresh.firstElementChild;
    list.append(row);
    total.value = String(number + 1);
    row.querySelector("input:not([type=hidden])").focus();
  });
}

const form = document.getElementById("set-up");
const currencies = new Map(form.dataset.currencies.split(" ").map((pair) => pair.split(":")));
const choose = (select, value) => {
  if ([...select.options].some((option) => option.value === value)) select.value = value;
};
const { country, currency, time_zone: zone, units } = form.elements;

country.addEventListener("change", () => choose(currency, currencies.get(country.value)));

if ("guess" in form.dataset && !form.querySelector('[aria-invalid="true"]')) {
  choose(zone, Intl.DateTimeFormat().resolvedOptions().timeZone);
  const region = navigator.languages.map((language) => language.split("-")[1]).find(Boolean);
  if (region && !country.value) {
    choose(country, region);
    choose(currency, currencies.get(country.value));
    if (country.value === "US") units.value = "us";
  }
}
