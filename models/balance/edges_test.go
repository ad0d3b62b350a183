package balance_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rimledger/models/badinput"
	"rimledger/models/balance"
)

// oneOf is a problem of one clip of 20 g on a spot opposite to 20 g.
func oneOf() balance.Problem {
	return balance.Problem{
		Measured: wheelPlanes, Mode: balance.Static, Unbalance: balance.HalfEach(balance.Mass(20, 200, 0)),
		Stock: []balance.Weight{{Name: "clip", Kind: balance.Clip, MassG: 20}},
		Places: []balance.Place{{Name: "inner", Kind: balance.Clip, Plane: wheelPlanes.Inner,
			Spots: []balance.Spot{{Name: "mark", Deg: 180}}}},
	}
}

// refused reports that an error names a value out of bounds.
func refused(err error) bool { return errors.As(err, new(*badinput.Error)) }

// TestBoundsOfInput: both sides of each bound of what is accepted; the bounds are chosen
// by us, wide enough for any road wheel.
func TestBoundsOfInput(t *testing.T) {
	t.Parallel()

	chosen := func(change func(*balance.Problem)) error {
		p := oneOf()
		change(&p)
		_, err := balance.Choose(p)
		if errors.Is(err, balance.ErrNoPlace) { // accepted, but nothing fits
			return nil
		}
		return err
	}
	place := func(change func(*balance.Place)) error {
		return chosen(func(p *balance.Problem) { change(&p.Places[0]) })
	}
	tread := balance.Tread{Density: 1150, LandRatio: 0.7, WidthMM: 200, RadiusMM: 300}
	worn := func(change func(*balance.Tread)) error {
		x := tread
		change(&x)
		_, _, err := balance.WearRound(x, 1, 0)
		return err
	}
	second := func(_ any, err error) error { return err }
	third := func(_, _ any, err error) error { return err }
	spins := func(change func(*balance.Spins)) error {
		s := balance.Spins{Planes: wheelPlanes, TurnDeg: 180}
		change(&s)
		return second(balance.IndexBalance(s))
	}

	for _, c := range []struct {
		name    string
		try     func(v float64) error
		ok, bad []float64
	}{
		{"radius mm", func(v float64) error {
			return balance.Plane{RadiusMM: v}.Check("plane")
		}, []float64{50, 1500}, []float64{0, 49.9, 1500.1, -60}},
		{"offset mm", func(v float64) error {
			return balance.Plane{RadiusMM: 200, OffsetMM: v}.Check("plane")
		}, []float64{-2000, 2000}, []float64{-2000.1, 2000.1}},
		{"plane distance mm", func(v float64) error {
			planes := balance.Planes{Inner: balance.Plane{RadiusMM: 200}}
			planes.Outer = balance.Plane{RadiusMM: 200, OffsetMM: v}
			return planes.Check("planes")
		}, []float64{1, -1}, []float64{0, 0.99, -0.99}},
		{"weight of stock g", func(v float64) error {
			return chosen(func(p *balance.Problem) { p.Stock[0].MassG = v })
		}, []float64{0.1, 2000}, []float64{0, -1, 2000.1}},
		{"length of stock mm", func(v float64) error {
			return chosen(func(p *balance.Problem) { p.Stock[0].LengthMM = v })
		}, []float64{0, 500}, []float64{-0.1, 500.1}},
		{"segments", func(v float64) error {
			return chosen(func(p *balance.Problem) { p.Stock[0].MaxSegments = int(v) })
		}, []float64{0, 40}, []float64{-1, 41}},
		{"max mass g", func(v float64) error {
			return chosen(func(p *balance.Problem) { p.MaxMassG = v })
		}, []float64{0, 1, 4000}, []float64{-1, 4000.1}},
		{"max pieces", func(v float64) error {
			return chosen(func(p *balance.Problem) { p.MaxPieces = int(v) })
		}, []float64{0, 1, 12}, []float64{-1, 13}},
		{"limit g", func(v float64) error {
			return chosen(func(p *balance.Problem) { p.LimitStaticG = v })
		}, []float64{0, 2000}, []float64{-1, 2000.1}},
		{"slack g", func(v float64) error {
			return chosen(func(p *balance.Problem) { p.SlackG = v })
		}, []float64{0, 2000}, []float64{-1, 2000.1}},
		{"step deg", func(v float64) error {
			return place(func(p *balance.Place) { p.Spots, p.StepDeg = nil, v })
		}, []float64{0, 0.5, 90}, []float64{0.49, 90.1, -1}},
		{"pieces of a place", func(v float64) error {
			return place(func(p *balance.Place) { p.MaxPieces = int(v) })
		}, []float64{0, 1, 6}, []float64{-1, 7}},
		{"mass of a place g", func(v float64) error {
			return place(func(p *balance.Place) { p.MaxMassG = v })
		}, []float64{0, 1, 2000}, []float64{-1, 2000.1}},
		{"spots", func(v float64) error {
			return place(func(p *balance.Place) {
				p.Spots = slices.Repeat([]balance.Spot{{Deg: 180}}, int(v))
				p.MaxPieces = 1
			})
		}, []float64{1, 60}, []float64{61}},
		{"spot width mm", func(v float64) error {
			return place(func(p *balance.Place) { p.Spots[0].WidthMM = v })
		}, []float64{0, 500}, []float64{-1, 500.1}},
		{"length of a piece mm", func(v float64) error {
			return third(balance.Evaluate(oneOf(), []balance.Piece{{Place: "inner", MassG: 1, LengthMM: v}}))
		}, []float64{0, 500}, []float64{-1, 500.1}},
		{"mass of a piece g", func(v float64) error {
			return third(balance.Evaluate(oneOf(), []balance.Piece{{Place: "inner", MassG: v}}))
		}, []float64{0, 2000}, []float64{-1, 2000.1}},
		{"unbalance g mm", func(v float64) error {
			return chosen(func(p *balance.Problem) { p.Unbalance.Inner.GMM = v })
		}, []float64{0, 3e6}, []float64{-1, 3.01e6}},
		{"resolution g", func(v float64) error {
			return spins(func(s *balance.Spins) { s.ResolutionG = v })
		}, []float64{0, 100}, []float64{-1, 100.1}},
		{"resolution deg", func(v float64) error {
			return spins(func(s *balance.Spins) { s.ResolutionDeg = v })
		}, []float64{0, 45}, []float64{-1, 45.1}},
		{"turn deg", func(v float64) error {
			return spins(func(s *balance.Spins) { s.TurnDeg = v })
		}, []float64{20, 340, -20, 180}, []float64{19.9, 340.1, 0, 360, -19.9}},
		{"tolerance mm", func(v float64) error {
			return third(balance.HalfTurn(balance.FromMark, 0, 0, 300, v))
		}, []float64{1, 300}, []float64{0.9, 300.1}},
		{"density kg/m3", func(v float64) error {
			return worn(func(x *balance.Tread) { x.Density = v })
		}, []float64{500, 2500}, []float64{499.9, 2500.1}},
		{"land ratio", func(v float64) error {
			return worn(func(x *balance.Tread) { x.LandRatio = v })
		}, []float64{0.1, 1}, []float64{0.09, 1.01}},
		{"worn width mm", func(v float64) error {
			return worn(func(x *balance.Tread) { x.WidthMM = v })
		}, []float64{0, 1000}, []float64{-1, 1000.1}},
		{"wear amplitude mm", func(v float64) error {
			return third(balance.WearRound(tread, v, 0))
		}, []float64{0, 30}, []float64{-1, 30.1}},
		{"patch depth mm", func(v float64) error {
			return third(balance.WornPatch(tread, v, 100, 0))
		}, []float64{0, 40}, []float64{-1, 40.1}},
		{"patch length mm", func(v float64) error {
			return third(balance.WornPatch(tread, 1, v, 0))
		}, []float64{0, 600 * math.Pi}, []float64{-1, 600*math.Pi + 0.1}},
		{"flange lip mm", func(v float64) error {
			return second(balance.ClipsFor(v))
		}, []float64{0.5, 20}, []float64{0.49, 20.1}},
		{"run-out of a harmonic", func(v float64) error {
			return second(balance.MatchHarmonics(balance.Harmonic{Amplitude: v}, balance.Harmonic{}))
		}, []float64{0, 1e6}, []float64{-1, 1e6 + 1}},
		{"gap between places deg", func(v float64) error {
			return third(balance.Split(10, 0, 0, v))
		}, []float64{1, 179.9}, []float64{0, 180, 180.1, 359}},
		{"wanted angle between 0 and 90", func(v float64) error {
			return third(balance.Split(10, v, 0, 90))
		}, []float64{0, 90}, []float64{90.1, 359.9}},
		{"weight circle mm", func(v float64) error {
			return second(balance.GradeMass(40, 20, 650, v, 100))
		}, []float64{100, 3000}, []float64{0, 99.9, 3000.1}},
	} {
		for _, v := range c.ok {
			if err := c.try(v); err != nil {
				t.Errorf("%s of %g is refused: %v", c.name, v, err)
			}
		}
		for _, v := range slices.Concat(c.bad, []float64{math.NaN()}) {
			if c.name == "segments" || c.name == "max pieces" || c.name == "pieces of a place" || c.name == "spots" {
				if math.IsNaN(v) {
					continue // counts
				}
			}
			if err := c.try(v); !refused(err) {
				t.Errorf("%s of %g: %v, want a refusal", c.name, v, err)
			}
		}
	}
}

