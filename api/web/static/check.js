// What is hard to believe, and what takes a vehicle off the road, by the same
// whole numbers as the server, which decides. A remark has the server's code, a
// text, and off if the vehicle must stay.
import { askCount, UNEQUAL } from "./around.js";
import * as hold from "./hold.js";
import * as numeral from "./numeral.js";
import { KILOPASCALS, NANOMETRES } from "./units.js";

const NO_BREAK_SPACE = "\u00a0";

const isIn32nds = (text, unit) => text.includes("/32") || (unit === "32nd" && !text.includes("mm"));

// depth reads a depth in nanometres; NaN if the text is none.
export function depth(text, unit) {
  const match = /^\s*(\d+(?:\.\d*)?|\.\d+)\s*(\/32|mm)?\s*$/.exec(text || "");
  return match ? Math.round(Number(match[1]) * NANOMETRES[isIn32nds(text, unit) ? "32nd" : "mm"]) : NaN;
}

// written gives a number its unit.
export function written(text, unit) {
  const hasUnit = /[^\d.\s]/.test(text);
  if (hasUnit) return text.trim();
  return unit === "32nd" ? text.trim() + "/32" : text.trim() + " " + unit;
}

// depthText writes a length for the reader, to a tenth of the unit.
function depthText(length, unit) {
  const tenths = (nanometres) => +(length / nanometres).toFixed(1);
  const text =
    unit === "32nd"
      ? tenths(NANOMETRES["32nd"]) + "/32" + NO_BREAK_SPACE + "in"
      : tenths(NANOMETRES.mm) + NO_BREAK_SPACE + "mm";
  return numeral.shown(text);
}

// grid turns what was typed into depths by groove and station; null: not read.
export const grid = (place, typed, around) =>
  (place.grooves || []).map((_, groove) =>
    Array.from({ length: around }, (_, station) => typed[groove + "." + station] || null),
  );

// place remarks on one wheel. typed has the depths d by groove and station, the
// pressure p, what was seen, and how many places around the tire were measured. visit
// has the units, the looks, the table by which the server holds readings, the use of the
// vehicle, the time in milliseconds, and the odometer in km (null: not known).
export function place(at, typed, visit) {
  const rows = grid(at, typed.d || {}, typed.around || 1);
  const seen = visit.looks.filter((look) => look.off && typed.see?.[look.code]);
  const lengths = rows.map((row) => row.map((text) => depth(text, visit.units.depth)));
  const count = askCount(typed, lengths);
  return [
    ...depths(at, rows, typed.unequal ? UNEQUAL : [], visit),
    ...pressure(at, typed.p, visit),
    ...(count ? [count] : []),
    ...seen.map((look) => ({ code: look.code, off: true, text: `${look.name}: off the road until it is cleared.` })),
  ];
}

function depths(place, rows, stations, visit) {
  const unit = visit.units.depth;
  const read = rows
    .flatMap((row, groove) => row.map((text) => ({ groove, text, length: depth(text, unit) })))
    .filter((one) => !Number.isNaN(one.length));
  if (read.length === 0) return [];

  const least = read.reduce((a, b) => (b.length < a.length ? b : a));
  const above = aboveNew(place, rows, read, visit);
  const doubted = above || !place.expect || !visit.hold ? null : expected(place, rows, stations, visit);
  return [above, doubted, belowLegal(place, least, unit)].filter(Boolean);
}

// aboveNew asks about a groove that is deeper than it can be. Where the tire's
// new depths do not fit its grooves, the deepest of them counts for all.
function aboveNew(place, rows, read, visit) {
  const deepest = Math.max(...(place.new || [Infinity]));
  const fits = place.new?.length === rows.length;
  const most = (visit.hold?.new_mm || 0) * NANOMETRES.mm;
  const above = read.find((one) => one.length > (fits ? place.new[one.groove] : deepest) + most);
  if (!above) return null;

  const text = numeral.shown(written(above.text, visit.units.depth));
  return {
    code: "above_new",
    text: `${text} is deeper than this groove had when new. Right place, tire and unit? Measure again.`,
  };
}

// expected asks about depths that the forecast, the last reading and the other grooves do
// not explain.
function expected(place, rows, stations, visit) {
  const unit = visit.units.depth;
  const cells = rows.map((row) =>
    row.map((text) => {
      const length = depth(text, unit);
      return Number.isNaN(length) ? null : { mm: length / NANOMETRES.mm, in32: isIn32nds(text, unit) };
    }),
  );
  const way = hold.distance(place.expect, visit.use, visit);
  const found = hold.doubt(visit.hold, place.expect, cells, stations, way);
  if (!found) return null;

  const about = depthText(Math.max(found.expected, 0) * NANOMETRES.mm, unit);
  const label = place.grooves[found.groove];
  const texts = {
    unit: `This looks like the other unit: about ${about} is expected here. Which unit is on the gauge?`,
    depth_drop: `${label}: about ${about} is expected. Measure again.`,
    depth_rise: found.grew
      ? `${label}: about ${about} is expected, and tread does not grow. Measure again.`
      : `${label}: about ${about} is expected. Measure again.`,
  };
  return { code: found.what, text: texts[found.what] };
}

function belowLegal(place, least, unit) {
  if (least.length >= (place.legal || 0)) return null;

  const limit = depthText(place.legal, unit);
  return {
    code: "below_legal",
    off: true,
    text: `Below the legal minimum of ${limit}: measure again. If it stays so, the vehicle stays off the road.`,
  };
}

// pressure asks about a number that is far from the target but would be near it
// in another unit.
function pressure(place, text, visit) {
  const match = /^\s*(\d+(?:\.\d*)?)\s*(kPa|psi|bar)?\s*$/i.exec(text || "");
  if (!match || !(place.target > 0) || !visit.hold) return [];

  const within = (kilopascals, [least, most]) =>
    kilopascals > place.target * least && kilopascals < place.target * most;
  const typed = Number(match[1]) * KILOPASCALS[match[2] || visit.units.pressure];
  if (within(typed, visit.hold.pressure_far)) return [];

  const units = Object.values(KILOPASCALS);
  const numbers = units.map((size) => typed / size);
  const couldBe = numbers.flatMap((number) => units.map((size) => number * size));
  if (!couldBe.some((kilopascals) => within(kilopascals, visit.hold.pressure_near))) return [];
  return [
    {
      code: "pressure_unit",
      text: "Far from the target, but the same number in another unit is not. Which unit is on the gauge?",
    },
  ];
}

// same counts the wheels that read exactly as last time.
export function same(vehicle, entry, units) {
  const NOT_READ = -1;
  const readsTheSame = (at) => {
    const typed = entry.places[at.at];
    if (!typed?.d || !at.depths?.length || Object.keys(typed.d).length === 0) return false;

    const now = grid(at, typed.d, typed.around || 1).map((row) =>
      row.map((text) => (text === null ? NOT_READ : depth(text, units.depth))),
    );
    return JSON.stringify(now) === JSON.stringify(at.depths);
  };
  return vehicle.places.filter(readsTheSame).length;
}
