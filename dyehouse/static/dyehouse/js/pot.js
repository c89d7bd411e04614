// The pot: every form marked data-keep is kept without leaving the page. Its row stands at once, under an id and a
// clock time made here; the server's rows take its place. What cannot be sent waits in order and is sent again.

import { newKey, stamp } from "./pot-key.js";

const page = document.querySelector("[data-pot]");
const waiting = document.getElementById("pot-waiting");
const line = document.getElementById("pot-line");
const reading = document.getElementById("pot-reading");
const emptyReading = reading?.innerHTML ?? "";
const RETRY_MS = 4000;
const LOOK_AGAIN_MS = 30000;
const KEPT_SHOWN_MS = 2500;

const queue = [];
let sending = false;
let retry = 0;

const words = (form, submitter, data) => {
  if (form.matches("[data-line-form]")) return data.get("typed");
  if (submitter?.dataset.words) return submitter.dataset.words;
  const typed = form.querySelector("[data-amount]")?.value.trim() ?? "";
  return [typed && `${typed} ${form.dataset.unit ?? ""}`.trim(), form.dataset.words].filter(Boolean).join(" ");
};

const addRow = (text) => {
  const row = document.getElementById("waiting-row").content.firstElementChild.cloneNode(true);
  const now = new Date();
  row.querySelector(".log-clock").textContent = now.toTimeString().slice(0, 5);
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

const keep = (form, submitter) => {
  const data = formData(form, submitter);
  const quiet = "quiet" in form.dataset;
  const slug = form.matches("[data-line-form]") ? "line" : (data.get("slug") ?? errorSlug(form));
  showErrors(slug, []);
  const typed = [...form.querySelectorAll('input[type="text"]')].map((input) => [input, input.value]);
  const row = quiet ? null : addRow(words(form, submitter, data));
  if (form.matches("[data-line-form]")) row.scrollIntoView({ block: "nearest" });
  queue.push({ address: form.action, data, form, row, slug, typed });
  if (quiet) form.closest(".entry")?.classList.add("entry-waiting");
  else clear(form);
  send();
};

const errorSlug = (form) => form.querySelector("[data-errors]")?.dataset.errors ?? form.closest(".entry")?.id ?? "line";

const send = async () => {
  if (sending || queue.length === 0) return;
  sending = true;
  clearTimeout(retry);
  const entry = queue[0];
  try {
    const response = await fetch(entry.address, {
      method: "POST",
      body: entry.data,
      headers: { "HX-Request": "true" },
      credentials: "same-origin",
    });
    const text = await response.text();
    if (response.headers.has("X-Kept")) {
      queue.shift();
      show(text);
      if (entry.row) leave(entry.row);
    } else if (response.status === 422) {
      queue.shift();
      giveBack(entry, text);
    } else if (response.status === 403 || response.redirected) {
      hold(entry, "Not kept yet: you are signed out. Sign in on another tab; it is sent then.");
      await freshToken();
    } else if (response.status === 404) {
      queue.shift();
      hold(entry, "Not kept: it is not there any more. Open the page afresh.");
    } else {
      hold(entry, "Not kept yet: the house did not answer. It is sent again.");
    }
  } catch {
    hold(entry, "Not kept yet: no connection. It is sent again.");
  }
  sending = false;
  if (queue.length === 0) return;
  if (queue[0] === entry) retry = setTimeout(send, RETRY_MS);
  else send();
};

// Where the log is out of sight, the row that stands at the top says for a moment that it is kept.
const leave = (row) => {
  const log = document.getElementById("pot-latest").getBoundingClientRect();
  if (log.bottom > 0 && log.top < window.innerHeight) {
    row.remove();
    return;
  }
  row.classList.remove("entry-unsent");
  row.querySelector("[data-state]").textContent = "Kept.";
  row.querySelector("[data-again]").hidden = true;
  setTimeout(() => row.remove(), KEPT_SHOWN_MS);
};

const hold = (entry, sentence) => {
  const row = (entry.row ??= addRow("A change to the log"));
  row.classList.add("entry-unsent");
  row.querySelector("[data-state]").textContent = sentence;
  row.querySelector("[data-again]").hidden = false;
};

// After signing in again the old form token is worth nothing: take a new one from the page as it is now.
const freshToken = async () => {
  const response = await fetch(location.pathname, { credentials: "same-origin" });
  if (response.redirected || !response.ok) return;
  const fresh = new DOMParser().parseFromString(await response.text(), "text/html");
  const token = fresh.querySelector('[name="csrfmiddlewaretoken"]')?.value;
  if (!token) return;
  for (const input of document.querySelectorAll('[name="csrfmiddlewaretoken"]')) input.value = token;
  for (const entry of queue) entry.data.set("csrfmiddlewaretoken", token);
};

const giveBack = (entry, text) => {
  entry.row?.remove();
  const answered = new DOMParser().parseFromString(text, "text/html");
  showErrors(entry.slug, answered.querySelectorAll(".error"));
  const form = entry.form.isConnected ? entry.form : document.querySelector(`form[action="${CSS.escape(entry.address)}"]`);
  if (!form) return;
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
  if (document.hidden || sending || queue.length || document.querySelector(".pot-page .working[open]")) return;
  const response = await fetch(page.dataset.liveAddress, { credentials: "same-origin" }).catch(() => null);
  if (response?.headers.has("X-Kept") && !queue.length) show(await response.text());
};

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
    if (event.target.closest("[data-again]")) send();
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

  window.addEventListener("online", send);
  window.addEventListener("beforeunload", (event) => {
    if (queue.length) event.preventDefault();
  });
  document.addEventListener("visibilitychange", lookAgain);
  setInterval(lookAgain, LOOK_AGAIN_MS);
}
