// Sends what waits on the phone. The server knows a repeated inspection by its
// id, so sending once too often does no harm. Pages and the worker both use it.
import * as keep from "./keep.js";

const LONGEST = 90000; // milliseconds for one answer: a photo over little signal

// news has a message for every page when something was sent or dropped.
export const news = new BroadcastChannel("rimledger");

// announce says what happened to every page, this one too: a channel does not
// hear itself.
export function announce(what) {
  news.postMessage(what);
  news.dispatchEvent(new MessageEvent("message", { data: what }));
}

const ofPerson = (items, me) => items.filter((item) => item.user === me?.id).sort((a, b) => (a.id < b.id ? -1 : 1));

// list returns what waits, of the person who is signed in, oldest first.
export const list = async () => ofPerson(await keep.all("waiting"), await keep.person());

// all sends what waits; one at a time of all pages and the worker does so. A turn
// that does not come, since a page died with it, is not waited for: sending at
// the same time does no harm.
export async function all() {
  let begun = false;
  const take = () => {
    begun = true;
    return sendWaiting();
  };

  try {
    if (navigator.locks) {
      await navigator.locks.request("rimledger-send", { signal: AbortSignal.timeout(2 * keep.PATIENCE) }, take);
    } else {
      await take();
    }
  } catch (fault) {
    if (begun) throw fault;
    await sendWaiting();
  }
  announce("sent");
}

async function sendWaiting() {
  const isWaiting = (item) => item.state === "waiting";
  if (!(await keep.all("waiting")).some(isWaiting)) return;

  const me = await keep.askWho();
  await keep.put("about", { key: "session", lost: me === "stranger" });
  if (!me || me === "stranger") return;

  for (const item of ofPerson(await keep.all("waiting"), me).filter(isWaiting)) {
    if (!(await sendOne(item))) break;
  }
}

// sendOne sends one inspection, and says whether to go on with the next.
async function sendOne(item) {
  let answer;
  try {
    for (const id of item.photos || []) {
      answer = await sendPhoto(id);
      if (answer) break;
    }
    answer ||= await post("/api/v1/inspections", item.body);
  } catch {
    return false; // no network
  }

  if (answer.ok) {
    await keep.drop("waiting", item.id);
    await keep.vehicle(item.vehicle);
    return true;
  }
  const isForLater = answer.status === 401 || answer.status === 429 || answer.status >= 500;
  if (isForLater) return false;

  const problem = await problemOf(answer);
  await keep.put("waiting", { ...item, state: "refused", status: answer.status, problem });
  if (problem.recorded) await keep.vehicle(item.vehicle);
  return true;
}

// sendPhoto sends one picture: null if the server has it, else the answer.
async function sendPhoto(id) {
  const photo = await keep.get("photos", id);
  if (!photo) return null;

  const answer = await post("/api/v1/photos", { id, vehicle_id: photo.vehicle, data: await base64(photo.blob) });
  if (!answer.ok) return answer;
  await keep.drop("photos", id);
  return null;
}

const post = (path, body) =>
  fetch(path, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(body),
    signal: AbortSignal.timeout(LONGEST),
  });

async function base64(blob) {
  const bytes = new Uint8Array(await blob.arrayBuffer());
  const part = 8192; // what one call takes as arguments
  let text = "";
  for (let i = 0; i < bytes.length; i += part) text += String.fromCharCode(...bytes.subarray(i, i + part));
  return btoa(text);
}

async function problemOf(answer) {
  try {
    return await answer.json();
  } catch {
    return { detail: `the server answered ${answer.status}` };
  }
}

// later asks the browser to send when there is a network, also if no page is open
// then.
export async function later() {
  try {
    await (await navigator.serviceWorker?.ready)?.sync?.register("send");
  } catch {
    // The browser does not offer it: the next page that is opened sends.
  }
}
