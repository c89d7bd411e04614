// The tally: each touch counts at once on the page, and is sent under a key of its own until the house has it.

import { newKey } from "./pot-key.js";

const waits = document.querySelector("[data-tally-waits]");
const all = document.querySelector("[data-tally-all]");
const box = `tally ${location.pathname} ${document.body.dataset.who}`;
const RETRY_MS = 4000;
let sending = false;

const read = () => {
  try {
    return JSON.parse(localStorage.getItem(box)) ?? [];
  } catch {
    return [];
  }
};
let queue = read();

const store = () => {
  try {
    localStorage.setItem(box, JSON.stringify(queue));
  } catch {
    // Without room the page itself keeps them while it is open.
  }
};

const form = (item) => document.querySelector(`[data-tally] [name="item"][value="${item}"]`)?.form;
const shown = (item) => form(item)?.querySelector("[data-tally-count]");

const add = (item, pieces) => {
  const count = shown(item);
  if (!count) return;
  count.textContent = Math.max(0, Number(count.textContent) + pieces);
  all.textContent = Math.max(0, Number(all.textContent) + pieces);
};

const say = (words = "") => {
  waits.textContent = words || (queue.length && !sending ? `${queue.length} not sent yet. They are sent again by themselves.` : "");
};

const send = async () => {
  if (sending || !queue.length) return;
  sending = true;
  let words = "";
  try {
    while (queue.length) {
      const touch = queue[0];
      const from = form(touch.item) ?? document.querySelector("[data-tally]");
      const data = new FormData();
      data.set("csrfmiddlewaretoken", from.querySelector('[name="csrfmiddlewaretoken"]').value);
      data.set("key", touch.key);
      data.set("item", touch.item);
      if (touch.pieces < 0) data.set("less", "1");
      const response = await fetch(from.action, { method: "POST", body: data, headers: { "HX-Request": "true" }, credentials: "same-origin" });
      if (response.status === 422) {
        words = (await response.json()).error;
        add(touch.item, -touch.pieces);
      } else if (!response.ok || response.redirected) {
        throw new Error(String(response.status));
      }
      queue.shift();
      store();
    }
  } catch {
    // No connection: what waits is sent later, in order.
  }
  sending = false;
  say(words);
};

document.addEventListener("submit", (event) => {
  const touched = event.target.closest("[data-tally]");
  if (!touched) return;
  event.preventDefault();
  const item = touched.querySelector('[name="item"]').value;
  const pieces = event.submitter?.name === "less" ? -1 : 1;
  if (pieces < 0 && Number(shown(item).textContent) === 0) return;
  queue.push({ key: newKey(), item, pieces });
  store();
  add(item, pieces);
  send();
});

for (const touch of queue) add(touch.item, touch.pieces);
say();
send();
window.addEventListener("online", send);
setInterval(send, RETRY_MS);
