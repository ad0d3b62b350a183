package bench

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rimledger/models"
	"rimledger/models/balance"
	"rimledger/models/bench"
)

// stock is the box of weights in the form. How long its strips may be, the bench knows.
func (f *benchForm) stock() []balance.Weight {
	var out []balance.Weight
	for _, m := range f.Sizes("clips", f.Units.Mass) {
		out = append(out, balance.Weight{Name: m.Text, Kind: balance.Clip, MassG: float64(m.Value)})
	}
	for _, m := range f.Sizes("segments", f.Units.Mass) {
		out = append(out, balance.Weight{Name: m.Text, Kind: balance.Adhesive, MassG: float64(m.Value)})
	}

	return out
}

// notRight is the message of a form whose faults are beside their fields.
const notRight = "Nothing is worked out until this is right:"

// input reads the form as what is on the bench. said says why nothing can be worked out
// of it yet.
func (f *benchForm) input() (in bench.Input, notes []string, said string) {
	in = bench.Input{Assembly: f.onBench(), Planes: f.pair().circles(f.geometry())}
	in.WeightsOff = f.Ticked("weights_off")
	in.Problem = balance.Problem{Mode: balance.TwoPlane, Stock: f.stock()}
	if f.static() {
		in.Problem.Mode = balance.Static
	}

	shown := f.shown("shown")
	if m, ok := f.Mass("most"); ok {
		in.Problem.MaxMassG = float64(m.Value)
	}

	if !showing(&in, shown) {
		return in, nil, "Fill in step 1: both planes, or one plane alone where you balance in one. What is left " +
			"then stands here."
	}

	f.checkPlanes(in.Planes)
	in.Problem.Places = f.places()
	f.checkStock(in.Problem)
	if !f.OK() {
		return in, nil, notRight
	}

	return in, turnedNotes(in, shown), ""
}

// showing fills in what the machine showed. It returns false where that is too little:
// two planes need both, one plane needs the one or both.
func showing(in *bench.Input, shown []models.PlaneUnbalance) bool {
	weights := map[string]balance.Shown{}
	for _, s := range shown {
		weights[s.Plane] = balance.Shown{MassG: s.Grams(), Deg: float64(s.Angle.Normal())}
	}

	outer, hasOuter := weights["outer"]
	inner, hasInner := weights["inner"]

	single, hasSingle := weights["single"]
	switch {
	case hasSingle && in.Problem.Mode == balance.Static:
		in.Single = &single
	case hasOuter && hasInner:
		in.Outer, in.Inner = outer, inner
	default:
		return false
	}

	return true
}

// turnedNotes says of each angle that counts whether it was brought into a turn.
func turnedNotes(in bench.Input, shown []models.PlaneUnbalance) []string {
	names := map[string]string{"outer": "outer plane", "inner": "inner plane"}
	if in.Single != nil {
		names = map[string]string{"single": "one plane alone"}
	}

	var out []string
	for _, s := range shown {
		if at := s.Angle.Normal(); names[s.Plane] != "" && at != s.Angle {
			out = append(out, fmt.Sprintf("%s: %g° taken as %g°", names[s.Plane], float64(s.Angle), float64(at)))
		}
	}

	return out
}

// checkPlanes puts beside its field what is not measured of the planes shown.
func (f *benchForm) checkPlanes(p balance.Planes) {
	outer, inner, depth := f.fieldsOf()
	switch {
	case p.Outer.RadiusMM == 0:
		f.AddFault(outer, "zero: measure from the axle's center to the middle of the weight")
	case p.Inner.RadiusMM == 0:
		f.AddFault(inner, "zero: measure from the axle's center to the middle of the weight")
	case !f.static() && math.Abs(p.Outer.OffsetMM-p.Inner.OffsetMM) < 1:
		f.AddFault(
			depth,
			"no distance between the planes: measure how far inward this plane lies from the outer flange, or "+
				"balance in one plane",
		)
	}
}

