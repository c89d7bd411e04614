// The tally: each touch counts at once on the page, and is sent under a key of its own until the house has it. What this
// phone still had to send goes from the closing count as well.

import { newKey } from "./pot-key.js";

const waits = document.querySelector("[data-tally-waits]");
const all = document.querySelector("[data-tally-all]");
const any = document.querySelector("[data-tally]");
const box = `tally ${new URL(any.action).pathname} ${document.body.dataset.who}`;
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
  if (!waits) return;
  waits.textContent = words || (queue.length && !sending ? `${queue.length} not sent yet. They are sent again by themselves.` : "");
};

const send = async () => {
  if (sending || !queue.length) return;
  sending = true;
  let words = "";
  let sent = 0;
  try {
    while (queue.length) {
      const touch = queue[0];
      const data = new FormData();
      data.set("csrfmiddlewaretoken", any.querySelector('[name="csrfmiddlewaretoken"]').value);
      data.set("key", touch.key);
      data.set("item", touch.item);
      if (touch.pieces < 0) data.set("less", "1");
      const response = await fetch(any.action, { method: "POST", body: data, headers: { "HX-Request": "true" }, credentials: "same-origin", keepalive: true });
      if (response.status === 422) {
        words = (await response.json()).error;
        add(touch.item, -touch.pieces);
      } else if (!response.ok || response.redirected) {
        throw new Error(String(response.status));
      }
      queue.shift();
      // The house's own number, which other phones count into as well, once nothing of this item waits here.
      const count = shown(touch.item);
      if (response.ok && count && !queue.some((each) => each.item === touch.item)) add(touch.item, (await response.json()).tallied - Number(count.textContent));
      sent += 1;
      store();
    }
  } catch {
    // No connection: what waits is sent later, in order.
  }
  sending = false;
  if (sent && !all) words ||= `${sent} touches of the tally came from this phone only now. Open this page again to count with them.`;
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