// TestFieldsAreNumberedFromOne: where one of several is wrong, the error names it by its
// number, the first being 1.
func TestFieldsAreNumberedFromOne(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	good := balance.Phasor{Amount: 1}
	bad := balance.Phasor{Amount: nan}

	chosen := func(change func(*balance.Problem)) error {
		p := openFlanges(wheelPlanes, fiveGrams(4))
		p.Stock = append(p.Stock, p.Stock[0])
		change(&p)
		_, err := balance.Choose(p)
		return err
	}
	trial := func(change func(*balance.TrialTest)) error {
		tt := balance.TrialTest{Planes: 2, AsIs: []balance.Phasor{{Amount: 5}, {Amount: 3, Deg: 40}},
			Runs: []balance.TrialRun{
				{Plane: 0, Weight: balance.Phasor{Amount: 10},
					Readings: []balance.Phasor{{Amount: 7, Deg: 10}, {Amount: 2, Deg: 50}}},
				{Plane: 1, Weight: balance.Phasor{Amount: 10},
					Readings: []balance.Phasor{{Amount: 4, Deg: 20}, {Amount: 6}}},
			}}
		change(&tt)
		_, err := balance.TrialWeights(tt)
		return err
	}
	positions := func(change func([]balance.PositionRun)) error {
		runs := []balance.PositionRun{{Deg: 0, Amplitude: 6}, {Deg: 120, Amplitude: 4}, {Deg: 240, Amplitude: 5}}
		change(runs)
		_, err := balance.TrialPositions(balance.PositionTest{AsIs: 5, TrialG: 10, Runs: runs})
		return err
	}
	correct := func(coefficients [][]balance.Phasor, readings ...balance.Phasor) error {
		_, err := balance.Correct(coefficients, readings)
		return err
	}
	_, _, piece := balance.Evaluate(oneOf(), []balance.Piece{{Place: "inner"}, {Place: "elsewhere"}})
	_, _, harmonic := balance.FirstHarmonic([]float64{1, nan, 3})
	_, _, lump := balance.Resolve(wheelPlanes, balance.Lump{RadiusMM: 200}, balance.Lump{RadiusMM: 200, MassG: nan})

	for _, c := range []struct {
		name  string
		err   error
		field string
	}{
		{"the second piece", piece, "piece 2"},
		{"the second reading", harmonic, "reading 2"},
		{"the second spot of unbalance", lump, "spot 2"},
		{"the second weight", chosen(func(p *balance.Problem) { p.Stock[1].MassG = nan }), "stock 2 ("},
		{"the second place", chosen(func(p *balance.Problem) { p.Places[1].Kind = "glue" }), "place 2 (outer"},
		{"a name used twice", chosen(func(p *balance.Problem) { p.Places[1].Name = p.Places[0].Name }), "place 2 name"},
		{"a run that changes nothing", trial(func(tt *balance.TrialTest) { tt.Runs[1].Readings = tt.AsIs }),
			"run 2 change"},
		{"the plane of a run", trial(func(tt *balance.TrialTest) { tt.Runs[1].Plane = 2 }), "run 2 plane"},
		{"a plane below none", trial(func(tt *balance.TrialTest) { tt.Runs[1].Plane = -1 }), "run 2 plane"},
		{"the weight of a run", trial(func(tt *balance.TrialTest) { tt.Runs[1].Weight.Amount = 0 }), "run 2 weight"},
		{"a reading of a run", trial(func(tt *balance.TrialTest) { tt.Runs[1].Readings[1] = bad }), "run 2 reading 2"},
		{"a reading below zero", trial(func(tt *balance.TrialTest) { tt.AsIs[1].Amount = -1 }), "reading as found 2"},
		{"the second amplitude", positions(func(r []balance.PositionRun) { r[1].Amplitude = nan }), "amplitude 2"},
		{"the second position", positions(func(r []balance.PositionRun) { r[1].Deg = nan }), "position 2"},
		{"the second coefficient", correct([][]balance.Phasor{{good, bad}, {good, good}}, good, good),
			"coefficient 1 2"},
		{"the second row", correct([][]balance.Phasor{{good}, {bad}}, good, good), "coefficient 2 1"},
		{"a row too short", correct([][]balance.Phasor{{good, good}, {good}}, good, good), "coefficients of reading 2"},
		{"no plane at all", correct([][]balance.Phasor{{}}, good), "coefficients of reading 1"},
		{"no coefficients", correct(nil), "readings"},
		{"a reading too many", correct([][]balance.Phasor{{good}}, good, good), "readings"},
	} {
		var in *badinput.Error
		if !errors.As(c.err, &in) || !strings.HasPrefix(in.Field, c.field) {
			t.Errorf("%s: %v, want an error at %s", c.name, c.err, c.field)
		}
	}

	if err := trial(func(tt *balance.TrialTest) { tt.Runs[1].Plane = 2 }); !strings.Contains(err.Error(), "0 to 1") {
		t.Errorf("%v does not say which planes there are", err)
	}

	// Spots without a name are numbered likewise.
	p := oneOf()
	p.Places[0].Spots = []balance.Spot{{Deg: 90}, {Deg: 180}}
	p.Places[0].MaxPieces = 1
	if got, err := balance.Choose(p); err != nil || len(got.Pieces) != 1 || got.Pieces[0].Spot != "spot 2" {
		t.Errorf("%+v, %v, want a piece on spot 2", got.Pieces, err)
	}
}

