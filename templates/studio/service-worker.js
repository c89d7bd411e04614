// Keeps the pot pages of whoever is signed in on this phone, with all they load, for when the house does not answer.
// Pages come from the house first. Nothing that is sent passes through here; what waits is kept by the pages themselves.

const HOUSE = {{ known|safe }};
const STATIC = `static-${HOUSE.version}`;
const PAGES = "pages";
const WAIT_MS = 5000;
const MOST_PAGES = 40;
const MOST_PHOTOS = 80;
const FINGERPRINT = /\.[0-9a-f]{12}\.\w+$/;

self.addEventListener("install", (event) => {
  const fetched = async () => {
    const cache = await caches.open(STATIC);
    const wanted = [...HOUSE.files, HOUSE.offline];
    await cache.addAll(wanted.map((address) => new Request(address, { cache: "reload", credentials: "omit" })));
    await self.skipWaiting();
  };
  event.waitUntil(fetched());
});

self.addEventListener("activate", (event) => {
  const tidy = async () => {
    for (const name of await caches.keys()) if (name.startsWith("static-") && name !== STATIC) await caches.delete(name);
    await self.clients.claim();
  };
  event.waitUntil(tidy());
});

const isPotPage = (path) => path.startsWith(HOUSE.pots) && /^(?!new\/)[^/]+\/$/.test(path.slice(HOUSE.pots.length));
const isKept = (address) => address.search === "" && (HOUSE.kept_pages.includes(address.pathname) || isPotPage(address.pathname));
const forget = () => caches.delete(PAGES);

const keep = async (request, response, most, kind) => {
  const cache = await caches.open(PAGES);
  await cache.put(request, response);
  const same = (await cache.keys()).filter((each) => new URL(each.url).pathname.startsWith(HOUSE.photos) === (kind === "photo"));
  for (const oldest of same.slice(0, Math.max(0, same.length - most))) await cache.delete(oldest);
};

const answersWithin = (promise, milliseconds) =>
  Promise.race([promise, new Promise((_, reject) => setTimeout(() => reject(new Error("slow")), milliseconds))]);

// A page: from the house; if it does not answer, as this phone last had it.
const page = async (event, address) => {
  const bare = new Request(address.pathname);
  const cached = await (await caches.open(PAGES)).match(bare);
  const asked = fetch(event.request);
  try {
    const response = await (cached ? answersWithin(asked, WAIT_MS) : asked);
    if (response.ok && !response.redirected && isKept(address)) {
      event.waitUntil(keep(bare, response.clone(), MOST_PAGES, "page"));
    }
    return response;
  } catch {
    asked.catch(() => {});
    return cached ?? (await caches.match(HOUSE.offline)) ?? Response.error();
  }
};

const photo = async (event) => {
  const cached = await (await caches.open(PAGES)).match(event.request.url);
  if (cached) return cached;
  const response = await fetch(event.request);
  if (response.ok && !response.redirected) event.waitUntil(keep(event.request.url, response.clone(), MOST_PHOTOS, "photo"));
  return response;
};

// A name with a fingerprint never changes; any other is asked for afresh while the house answers.
const file = async (event, path) => {
  const cache = await caches.open(STATIC);
  const cached = await cache.match(path);
  if (cached && FINGERPRINT.test(path)) return cached;
  try {
    const response = await (cached ? answersWithin(fetch(event.request), WAIT_MS) : fetch(event.request));
    if (response.ok) event.waitUntil(cache.put(path, response.clone()));
    return response;
  } catch (failed) {
    if (cached) return cached;
    throw failed;
  }
};

// Signing in or out, and a sign-in page that the house leads to: what was somebody's is gone from here first.
const newPerson = async (event) => {
  await forget();
  try {
    return await fetch(event.request);
  } catch {
    return (await caches.match(HOUSE.offline)) ?? Response.error();
  }
};

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (address.origin !== location.origin) return;
  if (request.mode === "navigate" && HOUSE.ends.includes(address.pathname)) {
    event.respondWith(request.method === "GET" ? signInPage(event) : newPerson(event));
  } else if (request.method !== "GET") return;
  else if (request.mode === "navigate") event.respondWith(page(event, address));
  else if (address.pathname.startsWith(HOUSE.static)) event.respondWith(file(event, address.pathname));
  else if (address.pathname.startsWith(HOUSE.photos) && address.pathname.endsWith("/small/")) event.respondWith(photo(event));
});

// The house itself says that nobody is signed in here any more; without its answer nothing is forgotten.
const signInPage = async (event) => {
  try {
    const response = await fetch(event.request);
    await forget();
    return response;
  } catch {
    return (await caches.match(HOUSE.offline)) ?? Response.error();
  }
};

// From the list of pots: have each pot that is in work at hand, also one that was never opened on this phone.
self.addEventListener("message", (event) => {
  if (event.data?.forget) event.waitUntil(forget());
  if (!event.data?.atHand) return;
  const fetchAll = async () => {
    for (const path of event.data.atHand.filter((each) => isKept(new URL(each, location)))) {
      const response = await fetch(path, { credentials: "same-origin" }).catch(() => null);
      if (!response) return;
      if (response.ok && !response.redirected) await keep(new Request(path), response, MOST_PAGES, "page");
    }
  };
  event.waitUntil(fetchAll());
});
