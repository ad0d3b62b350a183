// Package history folds events into states: the present facts that follow from the
// past of a vehicle and of a tire. Folding the events of a tire in order of time gives
// exactly the state that was saved while they were recorded one by one, so a correction
// is a replay.
//
// It is pure: every fact it uses is in the event, the tire and the vehicle. Masses of
// balance weights are grams, odometers km, depths for the wear estimators mm.
//
// # Decisions
//
// Everything that happens to a vehicle or tire is an event in one append-only log. What
// follows from the events is a small state on the vehicle's and the tire's own row. So an
// inspection reads a handful of rows whatever the length of the history; a correction or
// a late entry replays. Rejected: to compute the state from the log at every read, which
// costs more each year; and to change states without a log, which loses what was known
// when. November 2026.
//
// What the fleet's tires had taught about wear rates when an estimate began is kept on the
// event that begins it (Meta.Priors), so that a replay begins the same way. Running
// fitments keep their prior, and a correction keeps that of the event that it corrects.
// Rejected: to start a replay with today's prior, which changes forecasts that a
// correction has nothing to do with. November 2026.
//
// Each measured value of a wheel check counts until the same quantity is measured again.
// Run-out of the tire and the bead gap end when the tire comes off its wheel. Run-out of
// the rim stays with the wheel and is copied into the fit (Fitting.Rim), so that a replay
// finds it without reading other tires' events. November 2026.
//
// Weights sit in a plane that the balancer showed or at one of four places of a wheel. At
// such a place they count by plane transfer; if the place was not measured, the unbalance
// of the bare assembly is unknown. Rejected: to count them as if they sat in the nearest
// plane shown, which is wrong by their distance. November 2026.
//
// Drift between two balance jobs of one mounting compares the wheel as it was left with
// the wheel as it was found if the weights stayed on, otherwise the bare assembly with the
// bare assembly. November 2026.
//
// The wear rate of a fitment comes from its own readings alone (Fitment.Wear, with a 90 %
// interval); the forecast also uses the prior. If the interval reaches 0, pages say only
// "at most". The new depth of a former tread is not in the record: its wear counts from
// its first reading. November 2026.
package history