// checkStock puts beside its field that the box is empty, or that it holds nothing for
// the places.
func (f *benchForm) checkStock(p balance.Problem) {
	fits := func(w balance.Weight) bool {
		return slices.ContainsFunc(p.Places, func(q balance.Place) bool { return q.Kind == w.Kind })
	}

	switch {
	case len(p.Stock) == 0:
		f.AddFault("clips", "the box is empty: list at least one weight")
	case !slices.ContainsFunc(p.Stock, fits):
		field := "clips"
		if p.Places[0].Kind == balance.Adhesive {
			field = "segments"
		}
		f.AddFault(field, "the box holds nothing that fits where weights may go")
	}
}

// blame puts an error of package balance beside the field it speaks of. It returns
// what is shown above the form.
func (f *benchForm) blame(err error) string {
	var in *bench.InputError
	if !errors.As(err, &in) {
		return err.Error()
	}

	text := fmt.Sprintf("%s: %v; %s", in.Value, in.Err, in.Right)
	field := cmp.Or(fieldOfPlace(in.Field), f.fieldOfReason(in), f.fieldOfPart(in.Field))
	if field == "" {
		return in.Field + " " + text
	}

	f.AddFault(field, text)
	return notRight
}

// fieldOfPlace returns the field that measures the place of a wheel which a refused
// field names in brackets; "" if it names none.
func fieldOfPlace(refused string) string {
	for place, fields := range measureFields {
		if strings.Contains(refused, "("+place+")") {
			return fields[0]
		}
	}
	return ""
}

// fieldOfReason returns the field that the reason of an error alone points to; "" if
// it points to none.
func (f *benchForm) fieldOfReason(in *bench.InputError) string {
	switch {
	case errors.Is(in.Err, balance.ErrEmptyStock):
		return "clips"
	case errors.Is(in.Err, balance.ErrNoPlace):
		return "geometry.blocked"
	case errors.Is(in.Err, balance.ErrZeroDistance):
		_, _, depth := f.fieldsOf()
		return depth
	case errors.Is(in.Err, balance.ErrUnknownPlace):
		return "fitted.0.plane"
	case errors.Is(in.Err, balance.ErrTooHeavy):
		return fieldOfMass(in.Field)
	}
	return ""
}

// fieldOfMass returns the field in which a mass that is too heavy was typed; "" if it
// was in none.
func fieldOfMass(refused string) string {
	switch {
	case strings.HasPrefix(refused, "single"):
		return "shown.single.mass"
	case strings.HasPrefix(refused, "inner"):
		return "shown.inner.mass"
	case strings.HasPrefix(refused, "outer"):
		return "shown.outer.mass"
	case strings.HasPrefix(refused, "weight"):
		return "fitted.0.mass"
	}
	return ""
}

// fieldOfPart returns the field with the refused part of the problem; "" if
// none does.
func (f *benchForm) fieldOfPart(refused string) string {
	outer, inner, _ := f.fieldsOf()
	switch {
	case strings.HasPrefix(refused, "stock"):
		return "clips"
	case strings.Contains(refused, "inner"):
		return inner
	case strings.Contains(refused, "outer"):
		return outer
	}
	return ""
}

// ownPieces reads the technician's own choice. What sticks on is as long as the
// segments of the box make it, as in the proposal.
func (f *benchForm) ownPieces() []balance.Piece {
	var segments []float64
	for _, m := range f.Sizes("segments", f.Units.Mass) {
		segments = append(segments, float64(m.Value))
	}

	var out []balance.Piece
	for _, w := range f.weights("fitted") {
		x := balance.Piece{
			Place:  w.Plane,
			MassG:  float64(w.Mass.Value),
			Deg:    float64(w.Angle),
			Weight: w.Mass.Text,
			Spot:   w.Place,
		}

		if w.Type == string(balance.Adhesive) {
			x.LengthMM = bench.StripMM(x.MassG, segments)
		}
		out = append(out, x)
	}

	return out
}

// ownRowsFilled lists the rows with a weight of the technician's own.
func (f *benchForm) ownRowsFilled() []int {
	var out []int
	for i := range ownRows {
		if f.Text("fitted."+strconv.Itoa(i)+".mass") != "" {
			out = append(out, i)
		}
	}
	return out
}
