// The yard: vehicles by parking row, one vehicle's walk, what waits. Drawn from
// what the phone keeps, with or without a network.
import * as entries from "./entry.js";
import * as keep from "./keep.js";
import { el, refill } from "./parts.js";
import * as send from "./send.js";
import * as vehicleList from "./vehiclelist.js";
import * as waiting from "./waiting.js";
import { Walk } from "./walk.js";

const root = document.getElementById("yard");
const path = location.pathname;
const walkedVehicle = /^\/vehicles\/([0-9a-f-]+)\/inspect$/.exec(path)?.[1];

if (root) draw();

async function draw() {
  const me = await whoIsHere();
  if (!me) {
    const signIn = el("a", { href: "/sign-in?to=" + encodeURIComponent(path) }, "Sign in");
    const rest = " while there is a network; from then on the yard works without one.";
    say("No network", "Nobody is signed in on this phone. ", signIn, rest);
  } else if (walkedVehicle) {
    await drawWalk(me);
  } else if (path === "/yard/waiting") {
    await waiting.show(root);
  } else {
    await drawVehicles(me);
  }
}

// say shows a heading and a text instead of what was asked for.
function say(title, ...text) {
  refill(root, [el("h1", { tabIndex: -1 }, title), el("p", { className: "empty" }, ...text)], "h1");
}

// whoIsHere is the person whom the page is for, as the phone keeps them or, if they
// are another or read in other units since, as the server says; null: nobody.
async function whoIsHere() {
  const { person, reads } = document.body.dataset;
  let me = await keep.person();
  if (me?.id !== person) me = await keep.askWho();
  else if (me.reads !== reads) me = (await keep.askWho()) || me;
  return me === "stranger" ? null : me;
}

async function drawWalk(me) {
  const vehicle = await keep.vehicle(walkedVehicle);
  if (!vehicle) {
    const text = "This vehicle is not kept on this phone. Open it once while there is a network. ";
    say("Not on this phone", text, el("a", { href: "/yard" }, "To the vehicles"));
    return;
  }
  document.title = `Inspect ${vehicle.number} · Rimledger`;
  new Walk(root, vehicle, me, await entries.load(me, vehicle), arrive).draw();
  keep.refresh().catch(() => {});
}

// arrive goes on from an inspection that was sent, refused or could not be sent.
async function arrive(id) {
  const item = await keep.get("waiting", id);
  if (!item) {
    location.assign(`/vehicles/${walkedVehicle}?said=inspection`);
  } else if (item.state === "refused") {
    location.assign("/yard/waiting#" + id);
  } else {
    sayKept(item);
    send.later();
  }
}

function sayKept(item) {
  const text = "is kept on this phone and is sent by itself when there is a network.";
  say("Kept on this phone", `The inspection of ${item.number} ${text}`);
  const next = el("a", { href: "/yard", className: "button" }, "Next vehicle");
  const rest = el("a", { href: "/yard/waiting", className: "button" }, "What waits");
  root.append(el("p", { className: "actions" }, next, " ", rest));
  root.querySelector("h1").focus(); // the button that was pressed is gone
}

async function drawVehicles(me) {
  if (path !== "/yard") {
    const text = "No network: this page needs one. Here is what works without.";
    root.before(el("p", { className: "kept" }, text));
  }
  await vehicleList.show(root, me);

  // A list under which a search is being typed is not drawn anew.
  const redraw = () => {
    if (document.activeElement?.id !== "find") vehicleList.show(root, me);
  };
  keep.refresh().then(redraw, () => {});
}
