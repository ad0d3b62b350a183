// Package wear turns tread depths read now and then into a wear rate, and a
// wear rate into the distance and the time that are left to a limit, each with
// an interval that says how sure it is.
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
// rate, and the rate itself drifts slowly. It is held as the information on the
// depth, the information on the rate and the lag between them, so that nothing
// is ever subtracted from a covariance, a flat prior is an exact zero, and with
// a flat prior and no drift the result is ordinary least squares to the last
// digits. Readings far from what was expected count for less; they are flagged,
// never dropped, and a second one that agrees with the first is believed.
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
// results are finite; what lies beyond the horizon says so (Bound). A forecast
// is an estimate for planning: it never replaces looking at the tire.
package wear
