// What is hard to believe, and what takes a vehicle off the road, by the same
// whole numbers as the server, which decides. Lengths are nanometres, pressures
// kPa. A remark has the server's code, a text, and off if the vehicle must stay.
"use strict";
const check = (() => {
  const THIRTY_SECOND = 793750, MM = 1e6, RISE = 2 * THIRTY_SECOND;
  const KPA = { kPa: 1, psi: 6.894757293168361, bar: 100 };

  const in32 = (text, unit) => text.includes("/32") || (unit === "32nd" && !text.includes("mm"));
  // depth reads a depth; NaN if it is none.
  const depth = (text, unit) => {
    const m = /^\s*(\d+(?:\.\d*)?|\.\d+)\s*(\/32|mm)?\s*$/.exec(text || "");
    return m ? Math.round(Number(m[1]) * (in32(text, unit) ? THIRTY_SECOND : MM)) : NaN;
  };
  // written gives a number its unit.
  const written = (text, unit) => (/[^\d.\s]/.test(text) ? text.trim() : unit === "32nd" ? text.trim() + "/32" : text.trim() + " " + unit);

  const depthText = (nm, unit) => numeral.shown(unit === "32nd" ? +(nm / THIRTY_SECOND).toFixed(1) + "/32\u00a0in" : +(nm / MM).toFixed(1) + "\u00a0mm");

  // grid turns what was typed into depths by groove and station; null: not read.
  const grid = (place, typed, around) => (place.grooves || []).map((_, g) => Array.from({ length: around }, (_, k) => typed[g + "." + k] || null));

  const depths = (place, rows, units) => {
    const out = [];
    const read = rows.flatMap((row, g) => row.map((text) => ({ g, text, nm: depth(text, units.depth) }))).filter((d) => !Number.isNaN(d.nm));
    if (read.length === 0) return out;
    const deepest = Math.max(...(place.new || [Infinity]));
    const above = read.find((d) => d.nm > (place.new?.length === rows.length ? place.new[d.g] : deepest));
    if (above) out.push({ code: "above_new", text: `${numeral.shown(written(above.text, units.depth))} is deeper than this groove had when new. Right place, tire and unit? Measure again.` });
    const least = read.reduce((a, b) => (b.nm < a.nm ? b : a));
    if (place.least) {
      const other = in32(least.text, units.depth) ? Math.round((least.nm / THIRTY_SECOND) * MM) : Math.round((least.nm / MM) * THIRTY_SECOND);
      if (Math.abs(other - place.least) <= THIRTY_SECOND && Math.abs(least.nm - place.least) >= RISE) {
        out.push({ code: "unit", text: `This looks like the other unit: last time it was ${place.least_text}. Which unit is on the gauge?` });
      } else if (least.nm - place.least >= RISE) {
        out.push({ code: "depth_rise", text: `Deeper than the ${place.least_text} of last time. Tread does not grow: measure again.` });
      }
    }
    if (least.nm < (place.legal || 0)) {
      out.push({ code: "below_legal", off: true, text: `Below the legal minimum of ${depthText(place.legal, units.depth)}: measure again. If it stays so, the vehicle stays off the road.` });
    }
    return out;
  };

  const pressure = (place, text, units) => {
    const m = /^\s*(\d+(?:\.\d*)?)\s*(kPa|psi|bar)?\s*$/i.exec(text || "");
    if (!m || !(place.target > 0)) return [];
    const p = Number(m[1]) * KPA[m[2] || units.pressure];
    if (p > place.target * 0.4 && p < place.target * 2) return [];
    for (const number of [p, p / KPA.psi, p / KPA.bar]) {
      for (const unit of Object.values(KPA)) {
        const q = number * unit;
        if (q > place.target * 0.75 && q < place.target * 1.25) {
          return [{ code: "pressure_unit", text: "Far from the target, but the same number in another unit is not. Which unit is on the gauge?" }];
        }
      }
    }
    return [];
  };

  // place remarks on one wheel: typed is { d, p, see, around }.
  const place = (at, typed, units, looks) => {
    const out = [...depths(at, grid(at, typed.d || {}, typed.around || 1), units), ...pressure(at, typed.p, units)];
    for (const l of looks) {
      if (l.off && typed.see?.[l.code]) out.push({ code: l.code, off: true, text: `${l.name}: off the road until it is cleared.` });
    }
    return out;
  };

  // same counts wheels that read exactly as last time.
  const same = (vehicle, entry, units) => vehicle.places.filter((at) => {
    const typed = entry.places[at.at];
    if (!typed?.d || !at.depths?.length || Object.keys(typed.d).length === 0) return false;
    const now = grid(at, typed.d, typed.around || 1).map((row) => row.map((t) => (t === null ? -1 : depth(t, units.depth))));
    return JSON.stringify(now) === JSON.stringify(at.depths);
  }).length;

  return { depth, written, depthText, grid, place, same };
})();
