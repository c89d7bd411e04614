// One entry to several pots: the pots chosen on the page go with every form marked data-into, and stay chosen until they
// are let go. They are said beside the line for as long as they are.

const chips = document.getElementById("pot-into");
const now = document.getElementById("into-now");

if (chips && now) {
  const boxes = [...chips.querySelectorAll('[name="into"]')];
  const memory = `into-${chips.dataset.potCode}`;
  const chosen = () => boxes.filter((box) => box.checked).map((box) => box.value);

  const show = () => {
    const codes = chosen();
    now.hidden = codes.length === 0;
    document.querySelector("[data-pot]").toggleAttribute("data-several", codes.length > 0);
    now.querySelector("[data-into-count]").textContent = `${codes.length + 1} pots`;
    now.querySelector("[data-into-codes]").textContent = codes.map((code) => `, ${code}`).join("");
    sessionStorage.setItem(memory, codes.join(" "));
  };

  const kept = (sessionStorage.getItem(memory) ?? "").split(" ");
  for (const box of boxes) box.checked = kept.includes(box.value);
  show();

  chips.addEventListener("change", show);
  now.querySelector("[data-into-only]").addEventListener("click", () => {
    for (const box of boxes) box.checked = false;
    show();
  });

  // The chips belong to the line's own form; every other form is given them as its data is gathered.
  document.addEventListener("formdata", (event) => {
    if (!event.target.matches("[data-into]") || event.target.id === "pot-line-form") return;
    for (const code of chosen()) event.formData.append("into", code);
  });
}
