// What the phone keeps, in the browser's own database: who is signed in, the
// vehicles of their depots with the last readings, and what was entered. Pages
// and the worker both use it.

// PATIENCE is how many milliseconds pass before what is kept is shown instead.
export const PATIENCE = 4000;

const PAGES = "rimledger-person"; // cache with the pages of the person who is signed in
const OFFLINE_PAGE = "/yard"; // the page that is shown without a network
const MOST_VEHICLES = 6000;
const STALE = 10 * 60 * 1000; // milliseconds, after which the vehicles are fetched anew

// The stores of the database and their keys. about: who and when. vehicles: as
// the server gave them. drafts: entry under way, by person and vehicle. waiting:
// inspections that the server does not have yet. photos: pictures that it does
// not have yet.
const STORES = { about: "key", vehicles: "id", drafts: "key", waiting: "id", photos: "id" };

let opened;

function database() {
  opened ||= new Promise((done, fail) => {
    const asked = indexedDB.open("rimledger", 1);
    asked.onupgradeneeded = () => {
      for (const [name, keyPath] of Object.entries(STORES)) asked.result.createObjectStore(name, { keyPath });
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => {
      opened = undefined;
      fail(asked.error);
    };
  });
  return opened;
}

// change runs steps in one transaction, which is on the disk when it returns.
export async function change(stores, steps) {
  const transaction = (await database()).transaction(stores, "readwrite", { durability: "strict" });
  steps(...stores.map((name) => transaction.objectStore(name)));
  return new Promise((done, fail) => {
    transaction.oncomplete = done;
    transaction.onabort = () => fail(transaction.error);
  });
}

async function ask(store, request) {
  const asked = request((await database()).transaction(store).objectStore(store));
  return new Promise((done, fail) => {
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });
}

export const get = (store, key) => ask(store, (s) => s.get(key));

export const all = (store) => ask(store, (s) => s.getAll());

export function put(store, ...values) {
  return change([store], (s) => {
    for (const value of values) s.put(value);
  });
}

export function drop(store, ...keys) {
  return change([store], (s) => {
    for (const key of keys) s.delete(key);
  });
}

// newID makes a UUIDv7 (RFC 9562, section 5.7): 48 bits of milliseconds, the
// version, and chance.
export function newID() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let time = Date.now();
  for (let i = 5; i >= 0; i--) {
    bytes[i] = time % 256;
    time = Math.floor(time / 256);
  }
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);

  const hex = [...bytes].map((n) => n.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

// person is who is signed in on this phone; null: nobody.
export const person = async () => (await get("about", "person")) || null;

// forget drops what belongs to the person who is signed in. What was entered
// stays, under their name, until the server has it.
export async function forget() {
  await change(["about", "vehicles"], (about, vehicles) => {
    about.clear();
    vehicles.clear();
  });
  await globalThis.caches?.delete(PAGES);
}

// leave signs out here and notes that the server does not know it yet.
export async function leave() {
  await forget();
  await put("about", { key: "leaving" });
}

// left drops that note.
export const left = () => drop("about", "leaving");

// reportLeaving signs out at the server what was signed out without a network. It
// comes before anything else is asked of the server.
export async function reportLeaving() {
  if (!(await get("about", "leaving"))) return;
  await fetch("/sign-out", { method: "POST", redirect: "manual" });
  await left();
}

// askWho asks the server who is signed in: a person, "stranger" if nobody is, or
// null if it cannot be asked.
export async function askWho() {
  let answer;
  try {
    await reportLeaving();
    answer = await fetch("/yard/who", { cache: "no-store", signal: AbortSignal.timeout(2 * PATIENCE) });
  } catch {
    return null;
  }
  if (answer.status === 401) return "stranger";
  if (!answer.ok) return null;

  const now = await answer.json();
  const before = await person();
  if (before && before.id !== now.id) await forget();
  await put("about", { key: "person", ...now });
  return now;
}

async function fetchSheet(query, signal) {
  const answer = await fetch("/yard/sheet?" + new URLSearchParams(query), { cache: "no-store", signal });
  if (!answer.ok) throw new Error(`the vehicles could not be fetched (${answer.status})`);
  return answer.json();
}

let running;

// refresh fetches the vehicles of the person's depots, a part at a time, and the
// page that is shown without a network; if it was done a while ago, or at once.
export function refresh(atOnce) {
  running ||= fetchAll(atOnce).finally(() => {
    running = undefined;
  });
  return running;
}

async function fetchAll(atOnce) {
  const last = await get("about", "sheet");
  if (!atOnce && last && Date.now() - last.at < STALE) return;
  const me = await askWho();
  if (!me || me === "stranger") return;

  const at = Date.now();
  let count = 0;
  for (const depot of me.depots) count += await fetchDepot(depot, at, MOST_VEHICLES - count);

  const gone = (await all("vehicles")).filter((vehicle) => vehicle.at < at);
  await drop("vehicles", ...gone.map((vehicle) => vehicle.id));

  if (globalThis.caches) await fetchOfflinePage();

  // That it was done is noted last: what was cut off is begun anew by the next page.
  await put("about", { key: "sheet", at, count, cut: count >= MOST_VEHICLES });
}

// fetchDepot fetches the vehicles of a depot until there are most of them, and
// returns how many it got.
async function fetchDepot(depot, at, most) {
  let count = 0;
  let after = "";
  while (count < most) {
    const part = await fetchSheet({ depot: depot.id, after });
    count += part.vehicles.length;
    await put("vehicles", ...part.vehicles.map((vehicle) => ({ ...vehicle, at })));
    after = part.next;
    if (!after) break;
  }
  return count;
}

async function fetchOfflinePage(signal) {
  const page = await fetch(OFFLINE_PAGE, { signal });
  if (page.ok && !page.redirected) await (await caches.open(PAGES)).put(OFFLINE_PAGE, page);
}

// offlinePage is the page that is shown without a network; undefined if none is
// kept.
export const offlinePage = () => caches.match(OFFLINE_PAGE, { cacheName: PAGES });

// renewOfflinePage fetches that page anew if one is kept.
export async function renewOfflinePage() {
  if (await offlinePage()) await fetchOfflinePage(AbortSignal.timeout(PATIENCE));
}

// vehicle returns a vehicle as the server has it now, or as it was kept; null if
// neither is there.
export async function vehicle(id) {
  try {
    const [fetched] = (await fetchSheet({ vehicle: id }, AbortSignal.timeout(PATIENCE))).vehicles;
    await put("vehicles", { ...fetched, at: Date.now() });
    return fetched;
  } catch {
    return (await get("vehicles", id)) || null;
  }
}

// isDrawnHere reports whether a page is one that the phone can draw by itself.
export const isDrawnHere = (path) => /^\/yard(\/waiting)?$|^\/vehicles\/[0-9a-f-]+\/inspect$/.test(path);
