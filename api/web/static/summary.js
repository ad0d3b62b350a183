// The last step of a walk: everything is shown before it is sent.
import * as check from "./check.js";
import { choices, withChoice } from "./choices.js";
import * as entries from "./entry.js";
import * as keep from "./keep.js";
import * as numeral from "./numeral.js";
import { button, el } from "./parts.js";
import * as send from "./send.js";
import * as units from "./units.js";

const NO_BREAK_SPACE = "\u00a0";

export function summaryStep(walk) {
  const { entry, vehicle, me } = walk;
  const odometer =
    entry.unknown || !entry.odometer ? "unknown" : `${numeral.grouped(entry.odometer)} ${walk.units.distance}`;
  const see = (look, details) => {
    entry.see = withChoice(entry.see, look, details);
    walk.save();
    walk.draw();
  };
  const sendIt = button(
    {
      className: "primary next",
      id: "send",
      disabled: !entries.hasReadings(entry) || !me.records,
      onclick: () => finish(walk, sendIt),
    },
    "Send the inspection",
  );

  return el(
    "section",
    {},
    el("h2", { tabIndex: -1 }, "Summary"),
    el("p", {}, "Odometer: ", odometer),
    me.records ? "" : el("p", { className: "fault" }, "Your role may look, not record."),
    sameAsLastTime(walk),
    el(
      "ul",
      { className: "summary" },
      vehicle.places.map((at, i) => line(walk, at, i + 1)),
    ),
    choices("On the vehicle", me.vehicle, entry.see, see),
    el("label", {}, "Note", noteField(walk)),
    walk.foot(sendIt),
  );
}

function noteField(walk) {
  const note = el("textarea", {
    rows: 2,
    maxLength: 1500,
    value: walk.entry.note,
    oninput: () => {
      walk.entry.note = note.value;
      walk.save();
    },
  });
  return note;
}

function sameAsLastTime(walk) {
  const same = check.same(walk.vehicle, walk.entry, walk.units);
  if (same < (walk.me.hold?.same_wheels || Infinity)) return "";
  return el(
    "p",
    { className: "hint" },
    `${same} wheels read exactly as last time. Measure again, `,
    "or confirm after sending that these were measured today.",
  );
}

// line is one place with what was read there; a tap goes back to it.
function line(walk, at, step) {
  const typed = walk.entry.places[at.at];
  const remarks = typed ? check.place(at, typed, walk.visit) : [];
  const text = typed ? readingText(walk, at, typed) : "";
  const nothing = at.tire ? "not read" : "no tire recorded";
  return el(
    "li",
    {},
    button({ className: "quiet line", onclick: () => walk.go(step) }, el("b", {}, at.at), " ", text || nothing),
    remarks.map((remark) => el("p", { className: "hint" + (remark.off ? " off" : "") }, remark.text)),
  );
}

function readingText(walk, at, typed) {
  const parts = [];
  if (Object.keys(typed.d || {}).length > 0) {
    const rows = check.grid(at, typed.d, typed.around || 1);
    const shown = rows.map((row) => row.map((text) => (text ? numeral.shown(text) : "–")).join(NO_BREAK_SPACE));
    parts.push(shown.join(" · ") + " " + units.word(walk.units.depth));
  }
  if (typed.nr) parts.push("pressure not reached");
  else if (typed.p) parts.push(numeral.shown(typed.p) + " " + walk.units.pressure);

  for (const look of walk.looks) {
    const details = typed.see?.[look.code];
    if (details) parts.push(lookText(look, details));
  }
  const photos = typed.photos?.length || 0;
  if (photos > 0) parts.push(photos === 1 ? "1 photo" : photos + " photos");
  return parts.join(", ");
}

function lookText(look, details) {
  const direction = details.dir ? " " + details.dir : "";
  const count = details.n ? NO_BREAK_SPACE + "×" + NO_BREAK_SPACE + details.n : "";
  return look.name + direction + count;
}

async function finish(walk, sendIt) {
  sendIt.disabled = true;
  await entries.queue(walk.vehicle, walk.entry, walk.units);

  // With little signal the answer may take long: what is kept goes on by itself.
  const patience = new Promise((done) => setTimeout(done, keep.PATIENCE));
  await Promise.race([send.all(), patience]);
  walk.arrive(walk.entry.id);
}
