// Package balance computes with the unbalance of a wheel and tire: what a balancer
// shows, which weights correct it and where they go, what they leave, and whether
// that is good enough or the assembly should come apart instead.
//
//	u, notes, err := balance.FromShown(planes, balance.Shown{MassG: 35, Deg: 120}, balance.Shown{MassG: 20, Deg: 310})
//	p, err := balance.Choose(balance.Problem{Measured: planes, Unbalance: u, Stock: stock, Places: places})
//	p.Pieces, p.Left, p.Rounded.Left          // what to fit, what it leaves, what rounding would have left
//	v, err := balance.Check(limit, p.Left.InnerG) // limit from LimitByID("car-flange")
//
// The other parts: Transfer between correction planes; Force and Moment at
// speed; Permissible and Grade (ISO 21940-11, for information); IndexBalance
// (tire turned on the rim between two spins); FirstHarmonic, MatchHarmonics and
// MatchMarks; TrialWeights (with phase) and TrialPositions (without); WearRound,
// WornPatch and LostWeight.
//
// # Units and signs
//
// Angles are degrees clockwise from the valve, seen from outside the vehicle.
// Unbalance is in g mm and points at the heavy side; the weight that corrects it
// sits opposite. Offsets are mm from the wheel's mounting face, positive away
// from the vehicle; "inner" is the plane nearer the vehicle. Given angles are
// brought into [0, 360) and a Note says so; given masses and radii must be within
// the limits of errors.go. All results are finite.
//
// # What it does not do
//
// It knows no vehicles, records or clocks, computes no doses of balancing beads or
// powder, and passes or fails nothing in law. It assumes a rigid rotor and a wheel
// that is centered on the balancer.
//
// # Sources
//
// Two-plane and influence-coefficient balancing are textbook methods: T. P.
// Goodman, J. Eng. Ind. 86 (1964) 273-277; S. S. Rao, Mechanical Vibrations,
// ch. 9. Limits carry their source row by row (limits.csv, clips.csv).
//
// # Decisions
//
// Choose takes, in this order: sets within the limits, sets within the slack of the
// least residual, the least mass, the fewest pieces, the least residual; a set uses at
// most two places. Rejected: the least residual alone, which adds weight for less than
// a balancer shows; and three places or more, which technicians do not fit and whose
// search is not exact in bounded time. November 2026.
package balance
