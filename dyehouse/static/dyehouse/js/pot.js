// The pot: every form marked data-keep is kept without leaving the page. Its row stands at once, under an id and a
// clock time made here, and waits in the queue; the server's rows take its place.

import { newKey, stamp } from "./pot-key.js";
import * as queue from "./pot-queue.js";

const page = document.querySelector("[data-pot]");
const waiting = document.getElementById("pot-waiting");
const line = document.getElementById("pot-line");
const reading = document.getElementById("pot-reading");
const emptyReading = reading?.innerHTML ?? "";
const LOOK_AGAIN_MS = 30000;
const KEPT_SHOWN_MS = 2500;

// What this page knows of an entry beside what the queue keeps: its form, its row, what was typed. By key.
const here = new Map();

const words = (form, submitter, data) => {
  if (form.matches("[data-line-form]")) return data.get("typed");
  if (submitter?.dataset.words) return submitter.dataset.words;
  const typed = form.querySelector("[data-amount]")?.value.trim() ?? "";
  return [typed && `${typed} ${form.dataset.unit ?? ""}`.trim(), form.dataset.words].filter(Boolean).join(" ");
};

const addRow = ({ key, words: text, clock }) => {
  const row = document.getElementById("waiting-row").content.firstElementChild.cloneNode(true);
  row.dataset.key = key;
  row.querySelector(".log-clock").textContent = new Date(clock).toTimeString().slice(0, 5);
  row.querySelector(".entry-words").textContent = text;
  waiting.prepend(row);
  return row;
};

const showErrors = (slug, nodes) => {
  const place = document.querySelector(`[data-errors="${CSS.escape(slug)}"]`);
  place?.replaceChildren(...nodes);
};

const formData = (form, submitter) => {
  const data = new FormData(form);
  if (submitter?.name) data.set(submitter.name, submitter.value);
  data.set("key", newKey());
  data.set("clock", stamp());
  return data;
};

const clear = (form) => {
  if (form.matches("[data-line-form]")) {
    line.value = "";
    line.removeAttribute("aria-invalid");
    window.htmx?.trigger(line, "htmx:abort");
    reading.innerHTML = emptyReading;
  } else {
    for (const input of form.querySelectorAll('input[type="text"], input[type="file"]')) input.value = "";
  }
  const panel = form.closest("details[name]");
  if (panel) panel.open = false;
};

const quietWords = (form, submitter) => {
  const of = form.closest(".entry")?.querySelector(".entry-words")?.textContent.trim();
  const does = form.querySelector('[name="typed"]')?.value || submitter?.textContent.trim() || "A change to the log";
  return of ? `${of}: ${does}` : does;
};

const keep = (form, submitter) => {
  const data = formData(form, submitter);
  const quiet = "quiet" in form.dataset;
  const slug = form.matches("[data-line-form]") ? "line" : (data.get("slug") ?? errorSlug(form));
  showErrors(slug, []);
  const typed = [...form.querySelectorAll('input[type="text"]')].map((input) => [input, input.value]);
  const others = data.getAll("into").length;
  const said = (quiet ? quietWords(form, submitter) : words(form, submitter, data)) + (others ? `, into ${others + 1} pots` : "");
  const entry = queue.add({ address: new URL(form.action).pathname, data, words: said, pot: page.dataset.pot });
  const row = quiet ? null : addRow(entry);
  here.set(entry.key, { form, row, slug, typed });
  if (form.matches("[data-line-form]")) row.scrollIntoView({ block: "nearest" });
  if (quiet) form.closest(".entry")?.classList.add("entry-waiting");
  else clear(form);
};

const errorSlug = (form) => form.querySelector("[data-errors]")?.dataset.errors ?? form.closest(".entry")?.id ?? "line";

