// The page that a phone opens first: looks whether the phone trusts the house, and leads a code on to where it pairs.
// The code stands behind the # of the address, which no browser sends along, so it travels only where the form goes.

const page = document.getElementById("phone");
const notice = page?.querySelector("[data-trust]");
const code = location.hash.slice(1);

document.documentElement.classList.add("js");

const say = (sentence, kind) => {
  notice.className = `notice ${kind}`;
  notice.querySelector("p").textContent = sentence;
};

const trusts = async () => {
  if ("overHttps" in page.dataset) {
    // Browsers run no worker for a page that was opened past a warning.
    if (!("serviceWorker" in navigator)) return window.isSecureContext;
    return navigator.serviceWorker.register(page.dataset.worker).then(() => true, () => false);
  }
  return fetch(`${page.dataset.https}phone/`, { mode: "no-cors", cache: "no-store" }).then(() => true, () => false);
};

const look = async () => {
  say("Looking whether this phone trusts the house …", "");
  const does = await trusts();
  page.querySelector("[data-trusted]").hidden = !does;
  page.querySelector("[data-untrusted]").hidden = does;
  if (does) say("This phone trusts the house.", "notice-done");
  else if ("overHttps" in page.dataset) say("This phone does not trust the house yet: this page was opened past a warning. The steps are below.", "notice-warn");
  else say("This phone does not trust the house yet. The steps are below; without them you can go on over plain HTTP.", "notice-warn");
  if (does && code && !("overHttps" in page.dataset)) location.replace(`${page.dataset.https.slice(0, -1)}${page.dataset.pair}#${code}`);
};

if (page) {
  if (code) {
    const onward = (link, before) => {
      link.href = `${before}${page.dataset.pair}#${code}`;
      link.textContent = "Pair this phone";
    };
    const plain = page.querySelector("[data-goes-on-plain]");
    onward(page.querySelector("[data-goes-on]"), "overHttps" in page.dataset ? "" : page.dataset.https.slice(0, -1));
    onward(plain, "");
    if (page.dataset.https) plain.textContent = "Pair it without that for now";
  }
  document.querySelector("[data-look-again]")?.addEventListener("click", look);
  if (notice) look();
}

const field = document.querySelector("[data-pair-form] [name=code]");
if (field && code && !field.value) field.value = code;
