// Package wear estimates a wear rate from tread depths that were read now and then,
// and from the rate the distance and the time left to a limit, each with an interval.
//
// A caller keeps one State for each tire and groove measure (minimum groove for
// limits, mean groove for cost); it is plain data, a few numbers, and every
// reading costs the same small work whatever the history:
//
//	prior := wear.DefaultPrior("tractor", "drive")               // or Priors.For
//	s, err := wear.Start(prior, wear.Fitting{XKM: odo, NewMM: 20.6, Fresh: true})
//	s, verdict, err := s.Update(wear.Reading{XKM: odo, DepthMM: 19.1, Gauge: wear.Gauge32nd})
//	if verdict.Outlier { ... ask to measure again ... }
//	s, err = s.Moved(odo, newOdo, wear.DefaultPrior("tractor", "steer")) // keeps the depth
//	f, err := s.Forecast(wear.Ahead{LimitMM: 3.2, NowKM: odo, Use: use})
//	f.Distance.Median.Value, f.Distance.Hi90.Beyond              // km from now
//	f.Days.Lo80.Value                                            // days from now
//	f.TooEarly, f.LackOfFit, f.Suspect, f.PriorOnly              // when not to believe it
//
// and for each vehicle one Use, the distance it covers a day:
//
//	use := wear.StartUse(wear.DefaultUse("tractor"))
//	use, err = use.Update(day, odo)                              // only known odometers
//
// # Method
//
// The state is that of a local linear trend (Harvey, Forecasting, Structural
// Time Series Models and the Kalman Filter, 1989, ch. 2): depth falls by the
// rate, and the rate itself drifts slowly. It is kept as the information on the
// depth, the information on the rate and the lag between them. Nothing is then ever
// subtracted from a covariance, a flat prior is an exact zero, and with a flat prior
// and no drift the result is ordinary least squares to the last digits. Readings far
// from what was expected count for less; they are flagged, never dropped, and a
// second one that agrees with the first is believed.
//
// Priors come from the fleet's own fitments (Learn) or from an embedded table of
// judged values. Fit, TheilSen and ProjectTreadwear are the straight-line
// methods of textbooks and of treadwear grading, as a second opinion.
//
// # Units
//
// Distances are km; depths mm; rates mm per 1000 km, positive while the tread
// gets shallower; time is in days from any origin the caller likes. The package
// knows no vehicles, laws or clocks: limits and dates are the caller's. All
// results are finite; a value beyond the horizon is marked as such (Bound). A
// forecast is an estimate for planning: it never replaces looking at the tire.
//
// # Decisions (all November 2026)
//
// Two readings at one place of the odometer are a repeat, not an error. Measuring
// twice is good practice: it makes the depth surer and adds no new place for the rate.
// Rejected: refusing the second, which loses what was measured.
//
// Learning reads the fitments twice and keeps sums by group, so that memory grows with
// groups and not with tires. Rejected: keeping the fitments, which a large fleet
// cannot afford.
//
// Tires to order are counted as independent (Count): exactly up to 200, by the normal
// distribution beyond. A change of work that all tires share makes the truth vary more
// than the interval says. Rejected: a shared factor, since no record gives its size.
//
// A spare does not roll: its prior has rate 0 (SparePrior), and its fitments teach
// nothing. Rejected: the prior of its vehicle, which would forecast wear that never
// comes.
//
// A State is stored as its numbers in base64 (stored.go). It is read and written with
// every reading and takes half the time; the events that it is computed from stay
// readable. The earlier form, an object under field names, is still read. Rejected:
// that object as the only form, for its cost.
package wear
