// What the phone keeps, in the browser's own database: who is signed in, the
// vehicles of their depots with the last readings, and what was entered. Pages
// and the worker both use it.
"use strict";
const keep = (() => {
  const CACHE = "rimledger-person"; // pages of the person who is signed in
  const MOST = 6000; // vehicles that a phone keeps
  const PATIENCE = 4000; // milliseconds before what is kept is shown instead
  const STALE = 10 * 60 * 1000; // after that the vehicles are fetched anew
  // about: who and when. vehicles: as the server gave them. drafts: entry under
  // way, by person and vehicle. waiting: inspections that the server does not
  // have yet. photos: pictures that it does not have yet.
  const STORES = { about: "key", vehicles: "id", drafts: "key", waiting: "id", photos: "id" };

  let opened;
  const open = () => (opened ||= new Promise((done, fail) => {
    const asked = indexedDB.open("rimledger", 1);
    asked.onupgradeneeded = () => {
      for (const [name, keyPath] of Object.entries(STORES)) asked.result.createObjectStore(name, { keyPath });
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => { opened = undefined; fail(asked.error); };
  }));

  // change runs steps in one transaction, which is on the disk when it returns.
  const change = async (stores, steps) => {
    const tx = (await open()).transaction(stores, "readwrite", { durability: "strict" });
    steps(...stores.map((s) => tx.objectStore(s)));
    return new Promise((done, fail) => { tx.oncomplete = done; tx.onabort = () => fail(tx.error); });
  };
  const ask = async (store, request) => {
    const asked = request((await open()).transaction(store).objectStore(store));
    return new Promise((done, fail) => { asked.onsuccess = () => done(asked.result); asked.onerror = () => fail(asked.error); });
  };
  const get = (store, key) => ask(store, (s) => s.get(key));
  const all = (store) => ask(store, (s) => s.getAll());
  const put = (store, ...values) => change([store], (s) => values.forEach((v) => s.put(v)));
  const drop = (store, ...keys) => change([store], (s) => keys.forEach((k) => s.delete(k)));

  // id makes a UUIDv7 (RFC 9562, section 5.7): 48 bits of milliseconds, the
  // version, and chance.
  const id = () => {
    const b = crypto.getRandomValues(new Uint8Array(16));
    let at = Date.now();
    for (let i = 5; i >= 0; i--, at = Math.floor(at / 256)) b[i] = at % 256;
    b[6] = 0x70 | (b[6] & 0x0f);
    b[8] = 0x80 | (b[8] & 0x3f);
    const hex = [...b].map((n) => n.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  };

  const person = async () => (await get("about", "person")) || null;

  // forget drops what belongs to the person who is signed in. What was entered
  // stays, under their name, until the server has it.
  const forget = async () => {
    await change(["about", "vehicles"], (about, vehicles) => { about.clear(); vehicles.clear(); });
    await globalThis.caches?.delete(CACHE);
  };

  // leave signs out. Where there is no network the server is told as soon as
  // there is one, before anything else is asked of it.
  const leave = async () => {
    await forget();
    await put("about", { key: "leaving" });
  };
  const left = async () => {
    if (!(await get("about", "leaving"))) return;
    await fetch("/sign-out", { method: "POST", redirect: "manual" });
    await drop("about", "leaving");
  };

  // who asks the server who is signed in: a person, "stranger" if nobody is, or
  // null if it cannot be asked.
  const who = async () => {
    let answer;
    try {
      await left();
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
  };

  const sheet = async (query, signal) => {
    const answer = await fetch("/yard/sheet?" + new URLSearchParams(query), { cache: "no-store", signal });
    if (!answer.ok) throw new Error(`the vehicles could not be fetched (${answer.status})`);
    return answer.json();
  };

  // refresh fetches the vehicles of the person's depots, a part at a time, and
  // the page that is shown without a network. What was cut off is begun anew by
  // the next page: that it was done is noted last.
  let running;
  const refresh = (now) => (running ||= fetchAll(now).finally(() => { running = undefined; }));
  const fetchAll = async (now) => {
    const about = await get("about", "sheet");
    if (!now && about && Date.now() - about.at < STALE) return;
    const me = await who();
    if (!me || me === "stranger") return;
    const at = Date.now();
    let count = 0;
    for (const depot of me.depots) {
      for (let after = ""; count < MOST;) {
        const part = await sheet({ depot: depot.id, after });
        count += part.vehicles.length;
        await put("vehicles", ...part.vehicles.map((v) => ({ ...v, at })));
        after = part.next;
        if (!after) break;
      }
    }
    const gone = (await all("vehicles")).filter((v) => v.at < at).map((v) => v.id);
    await drop("vehicles", ...gone);
    if (globalThis.caches) {
      const page = await fetch("/yard");
      if (page.ok && !page.redirected) await (await caches.open(CACHE)).put("/yard", page);
    }
    await put("about", { key: "sheet", at, count, cut: count >= MOST });
  };

  // vehicle returns a vehicle as the server has it now, or as it was kept; null
  // if neither is there.
  const vehicle = async (vid) => {
    try {
      const [v] = (await sheet({ vehicle: vid }, AbortSignal.timeout(PATIENCE))).vehicles;
      await put("vehicles", { ...v, at: Date.now() });
      return v;
    } catch {
      return (await get("vehicles", vid)) || null;
    }
  };

  // works reports whether a page is one that the phone can draw by itself.
  const works = (path) => /^\/yard(\/waiting)?$|^\/vehicles\/[0-9a-f-]+\/inspect$/.test(path);

  return { CACHE, PATIENCE, change, get, all, put, drop, id, person, forget, leave, left, who, refresh, vehicle, works };
})();
