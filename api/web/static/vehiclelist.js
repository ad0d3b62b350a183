// The vehicles that the phone keeps, by parking row.
import * as entries from "./entry.js";
import * as keep from "./keep.js";
import * as numeral from "./numeral.js";
import { el } from "./parts.js";
import * as send from "./send.js";

const MOST_SHOWN = 300;

const compare = (a, b) => a.localeCompare(b, "en-US", { numeric: true });

// show draws the list and its search.
export async function show(root, me) {
  const vehicles = (await keep.all("vehicles")).sort((a, b) => compare(a.number, b.number));
  const sheet = await keep.get("about", "sheet");
  const marks = await marksOf(me);

  const depots = me.depots.filter((depot) => vehicles.some((vehicle) => vehicle.depot === depot.id));
  const list = el("div", {});
  const draw = () => {
    const found = vehicles.filter((vehicle) => matches(vehicle, find.value.trim().toLowerCase(), choice.value));
    const missing = found.length === 0 ? el("p", { className: "empty" }, whyNone(vehicles)) : "";
    const cut = `${MOST_SHOWN} of ${found.length} are shown; search for the others.`;
    list.replaceChildren(
      ...rowsOf(found.slice(0, MOST_SHOWN), marks),
      missing,
      found.length > MOST_SHOWN ? el("p", { className: "small" }, cut) : "",
    );
  };
  const find = searchField(draw);
  const choice = depotChoice(depots, draw);

  root.toggleAttribute("data-loading", !sheet);
  root.replaceChildren(
    el("h1", {}, "Yard"),
    el("div", { className: "yard-find" }, find, depots.length > 1 ? choice : ""),
    el("p", { className: "small", id: "as-of" }, asOf(vehicles, sheet)),
    list,
    el("p", {}, el("a", { href: "/labels" }, "Labels to print")),
  );
  draw();
}

// marksOf says which vehicles have an inspection begun or waiting.
async function marksOf(me) {
  const drafts = (await keep.all("drafts")).filter((draft) => draft.user === me.id && entries.isBegun(draft));
  const waiting = await send.list();
  return {
    begun: new Set(drafts.map((draft) => draft.vehicle)),
    waiting: new Set(waiting.map((item) => item.vehicle)),
  };
}

function searchField(draw) {
  return el("input", {
    id: "find",
    type: "search",
    autocomplete: "off",
    "aria-label": "Unit number, parking row or tire number",
    placeholder: "Unit, row or tire number",
    oninput: draw,
  });
}

function depotChoice(depots, draw) {
  return el(
    "select",
    { "aria-label": "Depot", onchange: draw },
    depots.length > 1 ? el("option", { value: "" }, "All depots") : "",
    depots.map((depot) => el("option", { value: depot.id }, depot.name)),
  );
}

function matches(vehicle, wanted, depot) {
  if (depot && vehicle.depot !== depot) return false;
  const texts = [vehicle.number, vehicle.row || "", ...vehicle.places.map((at) => at.tire || "")];
  return texts.some((text) => text.toLowerCase().includes(wanted));
}

function whyNone(vehicles) {
  if (vehicles.length > 0) return "No vehicle matches. Search by unit number, parking row or tire number.";
  return (
    "No vehicles are kept on this phone yet. Open this page once while there is a network; " +
    "if they are still missing, ask a manager to add them or to let you see their depot."
  );
}

function asOf(vehicles, sheet) {
  if (!sheet) return "Getting the vehicles…";
  const count = vehicles.length === 1 ? "1 vehicle" : vehicles.length + " vehicles";
  const cut = sheet.cut ? " There are more than a phone keeps; the others need a network." : "";
  return `${count} on this phone, as of ${numeral.moment(sheet.at)}.${cut}`;
}

// rowsOf groups vehicles by parking row; those without one come last.
function rowsOf(vehicles, marks) {
  const byRow = new Map();
  for (const vehicle of vehicles) {
    const row = vehicle.row || "";
    if (!byRow.has(row)) byRow.set(row, []);
    byRow.get(row).push(vehicle);
  }

  const withRow = [...byRow.keys()].filter(Boolean).sort(compare);
  const rows = byRow.has("") ? [...withRow, ""] : withRow;
  return rows.map((row) =>
    el(
      "section",
      {},
      el("h2", {}, row ? "Row " + row : "No parking row"),
      el(
        "ul",
        { className: "yard-rows" },
        byRow.get(row).map((vehicle) => line(vehicle, marks)),
      ),
    ),
  );
}

function line(vehicle, marks) {
  const tag = (text) => el("span", { className: "tag" }, text);
  const urgencyClass = "urgency urgency-" + vehicle.urgency?.replaceAll(" ", "-");
  const link = el(
    "a",
    { href: `/vehicles/${vehicle.id}/inspect` },
    el("b", {}, vehicle.number),
    el("span", {}, " " + vehicle.what),
    vehicle.urgency ? el("span", { className: urgencyClass }, vehicle.urgency) : "",
    marks.begun.has(vehicle.id) ? tag("begun") : "",
    marks.waiting.has(vehicle.id) ? tag("waiting") : "",
  );
  return el("li", {}, link);
}
