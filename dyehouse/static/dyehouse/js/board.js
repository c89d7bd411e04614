// The board looks again by itself, calmly: only what changed is put in place, and what had the focus keeps it.

const LOOK_AGAIN_MS = 20000;
const place = document.querySelector("[data-board]");

const lookAgain = async () => {
  if (document.hidden) return;
  const answer = await fetch(place.dataset.board, { credentials: "same-origin" }).catch(() => null);
  if (!answer?.headers.has("X-Kept")) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("board");
  const old = document.getElementById("board");
  if (fresh.outerHTML === place.dataset.shown) return;
  place.dataset.shown = fresh.outerHTML;
  const focused = old.contains(document.activeElement) ? document.activeElement.id : "";
  old.replaceWith(fresh);
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
};

if (place) {
  document.addEventListener("visibilitychange", lookAgain);
  setInterval(lookAgain, LOOK_AGAIN_MS);
}