// TestPlanesOfATest: one to eight planes.
func TestPlanesOfATest(t *testing.T) {
	t.Parallel()
	for planes, want := range map[int]error{0: balance.ErrOutOfRange, 1: nil, 8: nil, 9: balance.ErrOutOfRange} {
		tt := balance.TrialTest{Planes: planes}
		for k := range planes {
			tt.AsIs = append(tt.AsIs, balance.Phasor{Amount: 1})
			run := balance.TrialRun{Plane: k, Weight: balance.Phasor{Amount: 1}}
			for j := range planes {
				r := balance.Phasor{Amount: 1}
				if j == k {
					r.Amount = 2
				}
				run.Readings = append(run.Readings, r)
			}
			tt.Runs = append(tt.Runs, run)
		}
		if _, err := balance.TrialWeights(tt); !errors.Is(err, want) {
			t.Errorf("%d planes: %v, want %v", planes, err, want)
		}
	}
}

// TestWeakTrial: a trial weight should change a reading by 30 % or by 30 degrees (common
// practice, no source); one reading that is changed so much is enough, in every run.
func TestWeakTrial(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		amount, deg float64
		weak        bool
	}{
		{13.001, 0, false}, {12.99, 0, true}, {6.999, 0, false}, {7.01, 0, true}, {10, 30.001, false},
		{10, 29.99, true}, {10, -30.001, false}, {10, -29.99, true}, {12, 20, true},
	} {
		tt := balance.TrialTest{Planes: 1, AsIs: []balance.Phasor{{Amount: 10, Deg: 40}, {Amount: 10, Deg: 40}},
			Runs: []balance.TrialRun{{Weight: balance.Phasor{Amount: 5}, Readings: []balance.Phasor{
				{Amount: c.amount, Deg: 40 + c.deg}, {Amount: 10.1, Deg: 40}}}}}
		if got, err := balance.TrialWeights(tt); err != nil || got.Weak != c.weak {
			t.Errorf("10 at 40° becomes %g at %g°: weak %v, %v; want %v", c.amount, 40+c.deg, got.Weak, err, c.weak)
		}
	}

	// The first of two runs is weak.
	tt := balance.TrialTest{Planes: 2, AsIs: []balance.Phasor{{Amount: 10}, {Amount: 10}}, Runs: []balance.TrialRun{
		{Plane: 0, Weight: balance.Phasor{Amount: 5}, Readings: []balance.Phasor{{Amount: 11}, {Amount: 10}}},
		{Plane: 1, Weight: balance.Phasor{Amount: 5}, Readings: []balance.Phasor{{Amount: 10}, {Amount: 20}}},
	}}
	got, err := balance.TrialWeights(tt)
	if err != nil || !got.Weak {
		t.Errorf("weak %v, %v; the first run changed a reading by a tenth", got.Weak, err)
	}

	// The readings call for 10/0.2 and 10/2 on the other side, nothing is left, and the
	// condition is the ratio of both effects.
	near(t, "first weight", got.Weights[0].Amount, 50, 1e-9)
	near(t, "second weight", got.Weights[1].Amount, 5, 1e-9)
	near(t, "condition", got.Condition, 10, 1e-9)
	near(t, "left", got.RMS, 0, 1e-9)
}

