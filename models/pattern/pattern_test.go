package pattern_test

import (
	"encoding/json"
	"errors"
	"math"
	"math/cmplx"
	"os"
	"slices"
	"testing"

	"rimledger/models/pattern"
	"rimledger/models/vibration"
)

var hole = math.NaN()

// The patterns of the trade. Sources in row names: army = army tire manual; car
// = car maker's workshop manual; truck = truck tire trade guides; practice =
// common practice, no source; derived = from gauge noise; rib profiles = ASTM J.
// Testing & Eval. 22(1) 1994. Numbers in mm are chosen by us.
func TestPatterns(t *testing.T) {
	t.Parallel()
	obs := func(o ...pattern.Observation) pattern.Tread {
		tr := tread([]float64{6}, []float64{6}, []float64{6})
		tr.Observations = o
		return tr
	}

	eight := func(worn func(float64) float64) pattern.Tread {
		return tread(around(8, 10, worn), even(8, 6), even(8, 6))
	}

	spot := func(t float64) float64 {
		if t == 0 {
			return 6
		}
		return 4
	}

	for _, c := range []struct {
		name     string
		tread    pattern.Tread
		key      string // "" for none
		severity pattern.Severity
	}{
		{"cupping: two dips of 2.5 mm (truck)", eight(cups(4, 2.5, 2, 0)), pattern.Cupping, pattern.Moderate},
		{"cupping: three dips of 3.4 mm (truck)", eight(cups(4, 3.4, 3, 0)), pattern.Cupping, pattern.Severe},
		{"cupping: hand count is enough (practice)", obs(pattern.Observation{Code: "cupping", Count: 9}),
			pattern.Cupping, pattern.Mild},
		{"one dip by hand is a flat spot (practice)", obs(pattern.Observation{Code: "cupping", Count: 1}),
			pattern.FlatSpot, pattern.Mild},
		{"one station low, others alike (truck)", eight(spot), pattern.FlatSpot, pattern.Mild},
		{"one side of the tire more worn (rib profiles)", eight(cups(4, 2.5, 1, 1)), pattern.OncePerTurn,
			pattern.Moderate},
		{"outer shoulder 1.6 mm: watch (car)", tread(even(3, 4.4), even(3, 5.5), even(3, 6)), pattern.ShoulderOneSide,
			pattern.Watch},
		{"inner shoulder 2.4 mm: act (car)", tread(even(3, 6), even(3, 5.5), even(3, 3.6)), pattern.ShoulderOneSide,
			pattern.Moderate},
		{"both shoulders 1.6 mm (army)", tread(even(3, 4.4), even(3, 6), even(3, 4.4)), pattern.ShoulderBoth,
			pattern.Watch},
		{"center 1.6 mm (army)", tread(even(3, 6), even(3, 4.4), even(3, 6)), pattern.Center, pattern.Watch},
		{"an inner rib low all round (truck)", tread(even(3, 6), even(3, 4), even(3, 6), even(3, 6)),
			pattern.RibDepression, pattern.Watch},
		{"feather (car)", obs(pattern.Observation{Code: "feathering", Direction: "inward"}), pattern.Feather,
			pattern.Mild},
		{"heel and toe, 0.8 mm: watch (truck)", obs(pattern.Observation{Code: "heel_toe", SizeMM: 0.8}),
			pattern.HeelToe, pattern.Watch},
		{"heel and toe, 2.4 mm: act (truck)", obs(pattern.Observation{Code: "heel_toe", SizeMM: 2.4}), pattern.HeelToe,
			pattern.Moderate},
		{"diagonal (truck)", obs(pattern.Observation{Code: "diagonal"}), pattern.Diagonal, pattern.Mild},
		{"erosion below 1/16 in: no action (army)", obs(pattern.Observation{Code: "erosion", SizeMM: 1}),
			pattern.Erosion, pattern.Watch},
		{"erosion of 1/16 in: move to drive (army)", obs(pattern.Observation{Code: "erosion", SizeMM: 1.6}),
			pattern.Erosion, pattern.Mild},
		{"shoulder step: not harmful (truck)", obs(pattern.Observation{Code: "shoulder_step"}), pattern.ShoulderStep,
			pattern.Watch},
		{"local depression (truck)", obs(pattern.Observation{Code: "depression_local"}), pattern.DepressionLocal,
			pattern.Mild},
		{"alternate lug 1.6 mm (truck)", obs(pattern.Observation{Code: "alternate_lug", SizeMM: 1.6}),
			pattern.AlternateLug, pattern.Watch},
		{"bulge: off the road (car)", obs(pattern.Observation{Code: "bulge"}), pattern.Separation, pattern.Severe},
		{"even tread", tread(even(8, 6), even(8, 6), even(8, 6)), "", ""},
		{"a spread of 1/32 in is gauge error (derived)",
			tread([]float64{8 * pattern.Step, 9 * pattern.Step, 8 * pattern.Step}), "", ""},
		{"molded shallower at the shoulder is no wear (practice)", pattern.Tread{
			DepthsMM: grid(even(3, 4), even(3, 6), even(3, 4)), NewMM: []float64{8, 10, 8}}, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := pattern.Read(pattern.Input{Tread: c.tread, Confirmed: true})
			if err != nil {
				t.Fatal(err)
			}

			if c.key == "" {
				if len(got.Patterns) != 0 {
					t.Fatalf("patterns %+v, want none", got.Patterns)
				}
				return
			}

			if len(got.Patterns) != 1 || got.Patterns[0].Key != c.key || got.Patterns[0].Severity != c.severity {
				t.Errorf("patterns %+v, want %s %s", got.Patterns, c.key, c.severity)
			}
		})
	}
}

