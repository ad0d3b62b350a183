package bench

import (
	"fmt"
	"math"

	"rimledger/api/web/say"
	"rimledger/models/balance"
	"rimledger/models/bench"
)

// limitLine is one value held against its limit.
type limitLine struct{ What, Value, Verdict, Source, Status string }

// maxTypedKG is the most that a wheel is taken to weigh.
const maxTypedKG = 2000

// limits compares every value with its limit, with source and status.
func (f *benchForm) limits(r *benchResult, best bench.Result, final fitting, spin balance.Spin) {
	limits := f.onBench().Limits()
	f.limitLeft(r, limits, final)
	if n := limits.Needed; n != nil && f.Ticked("weights_off") {
		f.limit(r, *n, "Asked for by the bare assembly", best.Before.OuterG+best.Before.InnerG)
	}
	if limits.Needed == nil {
		f.limitFitted(r, final)
	}

	if kg := f.Number("weight_kg", "kilograms"); kg > 0 && kg < maxTypedKG && spin > 0 {
		f.isoGrade(r, best.Problem.Measured, final.left, kg, spin)
	}
}

// fitting is the set of weights that limits are held against: the technician's own, or
// else the proposal.
type fitting struct {
	what   string // in words
	pieces []balance.Piece
	left   balance.Left
}

// limitLeft compares what is left with its limits: in each plane, or in one plane's balance
// of the sum alone.
func (f *benchForm) limitLeft(r *benchResult, limits bench.Limits, final fitting) {
	where, worst := "in a plane, ", math.Max(final.left.OuterG, final.left.InnerG)
	if f.static() {
		where, worst = "in the one plane, ", final.left.StaticG
	}

	f.limit(r, limits.Residual, "Left "+where+final.what, worst)
	if limits.Sum != nil && !f.static() {
		f.limit(r, *limits.Sum, "Left in the sum of both planes, "+final.what, final.left.StaticG)
	}
	if limits.Usual != nil {
		f.limit(r, *limits.Usual, "Without a complaint, left "+where+final.what, worst)
	}
}

// limitFitted compares the weights on a light wheel with what may be fitted.
func (f *benchForm) limitFitted(r *benchResult, final fitting) {
	for _, l := range balance.LimitsFor("car", balance.FittedPlane) {
		f.limit(r, l, "Most in one plane, "+final.what, heaviest(final.pieces))
	}
	for _, l := range balance.LimitsFor("car", balance.FittedTotal) {
		f.limit(r, l, "All weights, "+final.what, final.left.MassG)
	}
}

// limit compares one value with its limit.
func (f *benchForm) limit(r *benchResult, l balance.Limit, text string, value float64) {
	v, err := balance.Check(l, value)
	if err != nil {
		return
	}

	word := "within"
	if !v.Within {
		word = "over"
		r.Over = append(r.Over, fmt.Sprintf("%s: %s, over %g %s (%s).", text, f.gram(value), l.Value, l.Unit, l.Source))
	}
	if l.Information {
		word += ", for information"
	}

	r.Limits = append(r.Limits, limitLine{text, f.gram(value), word + fmt.Sprintf(" (%g %s)", l.Value, l.Unit),
		l.Source + say.Prefixed(", ", l.Reference), l.Status})
}

// isoGrade adds the balance quality grade, for information.
func (f *benchForm) isoGrade(r *benchResult, p balance.Planes, final balance.Left, kg float64, spin balance.Spin) {
	allowed, err := balance.Permissible(balance.GradeCarWheels, kg, spin)
	if err != nil {
		return
	}

	// The standard divides the permitted unbalance by distance; without one, half goes to each plane.
	half := math.Abs(p.Outer.OffsetMM-p.Inner.OffsetMM) / 2
	in, out, err := balance.PermissiblePlanes(allowed, half, half)
	if err != nil {
		in, out = allowed/2, allowed/2
	}

	left := math.Max(final.Unbalance.Outer.GMM, final.Unbalance.Inner.GMM)
	grade, err := balance.Grade(final.Static.GMM, kg, spin)
	if err != nil {
		return
	}

	diameter := bench.OuterDiameterMM(f.Tire.Size)
	total, err := balance.GradeMass(balance.GradeCarWheels, kg, diameter, 2*p.Outer.RadiusMM, f.kmh())
	if err != nil {
		return
	}

	r.Limits = append(r.Limits, limitLine{"ISO 21940-11 grade of the static part", fmt.Sprintf("G %.1f", grade),
		fmt.Sprintf(
			"for information: G 40 is listed for car wheels and allows %.0f and %.0f g·mm in the planes, %s at this "+
				"rim; left is %.0f g·mm at most",
			in,
			out,
			f.gram(total),
			left,
		), "grade table of ISO 21940-11, second-hand", "F2"})
}

// heaviest returns the most mass in one place.
func heaviest(pieces []balance.Piece) float64 {
	sum := map[string]float64{}
	most := 0.0
	for _, w := range pieces {
		sum[w.Place] += w.MassG
		most = math.Max(most, sum[w.Place])
	}
	return most
}