// TestLeastSquaresLeaves: two readings of 3 and 4i that one plane moves alike: the mean
// (1.5 + 2i) goes, and what is left is half the difference, 1.5 - 2i and its opposite, each
// of amount 2.5 (by hand).
func TestLeastSquaresLeaves(t *testing.T) {
	t.Parallel()
	got, err := balance.Correct([][]balance.Phasor{{{Amount: 1}}, {{Amount: 1}}},
		[]balance.Phasor{{Amount: 3}, {Amount: 4, Deg: 90}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "weight", got.Weights[0].Amount, 2.5, 1e-9)
	near(t, "first left", got.Predicted[0].Amount, 2.5, 1e-9)
	near(t, "second left", got.Predicted[1].Amount, 2.5, 1e-9)
	near(t, "rms", got.RMS, 2.5, 1e-9)
	near(t, "condition", got.Condition, 1, 1e-9)
}

// TestSpreadOfPositions: three positions of a turn whose smallest singular value is 2 % of
// the largest are the closest that are taken. For -x, 0 and x degrees the matrix of 1, cos
// and sin parts into sin with √2 sin x and a 2 by 2 block, whose singular values follow from
// its trace and determinant.
func TestSpreadOfPositions(t *testing.T) {
	t.Parallel()
	share := func(deg float64) float64 {
		c := math.Cos(deg * math.Pi / 180)
		// Of 1 and cos: the sums of squares 3 and 1 + 2c², the sum of products 1 + 2c.
		trace, det := 4+2*c*c, 3*(1+2*c*c)-(1+2*c)*(1+2*c)
		root := math.Sqrt(trace*trace/4 - det)
		return math.Sqrt((trace/2 - root) / (trace/2 + root))
	}
	edge := 0.0
	for share(edge) < 0.02 {
		edge += 0.01
	}

	for deg, want := range map[float64]error{edge - 0.1: balance.ErrPositions, edge + 0.1: nil} {
		test := balance.PositionTest{AsIs: 5, TrialG: 10}
		for _, d := range []float64{-deg, 0, deg} {
			rad := (d - 50) * math.Pi / 180
			test.Runs = append(test.Runs, balance.PositionRun{Deg: d,
				Amplitude: math.Hypot(5+2*math.Cos(rad), 2*math.Sin(rad))})
		}
		if _, err := balance.TrialPositions(test); !errors.Is(err, want) {
			t.Errorf("positions %g degrees apart: %v, want %v", deg, err, want)
		}
	}
}

// TestWideSpans: where there is no spot for more than 100 degrees, a note says so; a single
// spot leaves a whole turn.
func TestWideSpans(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		degs []float64
		want []float64
	}{
		{[]float64{180, 280, 20, 100}, nil},
		{[]float64{180, 281, 20, 100}, []float64{101}},
		{[]float64{180, 281, 360 + 30, 100}, []float64{101, 109}},
		{[]float64{180}, []float64{360}},
	} {
		p := oneOf()
		p.Places[0].MaxPieces, p.Places[0].Spots = 1, nil
		for _, d := range c.degs {
			p.Places[0].Spots = append(p.Places[0].Spots, balance.Spot{Deg: turn(d)})
		}
		got, err := balance.Choose(p)
		if err != nil {
			t.Fatal(err)
		}
		var spans []float64
		for _, n := range got.Notes {
			spans = append(spans, n.Given)
		}
		slices.Sort(spans)
		if !slices.Equal(spans, c.want) {
			t.Errorf("spots at %v: notes of %v, want %v", c.degs, spans, c.want)
		}
	}
}

