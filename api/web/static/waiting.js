// What waits on the phone, and what the server refused, until a person settles it.
import * as entries from "./entry.js";
import * as keep from "./keep.js";
import * as numeral from "./numeral.js";
import { button, el, refill } from "./parts.js";
import * as send from "./send.js";

let drawn; // what was drawn last

// show draws what waits and keeps it as it is.
export function show(root) {
  send.news.addEventListener("message", () => {
    const isInUse = root.contains(document.activeElement) && document.activeElement !== document.body;
    if (!isInUse) redraw(root);
  });
  return draw(root);
}

// redraw draws only what changed: a button replaced under a finger loses the tap.
async function redraw(root) {
  const items = await send.list();
  const session = await keep.get("about", "session");
  if (stateOf(items, session) !== drawn) fill(root, items, session);
}

async function draw(root) {
  fill(root, await send.list(), await keep.get("about", "session"));
}

const stateOf = (items, session) =>
  JSON.stringify([items.map((item) => [item.id, item.state, item.problem]), session?.lost, navigator.onLine]);

function fill(root, items, session) {
  drawn = stateOf(items, session);
  const isAnyUnsent = items.some((item) => item.state === "waiting");
  const nothing = el(
    "p",
    { className: "empty", tabIndex: -1 },
    "Nothing waits. Everything you entered on this phone is recorded.",
  );
  const pieces = [
    el("h1", {}, "Waiting on this phone"),
    items.length === 0 ? nothing : "",
    ...(isAnyUnsent ? howToSend(root, session) : []),
    ...items.map((item) => (item.state === "waiting" ? unsent(item) : refused(root, item))),
    el("p", {}, el("a", { href: "/yard" }, "To the vehicles")),
  ];
  refill(root, pieces, ".empty, .panel h2");
}

function howToSend(root, session) {
  const signIn = el("a", { href: "/sign-in?to=/yard/waiting" }, "Sign in");
  const sendNow = button(
    {
      id: "again",
      onclick: async () => {
        sendNow.textContent = "Sending…";
        await send.all();
        draw(root);
      },
    },
    "Send now",
  );
  return [
    session?.lost ? el("p", { className: "kept" }, "You were signed out. ", signIn, " and what waits is sent.") : "",
    navigator.onLine ? "" : el("p", {}, "No network. It is sent by itself when there is one."),
    el("p", {}, sendNow),
  ];
}

function heading(item) {
  const made = el("small", {}, ` inspection of ${numeral.moment(item.made)}`);
  return el("h2", { tabIndex: -1 }, item.number, made);
}

function unsent(item) {
  return el("section", { className: "panel" }, heading(item), el("p", {}, "Not sent yet."));
}

// refused is an inspection that the server did not record, and what can be done
// about it. One that is held may be confirmed, reading by reading.
function refused(root, item) {
  const isHeld = item.problem?.kind === "held";
  const faults = (item.problem?.errors || []).map((fault) => faultLine(item, fault, isHeld));
  const ticks = faults.map((fault) => fault.tick).filter(Boolean);

  const isLinked = entries.isTaken(item) || item.problem?.recorded;
  const seeVehicle = isLinked ? el("a", { href: "/vehicles/" + item.vehicle }, "See the vehicle") : "";
  const note = el("p", { className: "fault", role: "alert" });
  const actions = [sendButton(root, item, isHeld, ticks), correctButton(item, note), discardButton(root, item)];
  return el(
    "section",
    { className: "panel refused", id: item.id },
    heading(item),
    el("p", { className: "fault" }, headline(item, isHeld)),
    el("p", {}, isHeld ? "" : reasonOf(item) + " ", seeVehicle),
    el(
      "ul",
      { className: "held" },
      faults.map((fault) => fault.line),
    ),
    el("div", { className: "actions" }, actions),
    note,
  );
}

// headline says whether anything was recorded. What takes a tire off the road does not
// wait for the numbers that are in doubt.
function headline(item, isHeld) {
  if (isHeld && item.problem.recorded) return item.problem.detail.replace(/^./, (c) => c.toUpperCase()) + ".";
  return isHeld ? "Not recorded: measure again, or confirm." : "Not recorded.";
}

// faultLine is what is wrong with one reading, with a box to tick if it may be
// confirmed.
function faultLine(item, fault, isHeld) {
  const position = positionOf(item, fault.field);
  const isNamed = position === "" || fault.remedy.includes(position);
  const sentence = fault.remedy.replace(/[^.?!]$/, "$&.");
  const text = el("p", {}, isNamed ? "" : el("b", {}, position + " "), sentence);
  if (!isHeld) return { line: el("li", {}, text) };

  const tick = el("input", { type: "checkbox", value: fault.code });
  const label = el("label", { className: "tick" }, tick, ` I measured again and am sure: ${fault.value || "so it is"}`);
  return { line: el("li", {}, text, label), tick };
}

// positionOf is the position of the reading that a refusal is about; empty if it
// is about none.
function positionOf(item, field) {
  const match = /^readings\[(\d+)\]/.exec(field || "");
  return (match && item.body.readings[match[1]]?.position) || "";
}

function reasonOf(item) {
  if (item.status === 403) {
    return "Your role or your depots do not allow this. Ask a manager of the depot, then send it again.";
  }
  if (item.status === 404) {
    return (
      "The record has no such vehicle at your depots: it went to another depot, or yours were changed. " +
      "Ask a manager, then send it again."
    );
  }
  if (entries.isTaken(item)) {
    return (
      "Another version of this inspection is recorded already, perhaps from a second page. " +
      "Look at the vehicle first: send this one as one more only if both are right."
    );
  }
  return (item.problem?.detail || "The server gave no reason").replace(/\.?$/, ".");
}

function sendButton(root, item, isHeld, ticks) {
  const press = async () => {
    const confirmed = ticks.filter((tick) => tick.checked).map((tick) => tick.value);
    await entries.queueAgain(item, confirmed);
    await send.all();
    draw(root);
  };
  let text = "Send again";
  if (isHeld) text = "Send with what is ticked";
  else if (entries.isTaken(item)) text = "Send as one more";
  return button({ className: "primary", onclick: press }, text);
}

function correctButton(item, note) {
  const press = async () => {
    if (await entries.correct(item)) {
      location.assign(`/vehicles/${item.vehicle}/inspect`);
      return;
    }
    note.textContent =
      `Another inspection of ${item.number} is begun on this phone. ` +
      "Send it or empty it first; then correct this one.";
  };
  return button({ onclick: press }, "Correct");
}

// discardButton asks once more before measurements are thrown away.
function discardButton(root, item) {
  let isAsked = false;
  const press = async () => {
    if (!isAsked) {
      isAsked = true;
      discard.textContent = "Yes, throw these measurements away";
      return;
    }
    await entries.discard(item);
    send.announce("discarded");
    draw(root);
  };
  const discard = button({ onclick: press }, "Discard");
  return discard;
}
