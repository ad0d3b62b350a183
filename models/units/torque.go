package units

import (
	"math/big"
	"strconv"
)

// Torque is a tightening torque in newton metres.
type Torque float64

// Torques in newton metres. The pound-force foot is exact: the pound, standard
// gravity and the foot (NIST SP 811, appendix B).
const (
	NewtonMetre Torque = 1
	PoundFoot   Torque = 0.45359237 * 9.80665 * 0.3048
)

// The units in which a torque is read and written.
const (
	NM   Unit = "N·m"
	LbFt Unit = "lb·ft"
)

// MaxTorque is the greatest torque that is accepted: more than twice what the nuts of
// a truck's wheel take. Chosen by us.
const MaxTorque = Torque(2_000)

// PoundFeet returns t in pound-force feet.
func (t Torque) PoundFeet() float64 { return float64(t / PoundFoot) }

var torqueWords = torqueScales()

// torqueScales are the ways in which people write the two units, in small letters.
func torqueScales() map[string]scale {
	out := map[string]scale{}

	for _, w := range []string{"n·m", "nm", "n m", "n-m", "n.m", "newton metres", "newton meters"} {
		out[w] = scale{NM, rat(1, 1)}
	}

	// Exactly 0.45359237 kg x 9.80665 m/s² x 0.3048 m.
	exact := new(big.Rat).Mul(rat(45_359_237, 100_000_000), new(big.Rat).Mul(rat(980_665, 100_000), rat(3048, 10_000)))
	for _, w := range []string{"lb·ft", "lb-ft", "lb ft", "lbft", "lb.ft", "lbf·ft", "lbf-ft", "lbf ft",
		"ft·lb", "ft-lb", "ft lb", "ftlb", "ft·lbf", "ft-lbf", "ft lbf", "ft-lbs", "ft lbs",
		"pound-feet", "pound feet", "foot-pounds", "foot pounds"} {
		out[w] = scale{LbFt, exact}
	}
	return out
}

// ParseTorque reads a torque such as "450 lb-ft", "450 ft lb" or "610 N·m"
// within [0, MaxTorque]. A bare number is in the unit bare, or refused if bare
// is BareNone.
func ParseTorque(text string, bare Unit) (Torque, error) {
	return parseUpTo(MaxTorque, text, torqueWords, bare, "450 lb·ft or 610 N·m",
		"more than any wheel nut takes; at most 2000 N·m (1475 lb·ft). Is it in the other unit?")
}

// FormatTorque writes t in pound-force feet or newton metres as wrenches show
// it: whole, with up to one decimal below 20.
func FormatTorque(t Torque, u Unit) string {
	value, word := float64(t), NM
	if u == LbFt {
		value, word = t.PoundFeet(), LbFt
	}
	if value < 20 {
		return trimmed(value, 1) + " " + string(word)
	}
	return strconv.FormatFloat(value, 'f', 0, 64) + " " + string(word)
}
