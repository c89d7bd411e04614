// The section chosen beside the bench goes with each touch of a dye or a technique, and stays chosen until another one is.

const KINDS = ["stock", "powder", "mix", "technique"];

document.addEventListener("formdata", (event) => {
  const chosen = document.querySelector('#pot-onto [name="onto"]:checked')?.value;
  if (chosen && event.target.matches("#bench form") && KINDS.includes(event.formData.get("kind"))) {
    event.formData.set("section", chosen);
  }
});
