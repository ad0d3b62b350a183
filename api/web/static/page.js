// What the pages do beyond plain HTML; every page works without it.
"use strict";

// Entry that was typed and not sent is kept on this device, a field at a time,
// for the person who typed it.
const keptKey = (what) => `rimledger:${document.body.dataset.person}:${what}`;
for (const form of document.querySelectorAll("form[data-keep]")) {
  const key = keptKey(form.dataset.keep);
  const note = document.getElementById("kept");
  const held = document.getElementById("refusal");
  const fields = () => [...form.elements].filter((f) => f.name && f.type !== "hidden");
  const read = () => {
    try { return JSON.parse(localStorage.getItem(key)) || null; } catch { return null; }
  };
  const save = () => {
    const kept = {};
    for (const f of fields()) {
      if (f.type === "checkbox") { if (f.checked) (kept[f.name] ||= []).push(f.value); }
      else if (f.value !== "") kept[f.name] = [f.value];
    }
    try { localStorage.setItem(key, JSON.stringify({ at: Date.now(), reads: document.body.dataset.reads, id: form.elements.id.value, made: form.elements.made.value, kept })); } catch { /* storage is full or off */ }
  };
  const was = read();
  const day = 24 * 60 * 60 * 1000;
  const meant = !was?.reads || was.reads === document.body.dataset.reads; // 8 in 32nds is no 8 mm
  if (!held && was && meant && Date.now() - was.at < day && Object.keys(was.kept).length > 0) {
    for (const f of fields()) {
      const values = was.kept[f.name];
      if (!values) continue;
      if (f.type === "checkbox") f.checked = values.includes(f.value);
      else f.value = values[0];
    }
    form.elements.id.value = was.id; // the same entry keeps its number and its moment
    form.elements.made.value = was.made;
    if (note) note.hidden = false;
  }
  form.addEventListener("input", save);
  form.addEventListener("submit", save);
  document.getElementById("forget")?.addEventListener("click", () => {
    localStorage.removeItem(key);
    location.reload();
  });
}

// A recorded entry needs no copy here any more.
if (new URLSearchParams(location.search).has("said")) {
  const vehicle = location.pathname.match(/^\/vehicles\/([0-9a-f-]+)$/);
  if (vehicle) localStorage.removeItem(keptKey("inspect-" + vehicle[1]));
}

// A depth that wants a second look is named while the gauge is still in the
// hand. Lengths are whole nanometres, so that a depth at a limit is at it. The
// server decides.
const thirtySecond = 793750;
for (const input of document.querySelectorAll("input[data-last], input[data-legal]")) {
  const wheel = input.closest("fieldset.wheel");
  const hint = wheel?.querySelector(".hint");
  if (!hint) continue;
  const nanometres = (field) => {
    const n = parseFloat(numeral.plain(field.value));
    const thirtySeconds = field.value.includes("/32") || (field.form.dataset.unit === "32nd" && !field.value.includes("mm"));
    return Math.round(n * (thirtySeconds ? thirtySecond : 1e6));
  };
  input.addEventListener("change", () => {
    const read = [...wheel.querySelectorAll("input[data-last], input[data-legal]")].filter((f) => f.value.trim() !== "").map(nanometres);
    const least = Math.min(...read);
    const said = [];
    if (read.length > 0 && least - Number(input.dataset.last || Infinity) >= 2 * thirtySecond) said.push("Deeper than last time: measure again before you go on.");
    if (read.length > 0 && least < Number(input.dataset.legal || 0)) said.push("Below the legal minimum: measure again. If it stays so, the vehicle stays off the road.");
    hint.textContent = said.join(" ");
  });
}

// On a narrow screen the navigation runs off to the side: begin where we are.
const here = document.querySelector("nav [aria-current]");
if (here) {
  const row = here.closest("ul");
  row.scrollLeft = here.offsetLeft - row.offsetLeft - (row.clientWidth - here.clientWidth) / 2;
}

for (const button of document.querySelectorAll("button[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}

// The phone keeps what it needs to work without a network, and sends what waits
// when there is one.
if (document.body.dataset.person) {
  const count = document.getElementById("waiting");
  const show = async () => {
    const items = await send.list();
    const refused = items.filter((i) => i.state === "refused").length;
    count.hidden = items.length === 0;
    count.textContent = [[items.length - refused, "waiting"], [refused, "to settle"]].filter(([n]) => n > 0).map(([n, what]) => `${n} ${what}`).join(", ") || "waiting";
    return items;
  };
  const sendAll = () => send.all().catch(() => {});
  send.news.addEventListener("message", show);
  addEventListener("online", sendAll);
  keep.person().then((me) => {
    if (me?.id === document.body.dataset.person && me.reads === document.body.dataset.reads) return null;
    return matchMedia("(pointer: coarse)").matches ? keep.refresh(true) : keep.who();
  }).catch(() => {});
  show().catch(() => {});
  sendAll();
  navigator.serviceWorker?.register("/worker.js", { updateViaCache: "none" }).catch(() => {});
  document.getElementById("sign-out").addEventListener("submit", (event) => {
    if (!count.hidden && !confirm(`Inspections on this phone: ${count.textContent}. They stay here and are sent only after you sign in on it again. Sign out?`)) event.preventDefault();
    else keep.forget();
  });
}

// What takes a while says so. The form's own number makes one record of two presses.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return;
  const said = document.createElement("p");
  said.setAttribute("role", "status");
  form.append(said);
  const slow = setTimeout(() => { said.textContent = "Still sending. Leave this page open; what you typed is not lost."; }, 1500);
  addEventListener("pagehide", () => { clearTimeout(slow); said.remove(); }, { once: true });
});

// What was refused is read first.
document.getElementById("refusal")?.focus();
