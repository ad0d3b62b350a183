// What every page does for who is signed in: the phone keeps what it needs to
// work without a network, and sends what waits when there is one.
import * as keep from "./keep.js";
import * as send from "./send.js";

const counter = document.getElementById("waiting");

send.news.addEventListener("message", count);
addEventListener("online", sendAll);
renewPerson().catch(() => {});
count().catch(() => {});
sendAll();
navigator.serviceWorker?.register("/worker.js", { type: "module", updateViaCache: "none" }).catch(() => {});
document.getElementById("sign-out").addEventListener("submit", signOut);

// A page that the network could not give fails quietly: the next one tries again.
function sendAll() {
  send.all().catch(() => {});
}

// count shows how much waits on this phone, and how much of that was refused.
async function count() {
  const items = await send.list();
  const refused = items.filter((item) => item.state === "refused").length;
  const waiting = items.length - refused;

  const parts = [];
  if (waiting > 0) parts.push(`${waiting} waiting`);
  if (refused > 0) parts.push(`${refused} to settle`);
  counter.hidden = items.length === 0;
  counter.textContent = parts.join(", ") || "waiting";
}

// renewPerson fetches anew what is kept where another person signed in, or the
// same one reads in other units since. Only a phone keeps the vehicles.
async function renewPerson() {
  const kept = await keep.person();
  const { person, reads } = document.body.dataset;
  if (kept?.id === person && kept.reads === reads) return;

  if (matchMedia("(pointer: coarse)").matches) await keep.refresh(true);
  else await keep.askWho();
}

function signOut(event) {
  const question =
    `Inspections on this phone: ${counter.textContent}. ` +
    "They stay here and are sent only after you sign in on it again. Sign out?";
  const isSure = counter.hidden || confirm(question);
  if (isSure) keep.forget();
  else event.preventDefault();
}
