package bench_test

import (
	"errors"
	"math"
	"testing"

	"rimledger/models/badinput"
	"rimledger/models/balance"
	"rimledger/models/bench"
	"rimledger/models/units"
)

// Invented wheels.
var (
	heavyWheel = balance.Planes{
		Inner: balance.Plane{RadiusMM: 285, OffsetMM: -210},
		Outer: balance.Plane{RadiusMM: 285},
	}
	lightWheel = balance.Planes{
		Inner: balance.Plane{RadiusMM: 203, OffsetMM: -165},
		Outer: balance.Plane{RadiusMM: 203},
	}
	tractor = bench.Assembly{Class: "tractor", AxleRole: "steer", Size: "295/75R22.5 144/141L"}
	car     = bench.Assembly{Class: "car", AxleRole: "steer", Size: "205/55R16 91V"}
)

// flanges is a job with clips on both rim flanges.
func flanges(a bench.Assembly, p balance.Planes, inner, outer balance.Shown) bench.Input {
	return bench.Input{Assembly: a, Planes: p, Inner: inner, Outer: outer, UsualStock: units.G,
		Problem: balance.Problem{Places: []balance.Place{
			{Name: "outer", Plane: p.Outer, Kind: balance.Clip},
			{Name: "inner", Plane: p.Inner, Kind: balance.Clip},
		}}}
}

// TestProblem: what is left at zero is chosen by the assembly, and what is given stays.
// The limits are rows of limits.csv: a workshop manual's 0.25 oz (7.0874 g, the ounce of
// 1959) and a textbook's 150 g and 60 g. The slack, the pieces and the length of a strip
// are chosen by us.
func TestProblem(t *testing.T) {
	t.Parallel()
	bus := bench.Assembly{Class: "bus", Size: "11R22.5 146/143L"}
	loose := bench.Assembly{Size: "295/75R22.5 144/141L"}
	for _, c := range []struct {
		name         string
		in           bench.Input
		limit, slack float64
		pieces       int
	}{
		{"a car", flanges(car, lightWheel, balance.Shown{}, balance.Shown{}), 0.25 * 28.349523125, 0, 0},
		{"a tractor", flanges(tractor, heavyWheel, balance.Shown{}, balance.Shown{}), 150, 14, 2},
		{"a bus", flanges(bus, heavyWheel, balance.Shown{}, balance.Shown{}), 60, 14, 2},
		{"loose and heavy by its size", flanges(loose, heavyWheel, balance.Shown{}, balance.Shown{}), 150, 14, 2},
		{"not known", flanges(bench.Assembly{}, lightWheel, balance.Shown{}, balance.Shown{}), 0, 0, 0},
	} {
		p, _, err := bench.Problem(c.in)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		for _, got := range []float64{p.LimitInnerG, p.LimitOuterG} {
			if math.Abs(got-c.limit) > 1e-9 {
				t.Errorf("%s: limit %g g, want %g", c.name, got, c.limit)
			}
		}
		if p.LimitStaticG != 0 || p.SlackG != c.slack || p.Places[0].MaxPieces != c.pieces {
			t.Errorf("%s: static limit %g, slack %g, pieces %d",
				c.name, p.LimitStaticG, p.SlackG, p.Places[0].MaxPieces)
		}
	}

	given := flanges(tractor, heavyWheel, balance.Shown{}, balance.Shown{})
	given.Problem.LimitOuterG, given.Problem.SlackG, given.Problem.Places[0].MaxPieces = 40, 3, 1
	p, _, err := bench.Problem(given)
	if err != nil || p.LimitOuterG != 40 || p.LimitInnerG != 150 || p.SlackG != 3 || p.Places[0].MaxPieces != 1 {
		t.Errorf("what is given does not stay: %+v, %v", p, err)
	}
	if given.Problem.Places[1].MaxPieces != 0 {
		t.Error("the caller's places were changed")
	}
}

// TestStatic: one plane is held against the same limit as the static part, and what is
// shown in it counts half in each plane (makers' workshop manuals).
func TestStatic(t *testing.T) {
	t.Parallel()
	in := flanges(tractor, heavyWheel, balance.Shown{}, balance.Shown{})
	in.Single, in.Problem.Mode = &balance.Shown{MassG: 100, Deg: 30}, balance.Static
	p, _, err := bench.Problem(in)
	if err != nil {
		t.Fatal(err)
	}
	if p.LimitStaticG != 150 || p.LimitInnerG != 0 || p.LimitOuterG != 0 {
		t.Errorf("limits %g, %g and %g", p.LimitStaticG, p.LimitInnerG, p.LimitOuterG)
	}
	for _, half := range []balance.Vector{p.Unbalance.Inner, p.Unbalance.Outer} {
		if math.Abs(half.GMM-50*285) > 1e-6 || math.Abs(half.Deg-210) > 1e-9 {
			t.Errorf("%+v, want 50 g at 285 mm, heavy at 210 degrees", half)
		}
	}

	r, err := bench.Propose(in)
	if err != nil || r.OnePlane != nil {
		t.Errorf("one plane as an alternative to one plane: %+v, %v", r.OnePlane, err)
	}
}

