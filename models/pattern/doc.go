// Package pattern finds how a tire is worn, from a grid of depths and from what
// hand and eye find. It names the pattern, how sure it is, and which further
// readings would decide. It then scores the possible causes line by line and lists
// what to check before anyone balances the wheel.
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
// # Thresholds and their sources
//
// The gauge has steps of 1/32 in. A spread of 1/32 in around one groove is gauge
// error, 2/32 in asks for a second reading, 3/32 in is a finding: derived from gauge
// noise by a simulation that the tests repeat. Harmonics are computed from eight
// stations up. Three stations never prove a tread even around, because three evenly
// spaced cups can show the same depth at all of them. The first harmonic follows the
// Fourier reading of rib profiles (ASTM J. Testing & Eval. 22(1) 1994).
//
// The points of the evidence are chosen by us. Each row of evidence.csv has its
// text, basis and status: F found in public text, M common practice, D derived,
// P proposed by us.
//
// # Decisions
//
// Flat patches are called "several" only from eight stations, with the rest of the
// groove worn alike and gaps that differ by two stations or more. Evenly spaced dips
// fall on a grid of stations with gaps that differ by at most one, so a smaller
// difference cannot tell patches from cups. Rejected: any unequal gap, which calls
// three even cups on eight stations flat patches. November 2026.
package pattern