// What readings can prove around the tire. Thresholds derived from gauge noise; their
// severities are chosen by us.
func TestAround(t *testing.T) {
	t.Parallel()
	three := tread(around(3, 10, cups(4, 2, 3, 0)))
	felt := three
	felt.Observations = []pattern.Observation{{Code: "cupping", Count: 3}}

	for _, c := range []struct {
		name      string
		tread     pattern.Tread
		confirmed bool
		around    pattern.Around
		severity  pattern.Severity // of the first pattern
		wanted    string           // code of one request
	}{
		{"one station says nothing", tread([]float64{6}), false, pattern.AroundNotRead, "", "three_stations"},
		{"three stations and three cups: spread 0, not proven", three, false, pattern.AroundNotProven, "", ""},
		{"the hand finds what three stations miss", felt, false, pattern.AroundUneven, pattern.Mild, "eight_stations"},
		{"eight stations alike and smooth to the hand: even", smooth(tread(even(8, 6))), false, pattern.AroundEven, "",
			""},
		{"eight stations alike: eight cups look the same", tread(even(8, 6)), false, pattern.AroundNotProven, "", ""},
		{"seven stations alike and smooth", smooth(tread(even(7, 6))), false, pattern.AroundNotProven, "", ""},
		{"2/32 in once: measure again", tread([]float64{8 * pattern.Step, 6 * pattern.Step, 8 * pattern.Step}), false,
			pattern.AroundUneven, pattern.Watch, "remeasure"},
		{"2/32 in confirmed: mild", tread([]float64{8 * pattern.Step, 6 * pattern.Step, 8 * pattern.Step}), true,
			pattern.AroundUneven, pattern.Mild, "eight_stations"},
		{"3/32 in: moderate", tread([]float64{8 * pattern.Step, 5 * pattern.Step, 8 * pattern.Step}), true,
			pattern.AroundUneven, pattern.Moderate, "eight_stations"},
		{"4/32 in: severe", tread([]float64{8 * pattern.Step, 4 * pattern.Step, 8 * pattern.Step}), true,
			pattern.AroundUneven, pattern.Severe, "eight_stations"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := pattern.Read(pattern.Input{Tread: c.tread, Confirmed: c.confirmed})
			if err != nil {
				t.Fatal(err)
			}
			if got.Around != c.around {
				t.Errorf("around %s, want %s", got.Around, c.around)
			}

			first := pattern.Severity("")
			if len(got.Patterns) > 0 {
				first = got.Patterns[0].Severity
			}
			if first != c.severity {
				t.Errorf("patterns %+v, want severity %q", got.Patterns, c.severity)
			}

			if c.wanted != "" && !asksFor(got, c.wanted) {
				t.Errorf("wanted %+v, want %s", got.Wanted, c.wanted)
			}
			if most := (got.Stations - 1) / 2; len(got.Harmonics) != most {
				t.Errorf("%d harmonics of %d stations, want %d", len(got.Harmonics), got.Stations, most)
			}
		})
	}
}

// smooth is a tread on which the hand found no cups.
func smooth(t pattern.Tread) pattern.Tread { return found(t, pattern.Observation{Code: "smooth"}) }

// asksFor reports whether a request with code is among the wanted readings.
func asksFor(r pattern.Result, code string) bool {
	return slices.ContainsFunc(r.Wanted, func(q pattern.Request) bool { return q.Code == code })
}

