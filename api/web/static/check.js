// What is hard to believe, and what takes a vehicle off the road, by the same
// whole numbers as the server, which decides. A remark has the server's code, a
// text, and off if the vehicle must stay.
import { askCount } from "./around.js";
import * as numeral from "./numeral.js";
import { KILOPASCALS, NANOMETRES } from "./units.js";

// A depth that rises by this much or more since last time is asked about.
export const RISE = 2 * NANOMETRES["32nd"];

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
// pressure p, what was seen, and how many places around the tire were measured.
export function place(at, typed, units, looks) {
  const rows = grid(at, typed.d || {}, typed.around || 1);
  const seen = looks.filter((look) => look.off && typed.see?.[look.code]);
  const lengths = rows.map((row) => row.map((text) => depth(text, units.depth)));
  const count = askCount(typed, lengths);
  return [
    ...depths(at, rows, units.depth),
    ...pressure(at, typed.p, units.pressure),
    ...(count ? [count] : []),
    ...seen.map((look) => ({ code: look.code, off: true, text: `${look.name}: off the road until it is cleared.` })),
  ];
}

function depths(place, rows, unit) {
  const read = rows
    .flatMap((row, groove) => row.map((text) => ({ groove, text, length: depth(text, unit) })))
    .filter((one) => !Number.isNaN(one.length));
  if (read.length === 0) return [];

  const least = read.reduce((a, b) => (b.length < a.length ? b : a));
  return [aboveNew(place, rows, read, unit), sinceLastTime(place, least, unit), belowLegal(place, least, unit)].filter(
    (remark) => remark !== null,
  );
}

// aboveNew asks about a groove that is deeper than it can be. Where the tire's
// new depths do not fit its grooves, the deepest of them counts for all.
function aboveNew(place, rows, read, unit) {
  const deepest = Math.max(...(place.new || [Infinity]));
  const fits = place.new?.length === rows.length;
  const above = read.find((one) => one.length > (fits ? place.new[one.groove] : deepest));
  if (!above) return null;

  const text = numeral.shown(written(above.text, unit));
  return {
    code: "above_new",
    text: `${text} is deeper than this groove had when new. Right place, tire and unit? Measure again.`,
  };
}

// sinceLastTime asks about tread that grew, and first whether the same number
// fits in the other unit.
function sinceLastTime(place, least, unit) {
  if (!place.least) return null;

  const change = least.length - place.least;
  const otherChange = inOtherUnit(least, unit) - place.least;
  if (Math.abs(change) >= RISE && Math.abs(otherChange) <= NANOMETRES["32nd"]) {
    return {
      code: "unit",
      text: `This looks like the other unit: last time it was ${place.least_text}. Which unit is on the gauge?`,
    };
  }
  if (change >= RISE) {
    return {
      code: "depth_rise",
      text: `Deeper than the ${place.least_text} of last time. Tread does not grow: measure again.`,
    };
  }
  return null;
}

// inOtherUnit is the length that the number would be in the other unit.
function inOtherUnit(one, unit) {
  const [from, to] = isIn32nds(one.text, unit) ? ["32nd", "mm"] : ["mm", "32nd"];
  return Math.round((one.length / NANOMETRES[from]) * NANOMETRES[to]);
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
function pressure(place, text, unit) {
  const match = /^\s*(\d+(?:\.\d*)?)\s*(kPa|psi|bar)?\s*$/i.exec(text || "");
  if (!match || !(place.target > 0)) return [];

  const share = (kilopascals) => kilopascals / place.target;
  const typed = Number(match[1]) * KILOPASCALS[match[2] || unit];
  if (share(typed) > 0.4 && share(typed) < 2) return [];

  const units = Object.values(KILOPASCALS);
  const numbers = units.map((size) => typed / size);
  const couldBe = numbers.flatMap((number) => units.map((size) => share(number * size)));
  if (!couldBe.some((part) => part > 0.75 && part < 1.25)) return [];
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
