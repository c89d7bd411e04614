// A list of rows in a form: one more row at a touch. Without this, some empty rows are always there.

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
    row.querySelector("input:not([type=hidden]), select").focus();
  });
}
