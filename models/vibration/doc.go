// Package vibration reads what a shake says: how often a wheel turns at a
// speed, how hard an unbalance pulls there, at which speeds the wheel on its
// tire answers (wheel hop), and what a driver's report points to, in order and
// with the reason of each line.
//
// A report ranks what to look at first; it proves nothing. The package knows no
// vehicle records and no sizes: circumferences come from package tiresize or a
// measurement.
//
// Units: circumference and radius mm, speed km/h, frequency Hz, unbalance g·mm,
// force N. Sources stand beside each number; "trade" is common practice without
// a source.
package vibration