// Where the log is out of sight, the row that stands at the top says for a moment that it is kept.
const leave = (row) => {
  const log = document.getElementById("pot-latest").getBoundingClientRect();
  if (log.bottom > 0 && log.top < window.innerHeight) {
    row.remove();
    return;
  }
  row.classList.remove("entry-unsent");
  row.removeAttribute("data-stored");
  row.querySelector("[data-state]").textContent = "Kept.";
  for (const button of row.querySelectorAll("button")) button.hidden = true;
  setTimeout(() => row.remove(), KEPT_SHOWN_MS);
};

// The row of an entry that waits, made where there is none yet: after a reload, or for a change that showed no row.
const rowOf = (entry) => {
  const known = here.get(entry.key) ?? {};
  known.row ??= waiting.querySelector(`[data-key="${CSS.escape(entry.key)}"]`) ?? addRow(entry);
  here.set(entry.key, known);
  return known.row;
};

const hold = (entry, sentence) => {
  const row = rowOf(entry);
  row.classList.add("entry-unsent");
  const by = entry.who === queue.who ? "" : ` ${entry.who} wrote it; it goes once ${entry.who} is signed in here.`;
  const state = row.querySelector("[data-state]");
  if (state.textContent !== sentence + by) state.textContent = sentence + by;
  row.querySelector("[data-again]").hidden = entry.who !== queue.who;
  row.querySelector("[data-remove]").hidden = entry.state !== "aside";
};

// What waits for this pot, as the queue has it: rows for what is there, none for what another page has sent.
const showWaiting = async () => {
  const mine = (await queue.entries()).filter((entry) => entry.pot === page.dataset.pot);
  const keys = new Set(mine.map((entry) => entry.key));
  for (const entry of mine) {
    if (entry.state === "aside") hold(entry, entry.sentence);
    else if (entry.who !== queue.who) hold(entry, "Not sent yet.");
    else if (!here.has(entry.key)) hold(entry, queue.heldWords());
  }
  for (const row of waiting.querySelectorAll("[data-stored]")) if (!keys.has(row.dataset.key)) row.remove();
  for (const key of keys) waiting.querySelector(`[data-key="${CSS.escape(key)}"]`)?.setAttribute("data-stored", "");
};

// What was refused while its form still stands here goes back into it; all else stays as a row with the sentence.
const giveBack = async (stored, text) => {
  const entry = here.get(stored.key);
  const form = entry?.form?.isConnected ? entry.form : document.querySelector(`form[action="${CSS.escape(stored.address)}"]`);
  if (!entry?.form || !form) return;
  await queue.remove(stored);
  entry.row?.remove();
  here.delete(stored.key);
  const answered = new DOMParser().parseFromString(text, "text/html");
  showErrors(entry.slug, answered.querySelectorAll(".error"));
  const panel = form.closest("details[name]");
  if (panel) panel.open = true;
  for (const [input, value] of entry.typed) if (!input.value) input.value = value;
  const wrong = answered.querySelector(".error")?.dataset.field;
  (form.querySelector(`[name="${CSS.escape(wrong || "typed")}"]`) ?? form.querySelector("[data-amount]"))?.focus();
};

const show = (text) => {
  const answered = new DOMParser().parseFromString(text, "text/html");
  for (const fresh of answered.querySelectorAll("[data-live]")) {
    const old = document.getElementById(fresh.id);
    if (!old) continue;
    keepOpen(old, fresh);
    old.replaceWith(fresh);
  }
  for (const fresh of answered.querySelectorAll("[data-tap]")) {
    const old = document.getElementById(fresh.id);
    if (old) {
      old.querySelector("[data-amounts]").replaceWith(fresh.querySelector("[data-amounts]"));
      old.querySelector("[data-left]").replaceWith(fresh.querySelector("[data-left]"));
    } else {
      document.querySelector(`.taps#${CSS.escape(fresh.dataset.tap)}`)?.prepend(fresh);
    }
  }
};

