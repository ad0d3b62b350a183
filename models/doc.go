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
package models
