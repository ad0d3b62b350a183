// Sends what waits on the phone. The server knows a repeated inspection by its
// id, so sending once too often does no harm. Pages and the worker both use it.
"use strict";
const send = (() => {
  const news = new BroadcastChannel("rimledger");
  // tell says what happened to every page, this one too: a channel does not hear itself.
  const tell = (what) => {
    news.postMessage(what);
    news.dispatchEvent(new MessageEvent("message", { data: what }));
  };
  const mine = (items, me) => items.filter((i) => i.user === me?.id).sort((a, b) => (a.id < b.id ? -1 : 1));

  // list returns what waits, of the person who is signed in, oldest first.
  const list = async () => mine(await keep.all("waiting"), await keep.person());

  const problemOf = async (answer) => {
    try {
      return await answer.json();
    } catch {
      return { detail: `the server answered ${answer.status}` };
    }
  };
  const LONGEST = 90000; // milliseconds for one answer: a photo over little signal
  const LATER = (status) => status === 429 || status >= 500;

  const base64 = async (blob) => {
    const bytes = new Uint8Array(await blob.arrayBuffer());
    let text = "";
    for (let i = 0; i < bytes.length; i += 8192) text += String.fromCharCode(...bytes.subarray(i, i + 8192));
    return btoa(text);
  };

  // photo sends one picture: null if the server has it, else the answer.
  const photo = async (pid) => {
    const p = await keep.get("photos", pid);
    if (!p) return null;
    const answer = await fetch("/api/v1/photos", { method: "POST", headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ id: pid, vehicle_id: p.vehicle, data: await base64(p.blob) }), signal: AbortSignal.timeout(LONGEST) });
    if (!answer.ok) return answer;
    await keep.drop("photos", pid);
    return null;
  };

  // one sends one inspection, and says whether to go on with the next.
  const one = async (item) => {
    let answer;
    try {
      for (const pid of item.photos || []) {
        answer = await photo(pid);
        if (answer) break;
      }
      answer ||= await fetch("/api/v1/inspections", { method: "POST", body: JSON.stringify(item.body), headers: { "Content-Type": "application/json" }, signal: AbortSignal.timeout(LONGEST) });
    } catch {
      return false; // no network
    }
    if (answer.ok) {
      await keep.drop("waiting", item.id);
      await keep.vehicle(item.vehicle);
      return true;
    }
    if (answer.status === 401 || LATER(answer.status)) return false;
    const problem = await problemOf(answer);
    await keep.put("waiting", { ...item, state: "refused", status: answer.status, problem });
    return true;
  };

  const run = async () => {
    if (!(await keep.all("waiting")).some((i) => i.state === "waiting")) return;
    const me = await keep.who();
    await keep.put("about", { key: "session", lost: me === "stranger" });
    if (!me || me === "stranger") return;
    for (const item of mine(await keep.all("waiting"), me)) {
      if (item.state === "waiting" && !(await one(item))) break;
    }
  };

  // all sends what waits; one at a time of all pages and the worker does so. A
  // turn that does not come, since a page died with it, is not waited for:
  // sending at the same time does no harm.
  const all = async () => {
    let begun = false;
    const take = () => { begun = true; return run(); };
    try {
      await (navigator.locks ? navigator.locks.request("rimledger-send", { signal: AbortSignal.timeout(2 * keep.PATIENCE) }, take) : take());
    } catch (fault) {
      if (begun) throw fault;
      await run();
    }
    tell("sent");
  };

  // later asks the browser to send when there is a network, also if no page is
  // open then.
  const later = async () => {
    try {
      await (await navigator.serviceWorker?.ready)?.sync?.register("send");
    } catch { /* the browser does not offer it: the next page that is opened sends */ }
  };

  return { news, tell, list, all, later };
})();
