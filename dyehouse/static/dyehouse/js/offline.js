// On every page: what waits on this phone is said and sent, and over HTTPS a service worker keeps the pot pages at hand.

import * as queue from "./pot-queue.js";

const bar = document.getElementById("unsent");
const notice = document.getElementById("unsent-notice");
const made = document.body.dataset.madeAt;
const thisPot = document.querySelector("[data-pot]")?.dataset.pot;
const LOOK_AGAIN_MS = 20000;
const AT_HAND_MS = 60000;
const MOST_AT_HAND = 12;

let reached = true;
let signedIn = true;

const entriesIn = (count) => (count === 1 ? "1 entry" : `${count} entries`);
const are = (count) => (count === 1 ? "is" : "are");

const link = (address, words) => {
  const made = document.createElement("a");
  made.href = address;
  made.textContent = words;
  return made;
};

const line = (...parts) => {
  const fresh = notice.content.firstElementChild.cloneNode(true);
  fresh.querySelector("p").append(...parts);
  return fresh;
};

const byPot = (entries) => {
  const pots = new Map();
  for (const entry of entries) pots.set(entry.pot, (pots.get(entry.pot) ?? 0) + 1);
  const links = [...pots].map(([code, count]) => link(`${bar.dataset.pots}${code}/`, `${code} (${count})`));
  return links.flatMap((each, number) => (number ? [", ", each] : [each]));
};

const asItWas = () => {
  const then = new Date(made);
  const clock = then.toTimeString().slice(0, 5);
  return then.toDateString() === new Date().toDateString() ? clock : `${clock} on ${then.toLocaleDateString()}`;
};

const render = async () => {
  const all = await queue.entries();
  const mine = all.filter((entry) => entry.who === queue.who);
  const waiting = mine.filter((entry) => entry.state === "waiting");
  const elsewhere = waiting.filter((entry) => entry.pot !== thisPot);
  const aside = mine.filter((entry) => entry.state === "aside" && entry.pot !== thisPot);
  const lines = [];
  if (queue.who && (!signedIn || queue.held === "signed-out" || queue.held === "other-person")) {
    const then = waiting.length ? `, and ${entriesIn(waiting.length)} that ${are(waiting.length)} not sent yet ${waiting.length === 1 ? "goes" : "go"} then` : "";
    const back = `${bar.dataset.signIn}?next=${encodeURIComponent(location.pathname)}`;
    lines.push(line(queue.held === "other-person" ? "Somebody else is signed in here by now. " : "You are signed out here. ", link(back, `Sign in as ${queue.who}`), `${then}.`));
  } else if (!reached || queue.held === "connection") {
    lines.push(line(`No connection to the house. This page is as it was at ${asItWas()}; what you write at a pot waits on this phone.`));
  }
  if (elsewhere.length) lines.push(line(`${entriesIn(elsewhere.length)} ${are(elsewhere.length)} not sent yet: `, ...byPot(elsewhere), "."));
  if (aside.length) lines.push(line(`${entriesIn(aside.length)} could not be kept: `, ...byPot(aside), "."));
  for (const other of new Set(all.map((entry) => entry.who).filter((each) => each !== queue.who))) {
    const count = all.filter((entry) => entry.who === other).length;
    lines.push(line(`${entriesIn(count)} that ${other} wrote on this phone ${are(count)} not sent yet. Once ${other} is signed in here, ${count === 1 ? "it goes" : "they go"}.`));
  }
  const says = lines.map((each) => each.textContent).join("\n");
  if (says !== bar.dataset.says) bar.replaceChildren(...lines);
  bar.dataset.says = says;
};

const worker = () => navigator.serviceWorker?.controller;

// Asked where a page may have come out of the phone itself, or where something waits.
const look = async (inAnyCase = false) => {
  if (!queue.who || (!inAnyCase && !worker() && !(await queue.entries()).length)) return;
  const told = await queue.freshToken().catch(() => null);
  // A page that came out of the phone may be of yesterday: it looks again as soon as the house is there.
  if (told) document.dispatchEvent(new Event("house-reached"));
  reached = told !== null;
  if (told) {
    signedIn = told.who === queue.who;
    if (!signedIn) worker()?.postMessage({ forget: true });
  }
  await render();
  if (reached && signedIn) queue.send();
};

const potLinks = () => {
  const paths = [...document.querySelectorAll("main a[href]")].map((each) => new URL(each.href)).filter((each) => each.origin === location.origin);
  const pots = paths.map((each) => each.pathname).filter((path) => path.startsWith(bar.dataset.pots));
  return [...new Set([location.pathname, bar.dataset.pots, ...pots])].slice(0, MOST_AT_HAND);
};

// The pots that this page leads to: all of them afresh now and then, in between those that the phone does not have yet.
const keepAtHand = async () => {
  const registered = await navigator.serviceWorker.ready;
  const afresh = Date.now() - Number(sessionStorage.getItem("at-hand") ?? 0) > AT_HAND_MS;
  const pages = await caches.open("pages");
  const has = await Promise.all(potLinks().map(async (path) => [path, await pages.match(path)]));
  const wanted = has.filter(([, page]) => afresh || !page).map(([path]) => path);
  if (afresh) sessionStorage.setItem("at-hand", String(Date.now()));
  if (wanted.length) registered.active.postMessage({ atHand: wanted });
};

if (bar) {
  if (location.protocol === "https:" && "serviceWorker" in navigator && queue.who) {
    navigator.serviceWorker.register(bar.dataset.worker).then(keepAtHand, () => {});
  }
  queue.listen(({ what }) => {
    if (queue.held === "signed-out" || queue.held === "other-person") worker()?.postMessage({ forget: true });
    if (what !== "kept") render();
  });
  document.addEventListener("signed-out", () => look(true));
  window.addEventListener("online", () => look());
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) look();
  });
  setInterval(() => {
    if (!document.hidden && (!reached || !signedIn)) look(true);
  }, LOOK_AGAIN_MS);
  render().then(() => look());
}
