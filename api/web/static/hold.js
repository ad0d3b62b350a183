// What of a wheel's depths cannot be right: the server's judgment (wear.Holding.Doubt)
// step by step, by the table and the forecast that it sent. Depths are mm here.

const MM_OF_32ND = 25.4 / 32;
const MS_A_DAY = 24 * 60 * 60 * 1000;

const square = (x) => x * x;
const sum = (numbers) => numbers.reduce((a, b) => a + b, 0);
const mean = (numbers) => sum(numbers) / numbers.length;

// middle is the median of numbers, and the median distance from it; 0 for none.
function middle(numbers) {
  const half = (all) => {
    const sorted = [...all].sort((a, b) => a - b);
    return (sorted[Math.floor((sorted.length - 1) / 2)] + sorted[Math.floor(sorted.length / 2)]) / 2;
  };
  if (numbers.length === 0) return [0, 0];
  const median = half(numbers);
  return [median, half(numbers.map((n) => Math.abs(n - median)))];
}

const depthsOf = (row) => row.filter(Boolean).map((cell) => cell.mm);
const cellsOf = (grid) => grid.flat().filter(Boolean);
const stepOf = (cell) => (cell.in32 ? MM_OF_32ND : 0.1);
const stepOfGrid = (grid) => Math.max(0, ...cellsOf(grid).map(stepOf));
const inOtherUnit = (cell) => (cell.in32 ? cell.mm / MM_OF_32ND : cell.mm * MM_OF_32ND);

const meanOf = (grid) => {
  const grooves = grid.map(depthsOf).filter((depths) => depths.length > 0);
  return grooves.length > 0 ? mean(grooves.map(mean)) : NaN;
};

// lastOf is the grid that a wheel was read as last, from how it is sent: mm by groove and
// station, null: not read.
const lastOf = ({ last, in32 }) => last.map((row) => row.map((mm) => (mm === null ? null : { mm, in32 })));

// doubtKM is the standard deviation of the distance that a vehicle covers in some days.
function doubtKM(use, days) {
  let variance = (square(use.drift) * days) / 3;
  if (use.info > 0) variance += 1 / use.info;
  if (days > 0) variance += square(use.daily) / days;
  return days * Math.sqrt(variance);
}

// distance is how far a wheel has run since its course began, in km, and the doubt of it.
// visit has the time in milliseconds and the odometer in km; null: not known.
export function distance(expect, use, visit) {
  const day = visit.time / MS_A_DAY;
  if (expect.by_days || (visit.km === null && !use.known)) {
    const days = Math.max(day - expect.day, 0);
    return { km: use.per_day * days, doubt: doubtKM(use, days) };
  }
  if (visit.km !== null) return { km: Math.max(visit.km - expect.km, 0), doubt: visit.estimated ? 500 : 0 };

  const days = Math.max(day - use.day, 0);
  return { km: Math.max(use.km + use.per_day * days - expect.km, 0), doubt: doubtKM(use, days) };
}

// courseAt is the mean depth that is expected after a distance, and its variance.
function courseAt(course, way) {
  const h = Math.max(way.km, 0) / 1000;
  const v = course.var;
  let mm = course.mm - course.rate * h;
  let variance = v[0] + h * (v[1] + h * (v[2] + h * v[3]));
  const [over, extra, extraVar] = course.break_in;
  if (over > 0) {
    const share = Math.min(h / over, 1);
    mm -= extra * share;
    variance += extraVar * share;
  }
  return { mm, variance: variance + square((course.rate * way.doubt) / 1000) };
}

// doubt judges a grid of cells { mm, in32 }, null: not read. It returns what cannot be
// right, or null: { what, groove, station, expected, grew }. stations are the degrees of
// its places around the tire; none: evenly spaced.
export function doubt(table, expect, now, stations, way) {
  const last = lastOf(expect);
  const before = meanOf(last);
  const seen = meanOf(now);
  if (Number.isNaN(before) || Number.isNaN(seen)) return null;

  const { mm, variance } = courseAt(expect.course, way);
  const worn = Math.max(expect.never_read ? before - seen : expect.course.mm - mm, 0);
  const isElsewhere = JSON.stringify(expect.stations || []) !== JSON.stringify(stations);
  const all = offsets(table, last, now, isElsewhere, mm - before, worn);
  const shared = variance + square(table.operator_mm);
  if (isOtherUnit(table, all, shared, digits(table, last, now))) {
    return { what: "unit", groove: 0, station: 0, expected: all[0].expected, grew: false };
  }
  return farthest(table, all, shared, expect.never_read);
}

const thinnest = (grid) => cellsOf(grid).reduce((a, b) => (b.mm < a.mm ? b : a));

