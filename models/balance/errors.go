package balance

import (
	"errors"
	"fmt"
	"math"

	"rimledger/models/badinput"
	"rimledger/models/units"
)

// The reasons for which an input is refused; a badinput.Error wraps one of them.
var (
	ErrNotFinite      = badinput.ErrNotFinite
	ErrOutOfRange     = badinput.ErrOutOfRange
	ErrZeroRadius     = errors.New("zero radius")
	ErrZeroDistance   = errors.New("no distance between the planes")
	ErrTooHeavy       = errors.New("heavier than any wheel's")
	ErrEmptyStock     = errors.New("empty stock")
	ErrNoPlace        = errors.New("no place allowed")
	ErrUnknownPlace   = errors.New("unknown place")
	ErrUnknownChoice  = errors.New("not one of the choices")
	ErrTooManyChoices = errors.New("too many choices to search")
	ErrTooFew         = errors.New("too few readings")
	ErrPositions      = errors.New("positions too close together")
	ErrSingular       = errors.New("singular influence coefficients")
	ErrNoEffect       = errors.New("trial weight with no effect")
	ErrTurnTooSmall   = errors.New("tire turned too little")
	ErrNoMeaning      = errors.New("marks with no meaning in the maker's key")
	ErrUnknownLimit   = errors.New("unknown limit")
)

// The widest values that are accepted, chosen by us: the heaviest
// published correction for an assembly is 28 oz (794 g), see limits.csv.
const (
	maxWeightG   = 2_000.0 // one weight, or what a balancer shows in one plane
	maxRadiusMM  = 1_500.0 // a correction or tire radius
	minDistMM    = 1.0     // between two correction planes
	maxOffsetMM  = 2_000.0 // from the mounting face
	maxAssembly  = 1_000.0 // kg, as units.MaxMass
	maxUnbalance = maxWeightG * maxRadiusMM
)

// finite reports whether v is a number and not infinite.
func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// within refuses v unless it is finite and in [lo, hi].
func within(field string, v, lo, hi float64) error {
	if v >= lo && v <= hi {
		return nil
	}
	return badinput.Within(field, v, lo, hi, fmt.Sprintf("give %g to %g", lo, hi))
}

// checkMass refuses a weight in grams that is negative or above maxWeightG.
func checkMass(field string, g float64) error {
	if g > maxWeightG && finite(g) {
		return badinput.Number(field, g, ErrTooHeavy,
			"no wheel takes more than %g g in one plane; check the unit and the reading", maxWeightG)
	}
	return within(field, g, 0, maxWeightG)
}

// minRadiusMM is the smallest radius that is taken for one in millimetres: 2 in, less than
// any road wheel's. What is smaller looks like inches (chosen by us).
const minRadiusMM = 50.0

// checkRadius refuses a radius in mm that is below minRadiusMM or above maxRadiusMM.
func checkRadius(field string, mm float64) error {
	if mm == 0 {
		return badinput.Number(field, mm, ErrZeroRadius,
			"measure from the center of the wheel to the middle of the weight, mm")
	}
	if mm > 0 && mm < minRadiusMM {
		return badinput.Number(field, mm, ErrOutOfRange,
			"this looks like inches: %g in are %.1f mm; give millimetres, from %g", mm, mm*25.4, minRadiusMM)
	}
	return within(field, mm, minRadiusMM, maxRadiusMM)
}

// Note reports that a given value was changed before it was used, or that it is unusual.
type Note struct {
	Field string
	Given float64
	Used  float64
	Text  string
}

// notebook collects notes while input is read.
type notebook []Note

// angle returns deg brought into [0, 360), noting the change if it lay outside 0-360.
func (n *notebook) angle(field string, deg float64) (float64, error) {
	return n.degrees(field, deg, "clockwise from the valve")
}

// degrees is angle for an angle that is not counted from the valve: how says from where.
func (n *notebook) degrees(field string, deg float64, how string) (float64, error) {
	if !finite(deg) {
		return 0, badinput.Number(field, deg, ErrNotFinite, "give degrees %s, 0 to 360", how)
	}

	used := float64(units.Angle(deg).Normal())
	if deg < 0 || deg > 360 {
		*n = append(*n, Note{field, deg, used,
			fmt.Sprintf("%s %g deg lies outside 0-360 and is read as %g deg %s", field, deg, used, how)})
	}
	return used, nil
}