// Published discrete Fourier transforms: a manual, course notes, an
// encyclopedia. A complex series is the sum of two real ones.
func TestHarmonicsAgainstPublished(t *testing.T) {
	t.Parallel()
	raw, err := os.ReadFile("../../testdata/worked/dft.json")
	if err != nil {
		t.Fatal(err)
	}

	var doc struct {
		Pairs []struct {
			In  [][2]float64 `json:"x"`
			Out [][2]float64 `json:"X"`
		}
	}
	if err := json.Unmarshal(raw, &doc); err != nil || len(doc.Pairs) == 0 {
		t.Fatal(err, len(doc.Pairs))
	}

	for i, p := range doc.Pairs {
		k := len(p.In)
		coefficient := func(part, n int) complex128 {
			w := make([]*float64, k)
			for j := range p.In {
				w[j] = &p.In[j][part]
			}

			hs, err := pattern.Harmonics(w)
			if err != nil {
				t.Fatal(err)
			}

			scale := float64(k) / 2
			if 2*n == k {
				scale *= 2
			}

			return cmplx.Rect(hs[n-1].AmplitudeMM*scale, -hs[n-1].AngleDeg*float64(n)*math.Pi/180)
		}

		for n := 1; n <= k/2; n++ {
			got := coefficient(0, n) + 1i*coefficient(1, n)
			want := complex(p.Out[n][0], p.Out[n][1])
			if cmplx.Abs(got-want) > 1e-12 {
				t.Errorf("pair %d, X[%d] = %v, want %v", i, n, got, want)
			}
		}
	}
}

// With stations missing the first harmonic is found by least squares: exact on
// a series that has no other.
func TestHarmonicsWithHoles(t *testing.T) {
	t.Parallel()
	w := around(12, 0, func(t float64) float64 { return -3 - 0.5*math.Cos(t-math.Pi/3) })
	w[2], w[7], w[8] = hole, hole, hole
	hs, err := pattern.Harmonics(grid(w)[0])
	if err != nil || math.Abs(hs[0].AmplitudeMM-0.5) > 1e-9 || math.Abs(hs[0].AngleDeg-60) > 1e-6 ||
		hs[1].AmplitudeMM > 1e-9 {
		t.Errorf("%+v, %v; want 0.5 mm at 60 degrees", hs, err)
	}
}

// What uneven wear weighs (derived by hand from U = ρ s b r² A π; rim mass in
// whole grams), and the case w = 3 + 0.5 cos θ on eight stations.
func TestWearUnbalance(t *testing.T) {
	t.Parallel()
	car := pattern.Wheel{Class: vibration.Car, WidthMM: 180, RadiusMM: 310, RimRadiusMM: 203}
	truck := pattern.Wheel{Class: vibration.Heavy, WidthMM: 210, RadiusMM: 510, RimRadiusMM: 286}
	quarter := car
	quarter.WidthMM /= 4

	for _, c := range []struct {
		wheel    pattern.Wheel
		a1, want float64
	}{
		{car, 0.25, 54}, {car, 0.5, 108}, {car, 1, 215}, {quarter, 1, 215.0 / 4},
		{truck, 0.25, 129}, {truck, 0.5, 259}, {truck, 1, 517},
	} {
		got, err := pattern.WearUnbalance(c.a1, 0, c.wheel)
		if err != nil || math.Abs(got.GramsAtRim-c.want) > 1 {
			t.Errorf("%s A1 %g: %.1f g, %v; want %.0f", c.wheel.Class, c.a1, got.GramsAtRim, err, c.want)
		}
	}

	got, err := pattern.Read(pattern.Input{Tread: smooth(tread(around(8, 10, cups(3, 1, 1, 0)))), Wheel: car,
		ResolutionMM: 0.1})
	if err != nil || got.Missing == nil || math.Abs(got.Missing.GramsAtRim-108) > 1 ||
		math.Abs(got.Harmonics[0].AmplitudeMM-0.5) > 1e-9 {
		t.Errorf("%+v, %v; want A1 0.5 mm, 108 g", got, err)
	}

	if _, ok := got.Find(pattern.OncePerTurn); !ok {
		t.Errorf("patterns %+v, want once per turn", got.Patterns)
	}
}

