// An inspection under way: kept after every tap, until it is sent.
import { UNEQUAL } from "./around.js";
import * as check from "./check.js";
import * as keep from "./keep.js";

const keyOf = (me, vehicle) => me.id + ":" + vehicle.id;

// start is an empty entry. places has what was typed at each position: depths d
// by groove and station, around how many stations, at unequal places or not, once the
// length of a tape around the tread in mm, pressure p, hot, nr (not reached), see, note,
// photos.
export const start = (me, vehicle) => ({
  key: keyOf(me, vehicle),
  user: me.id,
  vehicle: vehicle.id,
  id: keep.newID(),
  made: new Date().toISOString(),
  step: 0,
  odometer: "",
  unknown: Boolean(vehicle.no_odometer),
  note: "",
  see: {},
  places: {},
  around: 1,
});

export const load = async (me, vehicle) => (await keep.get("drafts", keyOf(me, vehicle))) || start(me, vehicle);

export const save = (entry) => keep.put("drafts", entry);

// hasFindings reports whether anything was entered but the odometer.
const hasFindings = (entry) =>
  Object.keys(entry.places).length > 0 || entry.note !== "" || Object.keys(entry.see).length > 0;

// hasReadings reports whether anything was read or seen: a note alone is no inspection.
export const hasReadings = (entry) => Object.keys(entry.places).length > 0 || Object.keys(entry.see).length > 0;

// isBegun reports whether anything was entered.
export const isBegun = (entry) => hasFindings(entry) || entry.odometer !== "";

const photosOf = (entry) => Object.values(entry.places).flatMap((typed) => typed.photos || []);

// drop removes an entry with its photos.
export function drop(entry) {
  return keep.change(["drafts", "photos"], (drafts, photos) => {
    drafts.delete(entry.key);
    for (const id of photosOf(entry)) photos.delete(id);
  });
}

// queue moves an entry from the drafts to what waits to be sent, in one step.
export function queue(vehicle, entry, units) {
  const item = {
    id: entry.id,
    user: entry.user,
    vehicle: vehicle.id,
    number: vehicle.number,
    made: entry.made,
    state: "waiting",
    body: bodyOf(vehicle, entry, units),
    photos: photosOf(entry),
    entry,
  };
  return keep.change(["drafts", "waiting"], (drafts, waiting) => {
    waiting.put(item);
    drafts.delete(entry.key);
  });
}

// bodyOf is the inspection as the server takes it. A note of a place where nothing
// was seen goes to the whole.
function bodyOf(vehicle, entry, units) {
  const readings = [];
  const notes = [entry.note];
  for (const at of vehicle.places) {
    const typed = entry.places[at.at];
    const reading = readingOf(at, typed, units);
    if (reading) readings.push(reading);
    const isNoted = reading?.observations?.some((observation) => observation.note);
    if (typed?.note && !isNoted) notes.push(`${at.at}: ${typed.note}`);
  }

  const body = { id: entry.id, vehicle_id: vehicle.id, at: entry.made, readings };
  if (!entry.unknown && entry.odometer) body.odometer = check.written(entry.odometer, units.distance);
  const note = notes.filter(Boolean).join("\n");
  if (note) body.note = note;
  const seen = observationsOf(entry.see);
  if (seen.length > 0) body.vehicle = seen;
  return body;
}

// readingOf is the reading of one place; null if nothing was entered there.
function readingOf(at, typed, units) {
  if (!typed) return null;

  const reading = { position: at.at };
  const rows = check.grid(at, typed.d || {}, typed.around || 1);
  if (rows.flat().some(Boolean)) {
    reading.depths = rows.map((row) => row.map((text) => text && check.written(text, units.depth)));
    if (typed.unequal) reading.stations = UNEQUAL.map((degrees) => degrees + "°");
  }
  if (typed.p) reading.pressure = check.written(typed.p, units.pressure);
  if (typed.hot) reading.hot = true;
  if (typed.nr) reading.not_reached = true;

  const seen = observationsOf(typed.see, typed.note);
  if (seen.length > 0) reading.observations = seen;
  if (typed.photos?.length) reading.photos = typed.photos;
  return Object.keys(reading).length > 1 ? reading : null;
}

// observationsOf is what was seen as the server takes it; the note goes with the
// first that is something to see.
function observationsOf(see, note) {
  let unusedNote = note;
  return Object.entries(see || {}).map(([code, details]) => {
    const observation = { code };
    if (details.n) observation.count = details.n;
    if (details.dir) observation.direction = details.dir;
    if (unusedNote && code !== "smooth") {
      observation.note = unusedNote;
      unusedNote = "";
    }
    return observation;
  });
}

// isTaken reports whether another inspection was recorded under the number of
// this one.
export const isTaken = (item) => item.problem?.kind === "conflict";

// renewed is the entry, under another number if it is to be recorded beside the
// one that has its own.
const renewed = (item) => (isTaken(item) ? { ...item.entry, id: keep.newID() } : item.entry);

// correct moves what was refused back to the drafts, at its summary. It reports
// false if another entry of the vehicle is under way, which stays.
export async function correct(item) {
  const other = await keep.get("drafts", item.entry.key);
  if (other && isBegun(other)) return false;

  await keep.change(["drafts", "waiting"], (drafts, waiting) => {
    drafts.put(renewed(item));
    waiting.delete(item.id);
  });
  return true;
}

// queueAgain puts what was refused back in the line, with what was confirmed.
export function queueAgain(item, confirmed) {
  const entry = renewed(item);
  const before = item.body.confirmed || [];
  const body = { ...item.body, id: entry.id, confirmed: [...new Set([...before, ...confirmed])] };
  return keep.change(["waiting"], (waiting) => {
    waiting.delete(item.id);
    waiting.put({ ...item, entry, id: entry.id, state: "waiting", problem: null, body });
  });
}

// discard drops what was refused for good, with its photos.
export function discard(item) {
  return keep.change(["waiting", "photos"], (waiting, photos) => {
    waiting.delete(item.id);
    for (const id of item.photos || []) photos.delete(id);
  });
}