function offsets(table, lastRead, nowRead, isElsewhere, shift, worn) {
  const isComparable = lastRead.length === nowRead.length;
  const last = isComparable ? lastRead : [[thinnest(lastRead)]];
  const now = isComparable ? nowRead : [[thinnest(nowRead)]];
  const uneven = table.uneven_wear * worn;
  const common = commonDips(now);
  const lastStep = stepOfGrid(last);

  const ofGroove = (row, groove) => {
    const depths = depthsOf(last[groove]);
    if (depths.length === 0) return [];
    const [before, spread] = middle(depths);
    const [typical, spreadNow] = middle(depthsOf(row));
    const isAlike = row.length === last[groove].length && !isElsewhere;

    return row.map((cell, station) => {
      if (!cell) return null;
      const same = isAlike ? last[groove][station] : null;
      const was = same ? same.mm : before;
      const extra = same ? 0 : square(spread) + square(spreadNow);
      const noise = 2 * square(table.scatter_mm) + (square(stepOf(cell)) + square(lastStep)) / 12;
      return {
        groove,
        station,
        off: cell.mm - was - shift,
        other: inOtherUnit(cell) - was - shift,
        sinceLast: cell.mm - was,
        around: cell.mm - typical - common[station],
        aroundVar: noise + square(spreadNow),
        expected: was + shift,
        variance: noise + extra + square(uneven),
      };
    });
  };
  return now.flatMap(ofGroove).filter(Boolean);
}

// commonDips is how far each station is from the others in most of the grooves.
function commonDips(now) {
  const stations = [...now[0].keys()];
  if (now.length < 3 || stations.length < 3) return stations.map(() => 0);
  const apartAt = (station) =>
    now.filter((row) => row[station]).map((row) => row[station].mm - middle(depthsOf(row))[0]);
  return stations.map((station) => middle(apartAt(station))[0]);
}

function isOtherUnit(table, all, shared, fromDigits) {
  if (all.length === 0) return false;

  const misfit = (more) => {
    const weight = sum(all.map((o) => 1 / o.variance));
    const weighted = (value) => sum(all.map((o) => value(o) / o.variance)) / weight;
    const off = weighted((o) => o.off + more(o));
    const grown = weighted((o) => o.sinceLast + more(o));
    const within = sum(all.map((o) => square(o.off + more(o) - off) / o.variance));
    const variance = shared + 1 / weight;
    const growth = grown > 0 ? square(grown) / (square(table.operator_mm) + 1 / weight) : 0;
    return { total: within + Math.max(square(off) / variance, growth), off: Math.abs(off), sd: Math.sqrt(variance) };
  };

  const written = misfit(() => 0);
  const other = misfit((o) => o.other - o.off);
  return (
    written.off > table.unit_sd * written.sd &&
    other.off < Math.min(table.unit_near * written.sd, table.far_mm) &&
    written.total - other.total + fromDigits > table.unit_fits
  );
}

// digits is what the way of writing says for the other unit.
function digits(table, last, now) {
  const whole = (grid) =>
    cellsOf(grid).every((cell) => {
      const number = cell.in32 ? cell.mm / MM_OF_32ND : cell.mm;
      return Math.abs(number - Math.round(number)) < 0.01;
    });
  const in32 = (grid) => cellsOf(grid).at(-1).in32;

  const isWhole = whole(now);
  const wasWhole = whole(last);
  if (cellsOf(now).length < 3 || in32(now) !== in32(last) || isWhole === wasWhole) return 0;
  if (in32(now)) return wasWhole ? table.unit_tenths : 0;
  return isWhole ? table.unit_whole : 0;
}

function farthest(table, all, shared, neverRead) {
  const [usual] = middle(all.map((o) => o.off));
  const stations = Math.max(...all.map((o) => o.station + 1), 0);
  const hasGrown = !neverRead && isGrown(table, all);
  let worst = 0;
  let found = null;

  for (const o of all) {
    const compare = (apart, least, leastSD, variance) => {
      const far = Math.abs(apart) / Math.sqrt(variance);
      if (Math.abs(apart) < least || far <= leastSD || far <= worst) return;
      worst = far;
      const { groove, station } = o;
      const isRise = apart > 0;
      const what = isRise ? "depth_rise" : "depth_drop";
      found = { what, groove, station, expected: o.off + o.expected - apart, grew: isRise && o.sinceLast > 0 };
    };

    if (!neverRead) compare(o.off, table.far_mm, table.far_sd, shared + o.variance);
    if (all.length > 2) compare(o.off - usual, table.apart_mm, table.apart_sd, o.variance);
    if (stations > 2) compare(o.around, table.apart_mm, table.apart_sd, o.aroundVar);
    if (o.sinceLast > 0) {
      compare(o.sinceLast, table.far_mm, table.far_sd, square(table.operator_mm) + o.variance);
    }
    if (hasGrown && o.sinceLast > 0) compare(o.sinceLast, 0, 0, o.variance);
  }
  return found;
}

// isGrown reports whether the wheel as a whole is deeper than it was read last.
function isGrown(table, all) {
  if (all.length === 0) return false;
  const n = all.length;
  const rise = sum(all.map((o) => o.sinceLast)) / n;
  const variance = sum(all.map((o) => o.variance)) / (n * n);
  return rise >= table.far_mm && rise > table.grown_sd * Math.sqrt(square(table.operator_mm) + variance);
}