// What somebody has opened, and is perhaps writing in, stays so.
const keepOpen = (old, fresh) => {
  for (const open of old.querySelectorAll(".entry-body[open]")) {
    const same = fresh.querySelector(`#${CSS.escape(open.closest(".entry").id)} .entry-body`);
    if (!same) continue;
    same.open = true;
    const typed = open.querySelector('[name="typed"]')?.value;
    const input = same.querySelector('[name="typed"]');
    if (input && typed !== undefined) input.value = typed;
  }
  const more = old.querySelector(":scope > details.more");
  const freshMore = fresh.querySelector(":scope > details.more");
  if (more && freshMore) freshMore.open = more.open;
};

const lookAgain = async () => {
  const busy = () => waiting.childElementCount > 0;
  if (document.hidden || busy() || document.querySelector(".pot-page .working[open]")) return;
  const response = await fetch(page.dataset.liveAddress, { credentials: "same-origin" }).catch(() => null);
  if (response?.headers.has("X-Kept") && !busy()) show(await response.text());
  else if (response?.redirected) document.dispatchEvent(new Event("signed-out"));
};

const takeAway = async (key) => {
  const entry = (await queue.entries()).find((each) => each.key === key && each.state === "aside");
  if (!entry) return;
  await queue.remove(entry);
  waiting.querySelector(`[data-key="${CSS.escape(key)}"]`)?.remove();
  here.delete(key);
};

queue.listen(({ what, entry, more }) => {
  if (!page || !waiting) return;
  if (what === "changed") showWaiting();
  if (!entry || entry.pot !== page.dataset.pot) return;
  if (what === "kept") {
    show(more);
    const row = here.get(entry.key)?.row;
    here.delete(entry.key);
    if (row) leave(row);
  }
  if (what === "kept-elsewhere") {
    waiting.querySelector(`[data-key="${CSS.escape(entry.key)}"]`)?.remove();
    here.delete(entry.key);
    lookAgain();
  }
  if (what === "held") hold(entry, queue.heldWords());
  if (what === "aside") hold(entry, entry.sentence);
  if (what === "refused") giveBack(entry, more);
});

if (page && waiting) {
  document.addEventListener("submit", (event) => {
    if (!event.target.matches("[data-keep]")) return;
    event.preventDefault();
    if (event.target.matches("[data-line-form]") && !line.value.trim()) {
      line.focus();
      return;
    }
    keep(event.target, event.submitter);
  });

  document.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]")?.dataset.key;
    if (key && event.target.closest("[data-again]")) queue.again(key);
    if (key && event.target.closest("[data-remove]")) takeAway(key);
    const fills = event.target.closest("[data-line]");
    if (fills) {
      line.value = fills.dataset.line;
      const gap = line.value.indexOf("…");
      line.focus();
      line.setSelectionRange(gap, gap + 1);
      line.scrollIntoView({ block: "center" });
    }
    // Focused within the touch itself, since phones open their keys only then.
    const opener = event.target.closest(".tap-box > summary");
    if (opener && !opener.parentElement.open) {
      event.preventDefault();
      const box = opener.parentElement;
      box.open = true;
      box.querySelector("[data-amount]")?.focus({ preventScroll: true });
      box.scrollIntoView({ block: "nearest" });
    }
  });

  document.addEventListener("change", (event) => {
    if (event.target.matches("[data-sends]") && event.target.files.length) event.target.form.requestSubmit();
  });

  // Without the house nothing can be read yet; the words are read when they arrive.
  document.addEventListener("htmx:sendError", (event) => {
    if (event.target === line) reading.textContent = "No connection: it is kept as typed and read when it is sent.";
  });
  document.addEventListener("htmx:beforeSwap", (event) => {
    const led = new URL(event.detail.xhr.responseURL || location.href).pathname;
    if (event.detail.requestConfig?.elt !== line || led.startsWith(location.pathname)) return;
    event.detail.shouldSwap = false;
    reading.textContent = "You are signed out here: it is kept as typed and read when it is sent.";
  });

  showWaiting().then(queue.send);
  document.addEventListener("visibilitychange", lookAgain);
  document.addEventListener("house-reached", lookAgain);
  setInterval(lookAgain, LOOK_AGAIN_MS);
}
