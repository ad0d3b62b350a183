// Package pattern reads how a tire is worn from a grid of depths and from what
// hand and eye find, says in which pattern, how sure, and which further readings
// would decide; and it weighs what the pattern and the other facts of the wheel
// point to, line by line, with what to check before anyone balances.
//
// It does not forecast (package wear), knows no law and no vehicle records, and
// never proves a cause: a score orders the work.
//
// # Conventions
//
// Grooves run outboard to inboard; stations are equally spaced around the tire,
// the first at the valve, clockwise seen from outside the vehicle. Depths and
// wear are mm, wear = new depth of that groove - reading; angles are degrees
// clockwise from the valve; unbalance is g·mm. Results are always finite.
//
// # Rules and their sources
//
// A spread S around one groove of 1/32 in is gauge error, 2/32 asks for a second
// reading, 3/32 is a finding (derived from gauge noise by simulation, repeated
// in the tests). Harmonics are read from eight stations up; three stations never
// prove a tread even around, because three evenly spaced cups fall between them.
// The first harmonic follows the Fourier reading of rib profiles (ASTM J.
// Testing & Eval. 22(1) 1994); the points of the evidence are ours and stand
// with text, basis and status in evidence.csv: F found in public text, M common
// practice, D derived, P proposed by us.
package pattern
