// Package models is the domain of Rimledger: the things a fleet's tire record is
// made of, the errors its rules raise, and the port through which it is stored.
//
// It defines the words of the trade (depot, vehicle, position, tire, wheel,
// fitment, inspection, balance job, rotation, finding) and the checks that need
// nothing but the value itself. It computes nothing about wear,
// balance or law (see the packages below it), knows no database, no wire
// format and no clock.
//
// Conventions: instants are UTC cut to microseconds; lengths and distances are
// exact (package units); grooves are counted from the outboard to the inboard
// shoulder; stations run clockwise from the valve seen from outside the
// vehicle; left is the driver's left facing forward.
//
// # A place around a tire is kept as typed and as an angle (2026-11-30)
//
// Context: a technician writes a place as an angle, on a clock, or as a length by
// tape from the valve. Choice: Station keeps the text and the angle. The use-case
// turns a length into an angle with the tape once around the tread. A reading without
// stations was taken at evenly spaced places, as all readings before that day were.
// Rejected: the circumference from the size, which does not tell how far a tread is
// worn.
//
// # A report of a shake is stored in two forms (2026-11-30)
//
// Context: older reports have one band of speed and one place. Choice: Vibration keeps
// both that form and the lists of bands and places; Course and Felt read whichever is
// there. Stored reports stay as they are, and an answer that a client sends back is
// the same report. A report whose two forms differ is refused.
package models
