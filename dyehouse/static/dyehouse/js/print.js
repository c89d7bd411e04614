// A page that is meant for paper as well goes to the printer at a touch.

for (const button of document.querySelectorAll("[data-prints]")) {
  button.addEventListener("click", () => window.print());
}