// Mates: the other end of the axle, the other dual (4/32 in, published), and
// the last visit: 2/32 in from gauge noise (derived), 1.0 mm more for another gauge
// (ASNT gauge study, 2025).
func TestMates(t *testing.T) {
	t.Parallel()
	mate := func(depth float64) *pattern.Tread { m := tread(even(8, depth)); return &m }
	visit := func(depth float64, other bool) *pattern.Visit {
		return &pattern.Visit{Tread: *mate(depth), OtherGauge: other}
	}

	for _, c := range []struct {
		name  string
		in    pattern.Input
		alike bool
		asks  bool
	}{
		{"both ends alike", pattern.Input{AxleMate: mate(6)}, true, false},
		{"one end 2 mm lower", pattern.Input{AxleMate: mate(8)}, false, false},
		{"duals 4/32 in apart are within the limit", pattern.Input{DualMate: mate(6 + 4*pattern.Step)}, true, false},
		{"duals 5/32 in apart are not", pattern.Input{DualMate: mate(6 + 5*pattern.Step)}, false, false},
		{"less than last time", pattern.Input{Previous: visit(6.5, false)}, true, false},
		{"1/32 in more than last time is noise", pattern.Input{Previous: visit(6-pattern.Step, false)}, true, false},
		{"2/32 in more than last time: wrong position, tire or unit",
			pattern.Input{Previous: visit(6-2*pattern.Step, false)}, false, true},
		{"by another gauge 1.0 mm is added", pattern.Input{Previous: visit(6-2*pattern.Step, true)}, true, false},
		{"9/32 after 6/32", pattern.Input{Previous: visit(6-3*pattern.Step, false)}, false, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.in.Tread = tread(even(8, 6))
			got, err := pattern.Read(c.in)
			if err != nil {
				t.Fatal(err)
			}

			asks := asksFor(got, "check_entry")
			if got.Mates[0].Alike != c.alike || asks != c.asks {
				t.Errorf("%+v, asks %v; want alike %v, asks %v", got.Mates[0], asks, c.alike, c.asks)
			}
		})
	}
}

// A lone station 2/32 in lower that was not read twice is watched and asked for
// again, and is no evidence of a flat spot (chosen by us, from gauge noise).
func TestDoubtfulDip(t *testing.T) {
	t.Parallel()
	row := even(8, 6)
	row[3] -= 2 * pattern.Step
	in := pattern.Input{Tread: tread(row)}

	for _, confirmed := range []bool{false, true} {
		in.Confirmed = confirmed
		a, err := pattern.Causes(in)
		if err != nil {
			t.Fatal(err)
		}
		p, ok := a.Result.Find(pattern.FlatSpot)
		if !ok || (p.Severity == pattern.Watch) == confirmed || (a.Of(pattern.BrakeFlatSpot).Score > 0) != confirmed {
			t.Errorf("confirmed %v: %+v, %+v", confirmed, p, a.Of(pattern.BrakeFlatSpot))
		}
	}
}

func TestBadInput(t *testing.T) {
	t.Parallel()
	good := tread(even(3, 6), even(3, 6))
	with := func(f func(*pattern.Input)) pattern.Input {
		in := pattern.Input{Tread: good}
		f(&in)
		return in
	}

	nan := math.NaN()
	for _, c := range []struct {
		name string
		in   pattern.Input
		want error
	}{
		{"empty", pattern.Input{}, pattern.ErrNoReadings},
		{"all holes", pattern.Input{Tread: tread([]float64{hole, hole}, []float64{hole, hole})}, pattern.ErrNoReadings},
		{"ragged", pattern.Input{Tread: tread(even(3, 6), even(2, 6))}, pattern.ErrRagged},
		{"negative depth", pattern.Input{Tread: tread([]float64{-1})}, pattern.ErrOutOfRange},
		{"depth not a number", with(func(in *pattern.Input) { in.DepthsMM = [][]*float64{{&nan}} }),
			pattern.ErrNotFinite},
		{"deeper than new", pattern.Input{Tread: tread([]float64{12})}, pattern.ErrAboveNew},
		{"above any gauge", pattern.Input{Tread: tread([]float64{27})}, pattern.ErrOutOfRange},
		{"one station twice", with(func(in *pattern.Input) { in.StationsDeg = []float64{0, 120, 120} }),
			pattern.ErrStationTwice},
		{"the valve twice", with(func(in *pattern.Input) { in.StationsDeg = []float64{0, 120, 360} }),
			pattern.ErrStationTwice},
		{"stations that do not rise", with(func(in *pattern.Input) { in.StationsDeg = []float64{0, 240, 100} }),
			pattern.ErrStations},
		{"new depths of other grooves", with(func(in *pattern.Input) { in.NewMM = []float64{10, 10, 10} }),
			pattern.ErrNewCount},
		{"unknown finding", with(func(in *pattern.Input) { in.Observations = []pattern.Observation{{Code: "odd"}} }),
			pattern.ErrWord},
		{"unknown class", with(func(in *pattern.Input) { in.Wheel.Class = "boat" }), pattern.ErrWord},
		{"gauge not a number", with(func(in *pattern.Input) { in.ResolutionMM = nan }), pattern.ErrNotFinite},
		{"negative share worn", with(func(in *pattern.Input) { in.Facts.WornShare = -1 }), pattern.ErrOutOfRange},
		{"mate ragged",
			with(func(in *pattern.Input) { in.AxleMate = &pattern.Tread{DepthsMM: grid(even(3, 6), even(2, 6))} }),
			pattern.ErrRagged},
		{"report empty", with(func(in *pattern.Input) { in.Facts.Vibration = &vibration.Report{Class: vibration.Car} }),
			vibration.ErrEmptyReport},
	} {
		if _, err := pattern.Causes(c.in); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
}
