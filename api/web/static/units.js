// The units of a gauge, in those of the record: lengths are whole nanometres,
// pressures are kPa.

// Nanometres of one unit of depth; both are exact (an inch has 25.4 mm).
export const NANOMETRES = { "32nd": 793750, mm: 1e6 };

// Kilopascals of one unit of pressure. A pound-force per square inch follows
// from 0.45359237 kg, 9.80665 m/s² and 25.4 mm.
export const KILOPASCALS = { kPa: 1, psi: 6.894757293168361, bar: 100 };

// Kilometres of one unit of distance; exact.
export const KILOMETRES = { km: 1, mi: 1.609344 };

// word is what stands behind a number in this unit.
export const word = (unit) => (unit === "32nd" ? "/32" : unit);