// TestBlockedArcs: where a piece goes on a circle that is blocked in part. A point fits at
// the edge of an arc, a piece of some length half of it away from there; an arc from 0 to
// 360 blocks all, also when it begins elsewhere.
func TestBlockedArcs(t *testing.T) {
	t.Parallel()
	perDeg := wheelPlanes.Inner.RadiusMM * math.Pi / 180

	for _, c := range []struct {
		name    string
		arc     balance.Arc
		length  float64 // degrees that the piece covers
		width   float64 // mm behind the spot
		fits    bool
		openDeg float64
	}{
		{"free", balance.Arc{FromDeg: 0, ToDeg: 90}, 20, 0, true, 0},
		{"just inside the arc", balance.Arc{FromDeg: 179, ToDeg: 200}, 0, 0, false, 0},
		{"at its beginning", balance.Arc{FromDeg: 180, ToDeg: 200}, 0, 0, true, 0},
		{"at its end", balance.Arc{FromDeg: 160, ToDeg: 180}, 0, 0, true, 0},
		{"ten degrees off, of twenty", balance.Arc{FromDeg: 190, ToDeg: 200}, 20, 0, true, 0},
		{"nine degrees off, of twenty", balance.Arc{FromDeg: 189, ToDeg: 200}, 20, 0, false, 0},
		{"nine degrees before, of twenty", balance.Arc{FromDeg: 160, ToDeg: 171}, 20, 0, false, 0},
		{"over zero", balance.Arc{FromDeg: 300, ToDeg: 175}, 12, 0, false, 0},
		{"over zero, with room", balance.Arc{FromDeg: 300, ToDeg: 174}, 12, 0, true, 0},
		{"a full turn from 0", balance.Arc{FromDeg: 0, ToDeg: 360}, 0, 0, false, 0},
		{"a full turn from 90", balance.Arc{FromDeg: 90, ToDeg: 450}, 0, 0, false, 0},
		{"all but a degree", balance.Arc{FromDeg: 180.5, ToDeg: 539.5}, 0, 0, true, 0},
		{"as wide as the spoke", balance.Arc{}, 20, 20 * perDeg, true, 0},
		{"wider than the spoke", balance.Arc{}, 20, 19.9 * perDeg, false, 0},
	} {
		p := oneOf()
		p.Stock[0].LengthMM = c.length * perDeg
		p.Places[0].Spots[0].WidthMM = c.width
		if c.arc != (balance.Arc{}) {
			p.Places[0].Blocked = []balance.Arc{c.arc}
		}
		_, err := balance.Choose(p)
		if fits := err == nil; fits != c.fits {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// TestOpenCircleSteps: on an open circle the steps count from the exact angle, 5 degrees
// where none is given; the exact angle blocked, the next one is taken.
func TestOpenCircleSteps(t *testing.T) {
	t.Parallel()

	for step, want := range map[float64]float64{0: 5, 2: 2, 7.5: 7.5} {
		p := oneOf()
		p.Unbalance = balance.HalfEach(balance.Mass(20, 200, 33))
		p.Places[0].Spots, p.Places[0].StepDeg = nil, step
		p.Places[0].Blocked = []balance.Arc{{FromDeg: 212.9, ToDeg: 213.1}}
		got, err := balance.Choose(p)
		if err != nil || len(got.Pieces) != 1 {
			t.Fatalf("%+v, %v", got.Pieces, err)
		}
		off := math.Abs(got.Pieces[0].Deg - 213)
		near(t, fmt.Sprintf("step %g", step), off, want, 1e-9)
	}
}

// TestHalfTurnEdges: 101.6 mm on a radius of 300 mm are 101.6/(300 π) of a half turn,
// 19.404 degrees.
func TestHalfTurnEdges(t *testing.T) {
	t.Parallel()
	const reach = 101.6 / 300 * 180 / math.Pi
	for gap, want := range map[float64]balance.HalfTurnFault{0: balance.FaultTire, reach - 0.01: balance.FaultTire,
		reach + 0.01: balance.FaultUnsure, 180 - reach - 0.01: balance.FaultUnsure,
		180 - reach + 0.01: balance.FaultWheel, 180: balance.FaultWheel} {
		for _, sign := range []float64{1, -1} {
			got, _, err := balance.HalfTurn(balance.FromMark, 70, 70+sign*gap, 300, 101.6)
			if err != nil || got != want {
				t.Errorf("high spots %g degrees apart: %s, %v; want %s", sign*gap, got, err, want)
			}
		}
	}
}

// TestAngleNotes: 0 to 360 are angles as they are, what is beyond is noted.
func TestAngleNotes(t *testing.T) {
	t.Parallel()
	for deg, want := range map[float64]int{0: 0, 360: 0, 360.1: 1, -0.1: 1, 180: 0} {
		_, notes, err := balance.WearRound(balance.Tread{Density: 1150, LandRatio: 0.7, RadiusMM: 300}, 1, deg)
		if err != nil || len(notes) != want {
			t.Errorf("%g degrees: notes %v, %v; want %d", deg, notes, err, want)
		}
	}
}

// TestUnitsOfLimits: grams, millimetres and newtons are compared as they are, an ounce is
// 28.349523125 g and an inch 25.4 mm, exact by definition.
func TestUnitsOfLimits(t *testing.T) {
	t.Parallel()
	for unit, want := range map[string]float64{"g": 2, "oz": 56.69904625, "mm": 2, "in": 50.8, "N": 2} {
		near(t, unit, balance.Limit{Value: 2, Unit: unit}.Base(), want, 1e-12)
	}

	for _, l := range balance.Limits() {
		same := balance.LimitsFor(l.Rotor, l.Quantity)
		for _, q := range same {
			if q.Rotor != l.Rotor || q.Quantity != l.Quantity {
				t.Errorf("limits of %s, %s hold %s", l.Rotor, l.Quantity, q.ID)
			}
		}
		found := slices.ContainsFunc(same, func(q balance.Limit) bool { return q.ID == l.ID })
		if !found || l.Source == "" || l.Status == "" {
			t.Errorf("%+v is not found, or has no source", l)
		}
	}
}

// TestClipRows: the lips and gaps of each type, mm (SAE J1986:2016, second-hand).
func TestClipRows(t *testing.T) {
	t.Parallel()
	for _, c := range []balance.ClipFit{
		{Type: "C", LipMinMM: 2.0, LipMaxMM: 2.7, WeightGapMin: 1.6, WeightGapMax: 2.0},
		{Type: "P", LipMinMM: 2.7, LipMaxMM: 3.3, WeightGapMin: 2.0, WeightGapMax: 2.4},
		{Type: "T", LipMinMM: 3.4, LipMaxMM: 4.6, WeightGapMin: 2.7, WeightGapMax: 3.1},
		{Type: "MC", LipMinMM: 5.0, LipMaxMM: 6.0, WeightGapMin: 4.1, WeightGapMax: 4.5},
	} {
		fits, err := balance.ClipsFor((c.LipMinMM + c.LipMaxMM) / 2)
		if err != nil || len(fits) != 1 {
			t.Fatalf("%s: %+v, %v", c.Type, fits, err)
		}
		c.Status, c.Source = "F2", fits[0].Source
		if fits[0] != c || !strings.Contains(c.Source, "J1986") {
			t.Errorf("got %+v, want %+v", fits[0], c)
		}
	}
}

// TestChooseEqualsShortExhaustiveSearch: what the long test does, on a few problems that
// are always the same and small.
func TestChooseEqualsShortExhaustiveSearch(t *testing.T) {
	t.Parallel()
	tried := 0

	for seed := range 250 {
		p := rapid.Custom(smallProblem).Example(seed)
		e := newExhaustive(p)
		if len(e.sets) > 36 || len(e.sets) < 8 {
			continue
		}
		got, err := balance.Choose(p)
		if errors.Is(err, balance.ErrNoPlace) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}

		tried++
		wide, narrow := e.best(t, p.SlackG+1e-6), e.best(t, p.SlackG-1e-6)
		if p.SlackG == 0 {
			narrow = e.best(t, 1e-12)
		}
		switch {
		case got.Left.Meets != wide.meets:
			t.Errorf("%d: meets the limits: %v, exhaustive search %v", seed, got.Left.Meets, wide.meets)
		case got.Left.ScoreG > wide.score+p.SlackG+1e-6:
			t.Errorf("%d: leaves %g g, the least is %g g", seed, got.Left.ScoreG, wide.score)
		case wide.mass == narrow.mass && math.Abs(got.Left.MassG-wide.mass) > 1e-6:
			t.Errorf("%d: weighs %g g, exhaustive search %g g", seed, got.Left.MassG, wide.mass)
		case wide.mass == narrow.mass && wide.pieces == narrow.pieces && got.Left.Pieces != wide.pieces:
			t.Errorf("%d: %d pieces, exhaustive search %d", seed, got.Left.Pieces, wide.pieces)
		}
		if (got.Advice == nil) != got.Left.Meets {
			t.Errorf("%d: advice %v with limits met %v", seed, got.Advice, got.Left.Meets)
		}
		for _, w := range got.Pieces {
			if want := stockLength(p, w); math.Abs(w.LengthMM-want) > 1e-9 {
				t.Errorf("%d: %+v is %g mm long, want %g", seed, w, w.LengthMM, want)
			}
		}
	}

	if tried < 40 {
		t.Errorf("only %d problems", tried)
	}
}

// stockLength is how long a piece is by the stock.
func stockLength(p balance.Problem, w balance.Piece) float64 {
	for _, s := range p.Stock {
		if s.Name == w.Weight {
			return s.LengthMM * float64(max(1, w.Segments))
		}
	}
	return -1
}

// TestRoundedByHand: the exact weight is split between the two spots next to it by the sine
// rule and each part rounded to the nearest size of the stock (5 to 40 g by 5): 30 g wanted
// at 40 degrees between 0 and 90 is 30 sin 50 = 22.98 and 30 sin 40 = 19.28, so 25 and 20 g.
func TestRoundedByHand(t *testing.T) {
	t.Parallel()
	p := balance.Problem{
		Measured: wheelPlanes, Mode: balance.Static, Unbalance: balance.HalfEach(balance.Mass(30, 200, 220)),
		Places: []balance.Place{{Name: "inner", Kind: balance.Clip, Plane: wheelPlanes.Inner,
			Spots: []balance.Spot{{Name: "c", Deg: 270}, {Name: "a"}, {Name: "d", Deg: 180}, {Name: "b", Deg: 90}}}},
	}
	p.Places[0].Plane.RadiusMM = 200
	for g := 5.0; g <= 40; g += 5 {
		p.Stock = append(p.Stock, balance.Weight{Name: fmt.Sprint(g), Kind: balance.Clip, MassG: g})
	}

	rounded := func() map[string]float64 {
		t.Helper()
		got, err := balance.Choose(p)
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]float64{}
		for _, w := range got.Rounded.Pieces {
			out[w.Spot] = w.MassG
		}
		return out
	}

	if got := rounded(); len(got) != 2 || got["a"] != 25 || got["b"] != 20 {
		t.Errorf("between two spots: %v, want 25 at a and 20 at b", got)
	}
	p.Places[0].Spots = p.Places[0].Spots[1:3] // half a turn apart: the nearer takes all
	if got := rounded(); len(got) != 1 || got["a"] != 30 {
		t.Errorf("half a turn apart: %v, want 30 at a", got)
	}
	p.Unbalance = balance.HalfEach(balance.Mass(30, 200, 330)) // wanted at 150
	if got := rounded(); len(got) != 1 || got["d"] != 30 {
		t.Errorf("half a turn apart: %v, want 30 at d", got)
	}
	p.Unbalance = balance.HalfEach(balance.Mass(2, 200, 330))
	if got := rounded(); len(got) != 0 {
		t.Errorf("2 g: %v, want none, which is nearer than 5 g", got)
	}
}
