// What was written at the pots and is not kept by the house yet. Each entry carries its key and its clock time from the
// moment it was made; it is sent in order, once, under the name of who wrote it, and leaves only when the house has it.

import { lasts, openStore } from "./queue-store.js";

const RETRY_MS = 4000;
const RETRY_LATER_MS = 15000;
const LOCKED_MS = 500;
const FAILURES_BORNE = 5;

export const who = document.body.dataset.who ?? "";
const store = openStore();
const listeners = new Set();
const elsewhere = "BroadcastChannel" in window ? new BroadcastChannel("dyehouse-queue") : null;
const failures = new Map();

let adding = Promise.resolve();
let unsaved = 0;
let sending = false;
let timer = 0;
let tries = 0;
let token = document.querySelector('[name="csrfmiddlewaretoken"]')?.value ?? "";

// Why nothing goes at present: "", "connection", "house", "signed-out" or "other-person".
export let held = "";

export const listen = (listener) => listeners.add(listener);
const tell = (what, entry, more) => {
  for (const listener of listeners) listener({ what, entry, more });
};

export const entries = async () => (await store).all();

const split = async (data) => {
  const fields = [];
  const files = [];
  for (const [name, value] of data) {
    if (typeof value === "string") {
      if (name !== "csrfmiddlewaretoken") fields.push([name, value]);
    } else if (value.size) files.push({ name, called: value.name, type: value.type, bytes: await value.arrayBuffer() });
  }
  return { fields, files };
};

// Takes an entry: at once in the page's hands, a moment later in the phone's database, then on its way.
export const add = ({ address, data, words, pot }) => {
  const entry = { key: data.get("key"), clock: data.get("clock"), address, words, pot, who, state: "waiting", sentence: "" };
  unsaved += 1;
  adding = adding.then(async () => {
    const { fields, files } = await split(data);
    entry.fields = fields;
    entry.number = await (await store).add(entry, files);
    if (lasts(entry)) unsaved -= 1;
    elsewhere?.postMessage({ what: "changed" });
    tell("changed", entry);
    navigator.storage?.persist?.();
    send();
  });
  return entry;
};

export const remove = async (entry) => {
  await (await store).remove(entry);
  if (!lasts(entry)) unsaved -= 1;
  failures.delete(entry.key);
  elsewhere?.postMessage({ what: "changed" });
};

export const again = async (key) => {
  const kept = await store;
  const entry = (await kept.all()).find((each) => each.key === key);
  if (entry?.state === "aside") {
    entry.state = "waiting";
    await kept.put(entry);
  }
  failures.delete(key);
  tries = 0;
  send();
};

// Who is signed in here and a form token that is good now. Signing in again makes the old one worth nothing.
export const freshToken = async () => {
  const response = await fetch("/token/", { credentials: "same-origin", cache: "no-store" });
  if (!response.ok) throw new Error("no token");
  const told = await response.json();
  token = told.token;
  for (const input of document.querySelectorAll('[name="csrfmiddlewaretoken"]')) input.value = token;
  return told;
};

const post = async (entry) => {
  const body = new FormData();
  for (const [name, value] of entry.fields) body.append(name, value);
  for (const file of await (await store).files(entry)) {
    body.append(file.name, new File([file.bytes], file.called, { type: file.type }));
  }
  body.set("csrfmiddlewaretoken", token);
  return fetch(entry.address, {
    method: "POST",
    body,
    headers: { "HX-Request": "true", "X-Written-By": encodeURIComponent(entry.who) },
    credentials: "same-origin",
  });
};

const sentences = (text) => [...new DOMParser().parseFromString(text, "text/html").querySelectorAll(".error")].map((each) => each.textContent);

const aside = async (entry, sentence) => {
  entry.state = "aside";
  entry.sentence = sentence;
  await (await store).put(entry);
  elsewhere?.postMessage({ what: "changed" });
  tell("aside", entry);
};

// One entry: true when the next may go, else what holds it up.
const sendOne = async (entry, second = false) => {
  const response = await post(entry);
  const text = await response.text();
  if (response.headers.has("X-Kept")) {
    await remove(entry);
    elsewhere?.postMessage({ what: "kept", key: entry.key, pot: entry.pot });
    tell("kept", entry, text);
    return true;
  }
  if (response.redirected || response.status === 403 || response.status === 409) {
    const told = await freshToken();
    if (told.who === entry.who && !second) return sendOne(entry, true);
    if (!told.who) return "signed-out";
    if (told.who !== entry.who) return "other-person";
    await aside(entry, "Not kept: the house does not let you write here. Ask the owner of the studio.");
    return true;
  }
  if (response.status === 422) {
    const given = sentences(text);
    await aside(entry, `Not kept: ${given.join(" ") || "the house could not read it."}`);
    tell("refused", entry, text);
    return true;
  }
  if (response.status >= 400 && response.status < 500 && response.status !== 408 && response.status !== 429) {
    await aside(entry, response.status === 413 ? "Not kept: it is too large to be sent." : "Not kept: it is not there any more. Open the page afresh.");
    return true;
  }
  failures.set(entry.key, (failures.get(entry.key) ?? 0) + (response.status === 500 ? 1 : 0));
  if (failures.get(entry.key) >= FAILURES_BORNE) {
    await aside(entry, "Not kept: the house fails at this one. Look into the log whether it is there, then send it again.");
    return true;
  }
  return "house";
};

const sendAll = async () => {
  for (;;) {
    const waiting = (await entries()).filter((each) => each.state === "waiting" && each.who === who);
    if (!waiting.length) return "";
    const went = await sendOne(waiting[0]).catch(() => "connection");
    if (went === true) tries = 0;
    else return went;
  }
};

export const send = async () => {
  clearTimeout(timer);
  if (sending || !who) return;
  sending = true;
  await adding;
  // Of several open pages one sends; where a browser has no locks, the key keeps an entry from being kept twice.
  const sent = navigator.locks
    ? navigator.locks.request("dyehouse-queue", { ifAvailable: true }, (lock) => (lock ? sendAll() : "locked"))
    : sendAll();
  const went = await sent.catch(() => "house");
  sending = false;
  const left = (await entries()).filter((each) => each.state === "waiting" && each.who === who);
  if (went === "locked") {
    if (left.length) timer = setTimeout(send, LOCKED_MS);
    return;
  }
  held = left.length ? went : "";
  for (const entry of left) tell("held", entry);
  tell("changed");
  if (!left.length) return;
  // Written while the last one was on its way.
  if (!went) send();
  else {
    tries += 1;
    timer = setTimeout(send, tries > 8 ? RETRY_LATER_MS : RETRY_MS);
  }
};

export const heldWords = () =>
  ({
    connection: "Not sent yet: no connection. It goes by itself once there is one.",
    house: "Not sent yet: the house did not answer. It goes by itself.",
    "signed-out": "Not sent yet: you are signed out here. Sign in, and it is sent.",
    "other-person": `Not sent yet: somebody else is signed in here. It goes once ${who} is.`,
  })[held] ?? "Not sent yet.";

elsewhere?.addEventListener("message", (event) => {
  tell(event.data.what === "kept" ? "kept-elsewhere" : "changed", event.data);
});
window.addEventListener("online", () => {
  tries = 0;
  send();
});
document.addEventListener("visibilitychange", () => {
  if (!document.hidden) send();
});
window.addEventListener("beforeunload", (event) => {
  if (unsaved > 0) event.preventDefault();
});
