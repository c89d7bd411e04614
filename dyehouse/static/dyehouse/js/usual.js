// What is usual: one touch puts an amount as a line where it is kept or changed. Without this the same link opens the
// page with the line filled in.

const line = document.getElementById("pot-line");

if (line) {
  document.addEventListener("click", (event) => {
    const offer = event.target.closest("[data-pot-line]");
    if (!offer || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    line.value = line.value.trim() ? `${line.value.trim()}, ${offer.dataset.potLine}` : offer.dataset.potLine;
    line.dispatchEvent(new Event("input", { bubbles: true }));
    line.focus({ preventScroll: true });
    line.closest(".pot-line").scrollIntoView({ block: "start" });
  });
}
