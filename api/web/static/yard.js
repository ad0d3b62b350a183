// The yard: vehicles by parking row, one vehicle's walk, what waits. Drawn from
// what the phone keeps, with or without a network.
"use strict";

(async () => {
  const root = document.getElementById("yard");
  if (!root) return;
  const path = location.pathname;
  const walked = /^\/vehicles\/([0-9a-f-]+)\/inspect$/.exec(path);

  const say = (title, ...text) => refill(root, [el("h1", { tabIndex: -1 }, title), el("p", { className: "empty" }, ...text)], "h1");
  let me = await keep.person();
  const { person, reads } = document.body.dataset;
  if (me?.id !== person) me = await keep.who();
  else if (me.reads !== reads) me = (await keep.who()) || me; // other units or country since
  if (!me || me === "stranger") {
    say("No network", "Nobody is signed in on this phone. ", el("a", { href: "/sign-in?to=" + encodeURIComponent(path) }, "Sign in"), " while there is a network; from then on the yard works without one.");
    return;
  }

  const arrive = async (id) => {
    const item = await keep.get("waiting", id);
    if (!item) location.assign(walked ? `/vehicles/${walked[1]}?said=inspection` : "/yard");
    else if (item.state === "refused") location.assign("/yard/waiting#" + id);
    else {
      say("Kept on this phone", "The inspection of " + item.number + " is kept on this phone and is sent by itself when there is a network.");
      root.append(el("p", { className: "actions" }, el("a", { href: "/yard", className: "button" }, "Next vehicle"), " ", el("a", { href: "/yard/waiting", className: "button" }, "What waits")));
      root.querySelector("h1").focus(); // the button that was pressed is gone
      send.later();
    }
  };

  if (walked) {
    const vehicle = await keep.vehicle(walked[1]);
    if (!vehicle) return say("Not on this phone", "This vehicle is not kept on this phone. Open it once while there is a network. ", el("a", { href: "/yard" }, "To the vehicles"));
    document.title = `Inspect ${vehicle.number} · Rimledger`;
    new Walk(root, vehicle, me, await entries.load(me, vehicle), arrive).draw();
    keep.refresh().catch(() => {});
    return;
  }
  if (path === "/yard/waiting") {
    send.news.addEventListener("message", () => { if (!root.contains(document.activeElement) || document.activeElement === document.body) drawWaiting(root, true); });
    return drawWaiting(root);
  }
  if (path !== "/yard") {
    root.before(el("p", { className: "kept" }, "No network: this page needs one. Here is what works without."));
  }
  await yardList(root, me);
  keep.refresh().then(() => { if (document.activeElement?.id !== "find") yardList(root, me); }, () => {});
})();

// yardList shows the vehicles by parking row.
async function yardList(root, me) {
  const SHOWN = 300;
  const vehicles = (await keep.all("vehicles")).sort((a, b) => a.number.localeCompare(b.number, "en-US", { numeric: true }));
  const sheet = await keep.get("about", "sheet");
  root.toggleAttribute("data-loading", !sheet);
  const begun = new Set((await keep.all("drafts")).filter((d) => d.user === me.id && entries.begun(d)).map((d) => d.vehicle));
  const waiting = new Set((await send.list()).map((w) => w.vehicle));
  const list = el("div", {});
  const depots = me.depots.filter((d) => vehicles.some((v) => v.depot === d.id));
  const draw = () => {
    const want = find.value.trim().toLowerCase();
    const found = vehicles.filter((v) => (!depot.value || v.depot === depot.value) &&
      [v.number, v.row || "", ...v.places.map((p) => p.tire || "")].some((t) => t.toLowerCase().includes(want)));
    const rows = groupBy(found.slice(0, SHOWN), rowOf);
    list.replaceChildren(...[...rows.keys()].sort((a, b) => (a === "" ? 1 : b === "" ? -1 : a.localeCompare(b, "en-US", { numeric: true }))).map((row) => el("section", {},
      el("h2", {}, row ? "Row " + row : "No parking row"), el("ul", { className: "yard-rows" }, rows.get(row).map((v) => yardLine(v, begun, waiting))))),
      found.length === 0 ? el("p", { className: "empty" }, vehicles.length ? "No vehicle matches. Search by unit number, parking row or tire number." : "No vehicles are kept on this phone yet. Open this page once while there is a network; if they are still missing, ask a manager to add them or to let you see their depot.") : "",
      found.length > SHOWN ? el("p", { className: "small" }, `${SHOWN} of ${found.length} are shown; search for the others.`) : "");
  };
  const find = el("input", { id: "find", type: "search", autocomplete: "off", "aria-label": "Unit number, parking row or tire number", placeholder: "Unit, row or tire number", oninput: draw });
  const depot = el("select", { "aria-label": "Depot", onchange: draw }, depots.length > 1 ? el("option", { value: "" }, "All depots") : "", depots.map((d) => el("option", { value: d.id }, d.name)));
  root.replaceChildren(el("h1", {}, "Yard"),
    el("div", { className: "yard-find" }, find, depots.length > 1 ? depot : ""),
    el("p", { className: "small", id: "as-of" }, sheet ? `${vehicles.length === 1 ? "1 vehicle" : vehicles.length + " vehicles"} on this phone, as of ${numeral.moment(sheet.at)}.` : "Getting the vehicles…",
      sheet?.cut ? " There are more than a phone keeps; the others need a network." : ""), list,
    el("p", {}, el("a", { href: "/labels" }, "Labels to print")));
  draw();
}

const rowOf = (v) => v.row || "";
function groupBy(list, by) {
  const out = new Map();
  for (const v of list) {
    if (!out.has(by(v))) out.set(by(v), []);
    out.get(by(v)).push(v);
  }
  return out;
}

function yardLine(v, begun, waiting) {
  return el("li", {}, el("a", { href: `/vehicles/${v.id}/inspect` }, el("b", {}, v.number), el("span", {}, " " + v.what),
    v.urgency ? el("span", { className: "urgency urgency-" + v.urgency.replaceAll(" ", "-") }, v.urgency) : "",
    begun.has(v.id) ? el("span", { className: "tag" }, "begun") : "", waiting.has(v.id) ? el("span", { className: "tag" }, "waiting") : ""));
}
