// Where around a tire depths are read, clockwise from the valve seen from outside.
import { NANOMETRES } from "./units.js";

// UNEQUAL are eight places, in degrees, that tell 1 to 12 cups apart better than evenly
// spaced ones; the server proposes the same.
export const UNEQUAL = [0, 20, 80, 100, 200, 290, 320, 330];

const UNEVEN = 2 * NANOMETRES["32nd"]; // a spread around one groove that is no gauge error
const FEWEST = 3; // places that say anything of the way around

// angles are those of so many places, in degrees.
export const angles = (count, isUnequal) =>
  isUnequal ? UNEQUAL : Array.from({ length: count }, (_, place) => Math.floor((place * 360) / count));

// clock is an angle as on a clock with the valve at 12.
export function clock(degrees) {
  const minutes = Math.round(degrees * 2);
  const hour = Math.floor(minutes / 60) || 12;
  return `${hour}:${String(minutes % 60).padStart(2, "0")}`;
}

// alongTape is an angle as a length on a tape that goes once around the tread.
export const alongTape = (degrees, once) => Math.round((degrees / 360) * once);

// askCount asks for cups to be counted by hand, where they are felt or the depths of a
// groove differ around the tire; null if they are counted or the tread feels smooth.
// lengths has the depths read, by groove and place, NaN where not read.
export function askCount(typed, lengths) {
  const { cupping, smooth } = typed.see || {};
  const places = typed.around || 1;
  const isCounted = cupping ? cupping.n > 0 : Boolean(smooth);
  if (isCounted || (!cupping && places < FEWEST)) return null;
  if (!cupping && !lengths.some(isUneven)) return null;

  const isBlind = places >= FEWEST && !typed.unequal;
  const others = `${places - 1} or ${places + 1}`;
  const alike = isBlind ? ` ${places} evenly spaced places cannot tell 1 cup from ${others}.` : "";
  const felt = "Count the cups all around by hand.";
  const unfelt = "Uneven around: count the cups by hand, or note smooth.";
  return { code: "count_dips", text: (cupping ? felt : unfelt) + alike };
}

function isUneven(row) {
  const read = row.filter((length) => !Number.isNaN(length));
  return read.length >= FEWEST && Math.max(...read) - Math.min(...read) >= UNEVEN;
}