// TestHiddenCosts: weights behind two spokes 72 degrees apart, the demand half way
// between, weigh 1/cos(36 deg) = 1.236 times as much as in the open (sine rule).
func TestHiddenCosts(t *testing.T) {
	t.Parallel()
	band := balance.Plane{RadiusMM: 190, OffsetMM: -40}
	in := bench.Input{Assembly: car, Planes: balance.Planes{Inner: lightWheel.Inner, Outer: band},
		Outer: balance.Shown{MassG: 50, Deg: 36},
		Problem: balance.Problem{
			Stock: []balance.Weight{{Name: "1 g", Kind: balance.Adhesive, MassG: 1, LengthMM: 0.01, MaxSegments: 40}},
			Places: []balance.Place{{Name: "band", Plane: band, Kind: balance.Adhesive,
				Spots: []balance.Spot{{Deg: 0}, {Deg: 72}, {Deg: 144}, {Deg: 216}, {Deg: 288}}}}}}
	r, err := bench.Propose(in)
	if err != nil || r.Open == nil {
		t.Fatalf("%+v, %v", r.Open, err)
	}

	want := 50 / math.Cos(36*math.Pi/180)
	if len(r.Pieces) != 2 || math.Abs(r.Left.MassG-want) > 1 {
		t.Errorf("hidden: %+v weigh %g g, want two of %.1f g in all", r.Pieces, r.Left.MassG, want)
	}
	// One strip takes 40 segments of 1 g, and the open place one strip.
	if len(r.Open.Pieces) != 1 || r.Open.Left.MassG != 40 {
		t.Errorf("in the open: %+v", r.Open)
	}
}

// TestStrips: a strip is given the usual length, and one of the fewest segments that make
// up a mass (arithmetic).
func TestStrips(t *testing.T) {
	t.Parallel()
	in := flanges(car, lightWheel, balance.Shown{}, balance.Shown{})
	p, _, err := bench.Problem(in)
	if err != nil {
		t.Fatal(err)
	}
	last := p.Stock[len(p.Stock)-1]
	if last.Kind != balance.Adhesive || last.Name != "5 g" || last.LengthMM != 16 || last.MaxSegments != 12 {
		t.Errorf("the usual strip is %+v", last)
	}
	if first := p.Stock[0]; first.Kind != balance.Clip || first.LengthMM != 0 {
		t.Errorf("a clip is %+v", first)
	}

	for _, c := range []struct{ g, want float64 }{{30, 3 * 16}, {25, 5 * 16}, {1000, 12 * 16}, {7, 0}} {
		if got := bench.StripMM(c.g, []float64{5, 10, 0}); got != c.want {
			t.Errorf("a strip of %g g is %g mm, want %g", c.g, got, c.want)
		}
	}
}

// TestRefused: what contradicts itself is refused by the name of its field.
func TestRefused(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, field string
		change      func(*bench.Input)
		want        error
	}{
		{"a class that is none", "class", func(in *bench.Input) { in.Class = "sled" }, bench.ErrWord},
		{"an axle that is none", "axle_role", func(in *bench.Input) { in.AxleRole = "left" }, bench.ErrWord},
		{"measured twice", "problem.measured",
			func(in *bench.Input) { in.Problem.Measured = heavyWheel }, bench.ErrGivenTwice},
		{"unbalance twice", "problem.unbalance",
			func(in *bench.Input) { in.Problem.Unbalance.Inner.GMM = 5 }, bench.ErrGivenTwice},
		{"one plane where two count", "single",
			func(in *bench.Input) { in.Single = &balance.Shown{MassG: 5} }, bench.ErrOneOfTwo},
		{"one plane and two", "single", func(in *bench.Input) {
			in.Single, in.Inner.MassG, in.Problem.Mode = &balance.Shown{MassG: 5}, 5, balance.Static
		}, bench.ErrGivenTwice},
		{"one plane beyond any wheel's", "single mass g", func(in *bench.Input) {
			in.Single, in.Problem.Mode = &balance.Shown{MassG: 2001}, balance.Static
		}, balance.ErrTooHeavy},
		{"a unit that is none", "usual_stock", func(in *bench.Input) { in.UsualStock = "kg" }, bench.ErrUnit},
		{"no stock", "stock", func(in *bench.Input) { in.UsualStock = "" }, balance.ErrEmptyStock},
	} {
		in := flanges(car, lightWheel, balance.Shown{}, balance.Shown{})
		c.change(&in)
		_, err := bench.Propose(in)

		var bad *badinput.Error
		if !errors.Is(err, c.want) || !errors.As(err, &bad) || bad.Field != c.field || bad.Right == "" {
			t.Errorf("%s: %v, want %v of field %q with a remedy", c.name, err, c.want, c.field)
		}
	}
}
