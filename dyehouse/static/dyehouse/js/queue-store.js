// Where entries wait on this phone: in the browser's own database, which outlives the page, the lock and the battery.
// Where a browser refuses that (private windows, a full phone), they wait in the page, and leaving it is asked about.

const NAME = "dyehouse";
const ENTRIES = "entries";
const FILES = "files";
// Numbers of entries that only the page holds: after all that the database gives.
const IN_PAGE = 2 ** 40;

const done = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

const finished = (transaction) =>
  new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = transaction.onerror = () => reject(transaction.error);
  });

const open = async () => {
  const request = indexedDB.open(NAME, 1);
  request.onupgradeneeded = () => {
    request.result.createObjectStore(ENTRIES, { keyPath: "number", autoIncrement: true });
    request.result.createObjectStore(FILES);
  };
  return done(request);
};

const inDatabase = (database) => ({
  async add(entry, files) {
    const transaction = database.transaction([ENTRIES, FILES], "readwrite", { durability: "strict" });
    const adding = transaction.objectStore(ENTRIES).add(entry);
    transaction.objectStore(FILES).put(files, entry.key);
    await finished(transaction);
    return adding.result;
  },
  async put(entry) {
    const transaction = database.transaction(ENTRIES, "readwrite");
    transaction.objectStore(ENTRIES).put(entry);
    await finished(transaction);
  },
  async remove(entry) {
    const transaction = database.transaction([ENTRIES, FILES], "readwrite");
    transaction.objectStore(ENTRIES).delete(entry.number);
    transaction.objectStore(FILES).delete(entry.key);
    await finished(transaction);
  },
  // By the number it was given, so in the order it was written, whatever the phone's clock did meanwhile.
  all: () => done(database.transaction(ENTRIES).objectStore(ENTRIES).getAll()),
  files: async (entry) => (await done(database.transaction(FILES).objectStore(FILES).get(entry.key))) ?? [],
});

const inPage = () => {
  const entries = [];
  const files = new Map();
  let last = IN_PAGE;
  return {
    isEmpty: () => entries.length === 0,
    async add(entry, theirs) {
      last += 1;
      entries.push({ ...entry, number: last });
      files.set(entry.key, theirs);
      return last;
    },
    async put(entry) {
      const at = entries.findIndex((each) => each.number === entry.number);
      if (at >= 0) entries[at] = entry;
    },
    async remove(entry) {
      const at = entries.findIndex((each) => each.number === entry.number);
      if (at >= 0) entries.splice(at, 1);
      files.delete(entry.key);
    },
    all: async () => [...entries],
    files: async (entry) => files.get(entry.key) ?? [],
  };
};

export const lasts = (entry) => entry.number < IN_PAGE;

export const openStore = async () => {
  const database = await open().then(inDatabase, () => null);
  const page = inPage();
  const holder = (entry) => (database && lasts(entry) ? database : page);
  return {
    async add(entry, files) {
      // Once one waits in the page, those after it do too, so that the order stays.
      if (!database || !page.isEmpty()) return page.add(entry, files);
      return database.add(entry, files).catch(() => page.add(entry, files));
    },
    put: (entry) => holder(entry).put(entry),
    remove: (entry) => holder(entry).remove(entry),
    files: (entry) => holder(entry).files(entry),
    all: async () => [...(database ? await database.all() : []), ...(await page.all())],
  };
};
