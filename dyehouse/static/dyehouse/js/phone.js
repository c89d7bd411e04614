// The page that a phone opens first: looks whether the phone trusts the house, and leads a code on to where it pairs.
// The code stands behind the # of the address, which no browser sends along, so it travels only where the form goes.

const page = document.getElementById("phone");
const notice = page?.querySelector("[data-trust]");
const code = location.hash.slice(1);
const ANSWER_MS = 10000;
const BY_NAME_MS = 3000;

document.documentElement.classList.add("js");

const say = (sentence, kind) => {
  notice.className = `notice ${kind}`;
  notice.querySelector("p").textContent = sentence;
};

const answers = (address, milliseconds) => {
  const stop = new AbortController();
  setTimeout(() => stop.abort(), milliseconds);
  return fetch(`${address}phone/`, { mode: "no-cors", cache: "no-store", signal: stop.signal }).then(() => true, () => false);
};

// The house's name stays when the network gives it another number; a phone that finds it there does not lose its sign-in.
const chooseAddress = async () => {
  const { byName } = page.dataset;
  if (byName && (await answers(byName, BY_NAME_MS))) page.dataset.https = byName;
};

const trusts = async () => {
  if ("overHttps" in page.dataset) {
    // Browsers run no worker for a page that was opened past a warning.
    if (!("serviceWorker" in navigator)) return window.isSecureContext;
    return navigator.serviceWorker.register(page.dataset.worker).then(() => true, () => false);
  }
  await chooseAddress();
  return answers(page.dataset.https, ANSWER_MS);
};

// With a code every way on leads to where it pairs.
const waysOn = () => {
  const there = "overHttps" in page.dataset ? "" : page.dataset.https.slice(0, -1);
  const on = page.querySelector("[data-goes-on]");
  const plain = page.querySelector("[data-goes-on-plain]");
  page.querySelector("[data-pairs]").hidden = code !== "";
  on.href = code ? `${there}${page.dataset.pair}#${code}` : `${there}/`;
  if (!code) return;
  plain.href = `${page.dataset.pair}#${code}`;
  on.textContent = "Pair this phone";
  plain.textContent = there ? "Pair it without that for now" : "Pair this phone";
};

const look = async () => {
  say("Looking whether this phone trusts the house …", "");
  const does = await trusts();
  waysOn();
  page.querySelector("[data-trusted]").hidden = !does;
  page.querySelector("[data-untrusted]").hidden = does;
  if (does) {
    page.querySelector("[data-pairs]").href = `${page.dataset.https.slice(0, -1)}${page.dataset.pair}`;
    for (const steps of document.querySelectorAll("[data-steps] > details")) steps.open = false;
  }
  if (does) say("This phone trusts the house.", "notice-done");
  else if ("overHttps" in page.dataset) say("This phone does not trust the house yet: this page was opened past a warning. The steps are below.", "notice-warn");
  else say("This phone does not trust the house yet. The steps are below; without them you can go on over plain HTTP.", "notice-warn");
  if (does && code && !("overHttps" in page.dataset)) location.replace(`${page.dataset.https.slice(0, -1)}${page.dataset.pair}#${code}`);
};

if (page) {
  waysOn();
  document.querySelector("[data-look-again]")?.addEventListener("click", look);
  if (notice) look();
}

const field = document.querySelector("[data-pair-form] [name=code]");
if (field && code && !field.value) field.value = code;
