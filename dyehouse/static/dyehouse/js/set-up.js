// The studio's page: a first guess of zone, country and currency that stays changeable.

import "./rows.js";

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
