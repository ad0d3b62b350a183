// What waits on this phone, and what the server refused until a person settles it.
"use strict";

// On mere news it is drawn anew only if something changed: a button replaced under
// a finger loses the tap.
let drawn;
async function drawWaiting(root, news) {
  const items = await send.list();
  const session = await keep.get("about", "session");
  const now = JSON.stringify([items.map((i) => [i.id, i.state, i.problem]), session?.lost, navigator.onLine]);
  if (news && now === drawn) return;
  drawn = now;
  const again = el("button", { type: "button", id: "again", onclick: async () => { again.textContent = "Sending…"; await send.all(); drawWaiting(root); } }, "Send now");
  const anyWaiting = items.some((i) => i.state === "waiting");
  refill(root, [el("h1", {}, "Waiting on this phone"),
    items.length === 0 ? el("p", { className: "empty", tabIndex: -1 }, "Nothing waits. Everything you entered on this phone is recorded.") : "",
    session?.lost && anyWaiting ? el("p", { className: "kept" }, "You were signed out. ", el("a", { href: "/sign-in?to=/yard/waiting" }, "Sign in"), " and what waits is sent.") : "",
    anyWaiting && !navigator.onLine ? el("p", {}, "No network. It is sent by itself when there is one.") : "", anyWaiting ? el("p", {}, again) : "",
    ...items.map((i) => waitingItem(root, i)),
    el("p", {}, el("a", { href: "/yard" }, "To the vehicles"))], ".empty, .panel h2");
}

// whereOf says in words which reading a refusal is about.
function whereOf(item, field) {
  const m = /^readings\[(\d+)\]/.exec(field || "");
  return m && item.body.readings[m[1]] ? item.body.readings[m[1]].position : "";
}

function waitingItem(root, item) {
  const made = numeral.moment(item.made);
  const head = el("h2", { tabIndex: -1 }, item.number, el("small", {}, ` inspection of ${made}`));
  if (item.state === "waiting") return el("section", { className: "panel" }, head, el("p", {}, "Not sent yet."));
  const held = item.problem?.kind === "held", fields = item.problem?.errors || [];
  const ticks = [];
  const lines = fields.map((f) => {
    const where = whereOf(item, f.field);
    const text = el("p", {}, where && !f.remedy.includes(where) ? el("b", {}, where + " ") : "", f.remedy.replace(/[^.?!]$/, "$&."));
    if (!held) return el("li", {}, text);
    const tick = el("input", { type: "checkbox", value: f.code });
    ticks.push(tick);
    return el("li", {}, text, el("label", { className: "tick" }, tick, ` I measured again and am sure: ${f.value || "so it is"}`));
  });
  const said = el("p", { className: "fault", role: "alert" });
  const confirm = el("button", { type: "button", className: "primary", onclick: async () => {
    await entries.again(item, ticks.filter((t) => t.checked).map((t) => t.value));
    await send.all();
    drawWaiting(root);
  } }, held ? "Send with what is ticked" : entries.taken(item) ? "Send as one more" : "Send again");
  const correct = el("button", { type: "button", onclick: async () => {
    if (await entries.correct(item)) location.assign(`/vehicles/${item.vehicle}/inspect`);
    else said.textContent = `Another inspection of ${item.number} is begun on this phone. Send it or empty it first; then correct this one.`;
  } }, "Correct");
  return el("section", { className: "panel refused", id: item.id }, head,
    el("p", { className: "fault" }, held ? "Not recorded: measure again, or confirm." : "Not recorded."), held ? "" : el("p", {}, sentence(item), " ", entries.taken(item) ? el("a", { href: "/vehicles/" + item.vehicle }, "See the vehicle") : ""),
    el("ul", { className: "held" }, lines), el("div", { className: "actions" }, confirm, correct, discardButton(root, item)), said);
}

function sentence(item) {
  if (item.status === 403) return "Your role or your depots do not allow this. Ask a manager of the depot, then send it again.";
  if (item.status === 404) return "The record has no such vehicle at your depots: it went to another depot, or yours were changed. Ask a manager, then send it again.";
  if (entries.taken(item)) return "Another version of this inspection is recorded already, perhaps from a second page. Look at the vehicle first: send this one as one more only if both are right.";
  return (item.problem?.detail || "The server gave no reason").replace(/\.?$/, ".");
}

// discardButton asks once more before measurements are thrown away.
function discardButton(root, item) {
  const button = el("button", { type: "button", onclick: async () => {
    if (button.dataset.sure) {
      await entries.discard(item);
      send.tell("discarded");
      drawWaiting(root);
      return;
    }
    button.dataset.sure = "1";
    button.textContent = "Yes, throw these measurements away";
  } }, "Discard");
  return button;
}
