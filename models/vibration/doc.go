// Package vibration computes how often a wheel turns at a speed, how hard an unbalance
// pulls there, and at which speeds the wheel on its tire resonates (wheel hop). It
// ranks what a driver's report of a shake points to, with the reason of each line.
//
// A report ranks what to look at first; it proves nothing. The package knows no
// vehicle records and no sizes: circumferences come from package tiresize or a
// measurement.
//
// Units: circumference and radius mm, speed km/h, frequency Hz, unbalance g·mm,
// force N. Each number has its source beside it; "common practice" means that there
// is no source.
package vibration
