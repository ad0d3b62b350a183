// An inspection under way: kept after every tap, until it is sent.
"use strict";
const entries = (() => {
  const keyOf = (me, vehicle) => me.id + ":" + vehicle.id;

  const start = (me, vehicle) => ({ key: keyOf(me, vehicle), user: me.id, vehicle: vehicle.id, id: keep.id(), made: new Date().toISOString(),
    step: 0, odometer: "", unknown: Boolean(vehicle.no_odometer), note: "", see: {}, places: {}, around: 1 });

  const load = async (me, vehicle) => (await keep.get("drafts", keyOf(me, vehicle))) || start(me, vehicle);
  const save = (entry) => keep.put("drafts", entry);
  const begun = (entry) => Object.keys(entry.places).length > 0 || entry.odometer !== "" || entry.note !== "" || Object.keys(entry.see).length > 0;

  // drop removes an entry with its photos.
  const photosOf = (entry) => Object.values(entry.places).flatMap((p) => p.photos || []);
  const drop = (entry) => keep.change(["drafts", "photos"], (drafts, photos) => {
    drafts.delete(entry.key);
    photosOf(entry).forEach((id) => photos.delete(id));
  });

  // observations as the server takes them; note goes with the first that is
  // something to see.
  const observations = (see, note) => {
    let left = note;
    return Object.entries(see || {}).map(([code, of]) => {
      const o = { code };
      if (of.n) o.count = of.n;
      if (of.dir) o.direction = of.dir;
      if (left && code !== "smooth") { o.note = left; left = ""; }
      return o;
    });
  };

  // reading of one place; null if nothing was entered there.
  const reading = (at, typed, units) => {
    if (!typed) return null;
    const out = { position: at.at };
    const rows = check.grid(at, typed.d || {}, typed.around || 1);
    if (rows.some((row) => row.some((t) => t))) out.depths = rows.map((row) => row.map((t) => t && check.written(t, units.depth)));
    if (typed.p) out.pressure = check.written(typed.p, units.pressure);
    if (typed.hot) out.hot = true;
    if (typed.nr) out.not_reached = true;
    const seen = observations(typed.see, typed.note);
    if (seen.length) out.observations = seen;
    if (typed.photos?.length) out.photos = typed.photos;
    return Object.keys(out).length > 1 ? out : null;
  };

  // body is the inspection as the server takes it. A note of a place where
  // nothing was seen goes to the whole.
  const body = (vehicle, entry, units) => {
    const readings = [], notes = [entry.note];
    for (const at of vehicle.places) {
      const typed = entry.places[at.at], r = reading(at, typed, units);
      if (r) readings.push(r);
      if (typed?.note && !r?.observations?.some((o) => o.note)) notes.push(`${at.at}: ${typed.note}`);
    }
    const out = { id: entry.id, vehicle_id: vehicle.id, at: entry.made, readings };
    if (!entry.unknown && entry.odometer) out.odometer = check.written(entry.odometer, units.distance);
    const note = notes.filter(Boolean).join("\n");
    if (note) out.note = note;
    const seen = observations(entry.see);
    if (seen.length) out.vehicle = seen;
    return out;
  };

  // wait moves an entry from the drafts to what waits to be sent, in one step.
  const wait = async (vehicle, entry, units) => {
    const item = { id: entry.id, user: entry.user, vehicle: vehicle.id, number: vehicle.number, made: entry.made, state: "waiting",
      body: body(vehicle, entry, units), photos: photosOf(entry), entry };
    await keep.change(["drafts", "waiting"], (drafts, waiting) => {
      waiting.put(item);
      drafts.delete(entry.key);
    });
  };

  // renewed is an entry that is to be recorded beside the one that has its number.
  const taken = (item) => item.problem?.kind === "conflict";
  const renewed = (item) => (taken(item) ? { ...item.entry, id: keep.id() } : item.entry);

  // correct moves what was refused back to the drafts, at its summary. It
  // reports false if another entry of the vehicle is under way, which stays.
  const correct = async (item) => {
    const other = await keep.get("drafts", item.entry.key);
    if (other && begun(other)) return false;
    await keep.change(["drafts", "waiting"], (drafts, waiting) => {
      drafts.put(renewed(item));
      waiting.delete(item.id);
    });
    return true;
  };

  // again puts what was refused back in the line, with what was confirmed.
  const again = (item, confirmed) => keep.change(["waiting"], (waiting) => {
    const entry = renewed(item);
    waiting.delete(item.id);
    waiting.put({ ...item, entry, id: entry.id, state: "waiting", problem: null, body: { ...item.body, id: entry.id, confirmed: [...new Set([...(item.body.confirmed || []), ...confirmed])] } });
  });

  // discard drops what was refused for good, with its photos.
  const discard = (item) => keep.change(["waiting", "photos"], (waiting, photos) => {
    waiting.delete(item.id);
    (item.photos || []).forEach((id) => photos.delete(id));
  });

  return { load, save, start, begun, drop, wait, taken, correct, again, discard };
})();
