package pattern_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"rimledger/models/badinput"
	"rimledger/models/pattern"
	"rimledger/models/vibration"
)

// Every size and fact is taken from nothing up to its limit, which is chosen by us far
// beyond any road wheel, and refused one step outside, with its name.
func TestLimitsOfFacts(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		field string
		most  float64
		set   func(in *pattern.Input, v float64)
	}{
		{"rolling circumference mm", 10_000, func(in *pattern.Input, v float64) { in.Wheel.CircumferenceMM = v }},
		{"tire radius mm", 1600, func(in *pattern.Input, v float64) { in.Wheel.RadiusMM = v }},
		{"tread width mm", 1000, func(in *pattern.Input, v float64) { in.Wheel.WidthMM = v }},
		{"rim radius mm", 1000, func(in *pattern.Input, v float64) { in.Wheel.RimRadiusMM = v }},
		{"gauge resolution mm", 2, func(in *pattern.Input, v float64) { in.ResolutionMM = v }},
		{"rate over median", 1000, func(in *pattern.Input, v float64) { in.RateToMedian = v }},
		{"damper age years", 100, func(in *pattern.Input, v float64) { in.Facts.DampersYears = v }},
		{"damper distance km", 1e7, func(in *pattern.Input, v float64) { in.Facts.DampersKM = v }},
		{"pressure over target", 10, func(in *pattern.Input, v float64) { in.Facts.PressureToTarget = v }},
		{"dual pressure difference kPa", 2000, func(in *pattern.Input, v float64) { in.Facts.DualPressureKPa = v }},
		{"dual diameter difference mm", 500, func(in *pattern.Input, v float64) { in.Facts.DualDiameterMM = v }},
		{"worn share", 1, func(in *pattern.Input, v float64) { in.Facts.WornShare = v }},
		{"demand over limit", 100, func(in *pattern.Input, v float64) { in.Facts.DemandToLimit = v }},
		{"bead gap variation mm", 50, func(in *pattern.Input, v float64) { in.Facts.BeadGapVariationMM = v }},
		{"run-out mm", 50, func(in *pattern.Input, v float64) { in.Facts.RunoutMM = v }},
		{"run-out limit mm", 50, func(in *pattern.Input, v float64) { in.Facts.RunoutLimitMM = v }},
	} {
		for v, takes := range map[float64]bool{0: true, c.most: true, c.most * 1.01: false, -0.01: false} {
			in := pattern.Input{Tread: evenTread()}
			c.set(&in, v)
			_, err := pattern.Read(in)
			var bad *badinput.Error
			if takes && err != nil || !takes && (!errors.As(err, &bad) || bad.Field != c.field) {
				t.Errorf("%s %g: %v", c.field, v, err)
			}
		}
	}

	for n, takes := range map[int]bool{300: true, 301: false} {
		in := pattern.Input{Tread: evenTread()}
		in.Facts.RunoutNote = strings.Repeat("x", n)
		if _, err := pattern.Read(in); (err == nil) != takes {
			t.Errorf("a note of %d letters: %v", n, err)
		}
	}
}

// The same for what a tread holds; the refusal names groove and station as people count,
// from one.
func TestLimitsOfTreads(t *testing.T) {
	t.Parallel()

	at := func(f func(*pattern.Tread)) pattern.Tread { tr := evenTread(); f(&tr); return tr }
	depth := func(mm float64) pattern.Tread {
		return at(func(tr *pattern.Tread) { tr.NewMM = nil; tr.DepthsMM[1][2] = &mm })
	}
	fresh := func(mm ...float64) pattern.Tread { return at(func(tr *pattern.Tread) { tr.NewMM = mm }) }
	hand := func(o pattern.Observation) pattern.Tread { return found(evenTread(), o) }
	grooves := func(n int) pattern.Tread {
		tr := pattern.Tread{}
		for range n {
			tr.DepthsMM = append(tr.DepthsMM, grid(even(3, 6))...)
		}
		return tr
	}
	places := func(deg ...float64) pattern.Tread {
		tr := tread(even(len(deg), 6))
		tr.StationsDeg = deg
		return tr
	}

	for _, c := range []struct {
		name         string
		takes, never pattern.Tread
		field        string
	}{
		{"no depth at all", depth(0), depth(-0.1), "tread depth of groove 2 station 3"},
		{"the deepest", depth(26), depth(26.1), "tread depth of groove 2 station 3"},
		{"1/32 in above new is the gauge's error", fresh(6 - pattern.Step), fresh(6 - pattern.Step - 0.01),
			"tread depth of groove 1 station 1"},
		{"the shallowest new", at(func(tr *pattern.Tread) { tr.NewMM = []float64{1}; tr.DepthsMM = grid([]float64{1}) }),
			fresh(0.99), "tread new depth of groove 1"},
		{"the deepest new", fresh(40, 40, 40), fresh(40, 40, 40.1), "tread new depth of groove 3"},
		{"16 grooves", grooves(16), grooves(17), "tread grid"},
		{"72 stations", tread(even(72, 6)), tread(even(73, 6)), "tread grid"},
		{"200 cups", hand(pattern.Observation{Code: "cupping", Count: 200}),
			hand(pattern.Observation{Code: "cupping", Count: 201}), "tread count of cupping"},
		{"no count", hand(pattern.Observation{Code: "cupping"}), hand(pattern.Observation{Code: "cupping", Count: -1}),
			"tread count of cupping"},
		{"10 m of spacing", hand(pattern.Observation{Code: "cupping", SpacingMM: 10_000}),
			hand(pattern.Observation{Code: "cupping", SpacingMM: 10_001}), "tread spacing of cupping"},
		{"no spacing", hand(pattern.Observation{Code: "cupping"}),
			hand(pattern.Observation{Code: "cupping", SpacingMM: -0.1}), "tread spacing of cupping"},
		{"500 mm of size", hand(pattern.Observation{Code: "bulge", SizeMM: 500}),
			hand(pattern.Observation{Code: "bulge", SizeMM: 501}), "tread size of bulge"},
		{"no size", hand(pattern.Observation{Code: "bulge"}), hand(pattern.Observation{Code: "bulge", SizeMM: -0.1}),
			"tread size of bulge"},
		{"a place at the valve", places(0, 90, 180), places(-0.1, 90, 180), "tread angle of station 1"},
		{"a place before the valve", places(1.5, 90, 360), places(1.5, 90, 360.1), "tread angle of station 3"},
		{"places 1 degree apart", places(0, 90, 91), places(0, 90, 90.9), "tread angle of station 3"},
		{"places 1 degree apart at the valve", places(0, 90, 359), places(0, 90, 359.1), "tread angle of station 3"},
		{"places that rise", places(0, 90, 180), places(0, 180, 90), "tread angle of station 3"},
		{"as many in each groove", tread(even(3, 6), even(3, 6)), tread(even(3, 6), even(2, 6)),
			"tread stations of groove 2"},
	} {
		_, takes := pattern.Read(pattern.Input{Tread: c.takes})
		_, never := pattern.Read(pattern.Input{Tread: c.never})
		var bad *badinput.Error
		if takes != nil || !errors.As(never, &bad) || bad.Field != c.field {
			t.Errorf("%s: %v; beyond it %v, want %s", c.name, takes, never, c.field)
		}
	}
}

// Usual sizes of a class and the share of rubber, common practice without a source, and
// U = ρ s b r² A π by hand with a density of 1150 kg/m³.
func TestUsualWheels(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		class                    vibration.Class
		radius, width, rim, land float64
	}{{"", 310, 180, 203, 0.7}, {vibration.Car, 310, 180, 203, 0.7}, {vibration.LightTruck, 374, 200, 203, 0.7},
		{vibration.Heavy, 510, 210, 286, 0.75}} {
		want := 1150e-6 * c.land * c.width * c.radius * c.radius * 2 * math.Pi
		got, err := pattern.WearUnbalance(2, 90, pattern.Wheel{Class: c.class})
		if err != nil || math.Abs(got.UnbalanceGMM/want-1) > 1e-12 || math.Abs(got.GramsAtRim*c.rim/want-1) > 1e-12 ||
			got.AngleDeg != 90 {
			t.Errorf("%s: %+v, %v; want %g", c.class, got, err, want)
		}

		// Sizes that are given stand: here half of each, so U is an eighth.
		half := pattern.Wheel{Class: c.class, RadiusMM: c.radius / 2, WidthMM: c.width / 2, RimRadiusMM: c.rim / 2}
		got, err = pattern.WearUnbalance(2, 90, half)
		if err != nil || math.Abs(got.UnbalanceGMM*8/want-1) > 1e-12 ||
			math.Abs(got.GramsAtRim*4*c.rim/want-1) > 1e-12 {
			t.Errorf("%s, half of it: %+v, %v", c.class, got, err)
		}

		// Sizes of less than a millimeter are strange, but sizes.
		small := pattern.Wheel{Class: c.class, RadiusMM: 0.5, WidthMM: 0.5, RimRadiusMM: 0.5}
		got, err = pattern.WearUnbalance(2, 90, small)
		if tiny := 1150e-6 * c.land * 0.125 * 2 * math.Pi; err != nil || math.Abs(got.UnbalanceGMM/tiny-1) > 1e-12 ||
			math.Abs(got.GramsAtRim*0.5/tiny-1) > 1e-12 {
			t.Errorf("%s, tiny: %+v, %v", c.class, got, err)
		}
	}

	for name, c := range map[string]struct{ amplitude, angle, never, neverAngle float64 }{
		"most": {26, 360, 26.1, 360.1}, "least": {0, 0, -0.1, -0.1}} {
		_, takes := pattern.WearUnbalance(c.amplitude, c.angle, pattern.Wheel{})
		_, much := pattern.WearUnbalance(c.never, c.angle, pattern.Wheel{})
		_, round := pattern.WearUnbalance(c.amplitude, c.neverAngle, pattern.Wheel{})
		var wide, far *badinput.Error
		if takes != nil || !errors.As(much, &wide) || wide.Field != "amplitude mm" || !errors.As(round, &far) ||
			far.Field != "angle" {
			t.Errorf("%s: %v, %v, %v", name, takes, much, round)
		}
	}
}

// The waves of a tread with holes: as many as the readings determine, up to three, each as
// it was made. Less than three readings, or less than three in four of a turn, are refused.
func TestWavesWithHoles(t *testing.T) {
	t.Parallel()

	wave := func(k int, holes ...int) []*float64 {
		row := make([]*float64, k)
		for i := range row {
			a := 2 * math.Pi * float64(i) / float64(k)
			v := 3 + 0.8*math.Cos(a-1) + 0.3*math.Cos(2*(a-2.5))
			if !slices.Contains(holes, i) {
				row[i] = &v
			}
		}
		return row
	}

	for _, c := range []struct {
		row  []*float64
		want int // waves; 0: refused
	}{
		{wave(8), 4}, {wave(9), 4}, {wave(12), 6}, {wave(5), 2},
		{wave(12, 1, 4), 3}, {wave(12, 1, 4, 9), 3}, {wave(12, 1, 4, 7, 9), 0}, {wave(8, 3), 3}, {wave(8, 3, 6), 2},
		{wave(8, 3, 5, 6), 0}, {wave(4, 3), 1}, {wave(3, 2), 0}, {wave(2), 0}, {wave(3), 1},
	} {
		got, err := pattern.Harmonics(c.row)
		if len(got) != c.want || (err != nil) != (c.want == 0) || err != nil && !errors.Is(err, pattern.ErrTooFew) {
			t.Errorf("%d places: %d waves, %v; want %d", len(c.row), len(got), err, c.want)
			continue
		}
		if len(got) < 2 || len(c.row) < 5 {
			continue
		}

		// 1 rad is 57.296 degrees, 2.5 rad are 143.239.
		one, two := got[0], got[1]
		if math.Abs(one.AmplitudeMM-0.8) > 1e-9 || math.Abs(one.AngleDeg-57.29578) > 1e-4 || one.N != 1 ||
			math.Abs(two.AmplitudeMM-0.3) > 1e-9 || math.Abs(two.AngleDeg-143.23945) > 1e-4 || two.N != 2 {
			t.Errorf("%d places: %+v and %+v", len(c.row), one, two)
		}
		for _, h := range got[2:] {
			if h.AmplitudeMM > 1e-9 {
				t.Errorf("%d places: a wave that is not there: %+v", len(c.row), h)
			}
		}
	}

	// Worn most at the valve is 0 degrees, not 360, however it rounds.
	at := func(deg float64) []*float64 {
		row := make([]*float64, 8)
		for i := range row {
			v := 3 + math.Cos(2*math.Pi*float64(i)/8-deg*math.Pi/180)
			row[i] = &v
		}
		return row
	}
	for deg, want := range map[float64]float64{0: 0, -1e-14: 0, 359: 359, 180: 180, 190: 190} {
		if got, err := pattern.Harmonics(at(deg)); err != nil || math.Abs(got[0].AngleDeg-want) > 1e-9 {
			t.Errorf("worn most at %g: %+v, %v", deg, got[0], err)
		}
	}
}

// Both sides of what the facts ask for, and of what comes before balancing. Sources of the
// rules as in TestEvidence; thresholds without one are chosen by us.
func TestBothSidesOfFacts(t *testing.T) {
	t.Parallel()
	type facts = pattern.Facts

	sound := evenTread()
	of := func(f facts) pattern.Input { return pattern.Input{Tread: sound, Facts: f} }
	shake := func(r vibration.Report) facts { r.Class = vibration.Car; return facts{Vibration: &r} }
	counted := func(n int, kmh float64) pattern.Input {
		f := shake(vibration.Report{WorstKMH: kmh})
		return pattern.Input{Tread: found(sound, pattern.Observation{Code: "cupping", Count: n}), Facts: f}
	}
	withMate := func(mate pattern.Tread, resolution float64) pattern.Input {
		return pattern.Input{Tread: lopsided(), AxleMate: &mate, ResolutionMM: resolution}
	}

	for _, c := range []struct {
		name    string
		id      string
		cause   string
		not, is pattern.Input
	}{
		{"dampers over ten years (damper makers)", "dampers_old", pattern.Dampers, of(facts{DampersYears: 10}),
			of(facts{DampersYears: 10.1})},
		{"dampers over 240,000 km (damper makers)", "dampers_old", pattern.Dampers, of(facts{DampersKM: 240_000}),
			of(facts{DampersKM: 240_001})},
		{"demand of eight tenths of the limit (ours)", "demand_near_limit", pattern.Imbalance,
			of(facts{DemandToLimit: 0.79}), of(facts{DemandToLimit: 0.8})},
		{"pressure a tenth low (army)", "low_pressure", pattern.Pressure, of(facts{PressureToTarget: 0.91}),
			of(facts{PressureToTarget: 0.9})},
		{"pressure not known is not low (ours)", "low_pressure", pattern.Pressure, of(facts{}),
			of(facts{PressureToTarget: 0.01})},
		{"pressure a tenth high (army)", "high_pressure", pattern.Pressure, of(facts{PressureToTarget: 1.09}),
			of(facts{PressureToTarget: 1.1})},
		{"seat and run-out both measured (truck)", "seating_good", pattern.RunoutOrSeating,
			of(facts{BeadGapVariationMM: 0.5}), of(facts{BeadGapVariationMM: 0.5, RunoutLimitMM: 1.27})},
		{"run-out measured, seat not (truck)", "seating_good", pattern.RunoutOrSeating, of(facts{RunoutLimitMM: 1.27}),
			of(facts{BeadGapVariationMM: 0.01, RunoutLimitMM: 0.01})},
		{"a run-out over its limit is not good (limits)", "seating_good", pattern.RunoutOrSeating,
			of(facts{BeadGapVariationMM: 0.5, RunoutMM: 1.3, RunoutLimitMM: 1.27}),
			of(facts{BeadGapVariationMM: 0.5, RunoutMM: 1.27, RunoutLimitMM: 1.27})},
		{"no limit, no run-out over it (limits)", "runout_over", pattern.RunoutOrSeating, of(facts{RunoutMM: 3}),
			of(facts{RunoutMM: 3, RunoutLimitMM: 0.5})},
		{"since a repair (practice)", "after_mount", pattern.RunoutOrSeating, of(shake(vibration.Report{Since: "pothole"})),
			of(shake(vibration.Report{Since: "repair"}))},
		{"waddle (manual)", "waddle", pattern.RunoutOrSeating, of(shake(vibration.Report{WorstKMH: 57})),
			of(shake(vibration.Report{WorstKMH: 56}))},
		{"one dip at hop is one push a turn: 12.8 Hz at 90 km/h (derived)", "hop_rate", pattern.Dampers, counted(1, 90),
			counted(2, 45)},
		{"3 dips at 46 km/h pass at 19.7 Hz (derived)", "hop_rate", pattern.Dampers, counted(3, 46), counted(3, 35)},
		{"in the band, not all answered (ours)", "vibration_band", pattern.Imbalance, of(facts{Vibration: rising()}),
			of(shake(vibration.Report{WorstKMH: 95}))},
		{"a mate that is uneven by 3/32 in (ours)", "one_end_only", pattern.Imbalance,
			withMate(tread(low(8, step32(3), 3), even(8, 6)), 0), withMate(tread(low(8, step32(1), 3), even(8, 6)), 0)},
		{"a mate worn 1.3 mm once a turn (derived)", "one_end_only", pattern.Imbalance,
			withMate(grooves3(8, cups(3, 1.3, 1, 0)), 0.1), withMate(grooves3(8, cups(3, 0.05, 1, 0)), 0.1)},
		{"young, worn by something (practice)", "young_cups", pattern.Imbalance,
			pattern.Input{Tread: cupped()}, pattern.Input{Tread: cupped(), Facts: facts{WornShare: 0.01}}},
		{"only 5, 11 and 27 dips fit 16 places (sampling)", "many_dips_open", pattern.SelfExcited,
			pattern.Input{Tread: grooves3(16, cups(3, 2.5, 4, 0))}, pattern.Input{Tread: grooves3(16, cups(3, 2.5, 5, 0))}},
		{"4 or 12 dips fit 16 places (sampling)", "many_dips_fit", pattern.SelfExcited,
			pattern.Input{Tread: grooves3(16, cups(3, 2.5, 3, 0))}, pattern.Input{Tread: grooves3(16, cups(3, 2.5, 4, 0))}},
		{"couple, cups not denied (ours)", "once_open", pattern.RunoutOrSeating, pattern.Input{Tread: wobbling()},
			pattern.Input{Tread: pattern.Tread{DepthsMM: wobbling().DepthsMM, NewMM: []float64{10}}}},
	} {
		for want, in := range map[bool]pattern.Input{false: c.not, true: c.is} {
			a, err := pattern.Causes(in)
			if err != nil {
				t.Fatal(c.name, err)
			}
			has := func(l pattern.Evidence) bool { return l.ID == c.id }
			if got := slices.ContainsFunc(a.Of(c.cause).Lines, has); got != want {
				t.Errorf("%s: %v, want %v; %+v", c.name, got, want, a.Of(c.cause))
			}
		}
	}
}

// What is looked at before balancing, on both sides.
func TestBothSidesOfChecks(t *testing.T) {
	t.Parallel()
	type facts = pattern.Facts

	sound := func(f facts) pattern.Input {
		f.PartsChecked, f.DampersChecked = true, true
		return pattern.Input{Tread: evenTread(), Facts: f}
	}
	shake := func(r vibration.Report) pattern.Input {
		r.Class = vibration.Car
		return sound(facts{PressureToTarget: 1, Vibration: &r})
	}

	for _, c := range []struct {
		name    string
		code    string
		not, is pattern.Input
	}{
		{"pressure not known", "pressure", sound(facts{PressureToTarget: 1}), sound(facts{})},
		{"pressure a tenth low (army)", "pressure", sound(facts{PressureToTarget: 0.91}),
			sound(facts{PressureToTarget: 0.9})},
		{"pressure nearly nothing", "pressure", sound(facts{PressureToTarget: 1.05}),
			sound(facts{PressureToTarget: 0.01})},
		{"pressure a tenth high (army)", "pressure", sound(facts{PressureToTarget: 1.09}),
			sound(facts{PressureToTarget: 1.1})},
		{"brakes, when it shakes only then (practice)", "brakes", shake(vibration.Report{Throttle: "only"}),
			shake(vibration.Report{Braking: "only"})},
		{"driveline, when it shakes only under throttle (practice)", "driveline",
			shake(vibration.Report{Braking: "only"}), shake(vibration.Report{Throttle: "only"})},
		{"belt, when it waddles (manual)", "inspect_belt", shake(vibration.Report{WorstKMH: 90}),
			shake(vibration.Report{WorstKMH: 40})},
		{"duals, when one is known (truck)", "duals", sound(facts{}), sound(facts{DualPressureKPa: 60})},
		{"alignment, when it pulls (practice)", "alignment", sound(facts{}), sound(facts{Pulls: true})},
	} {
		for want, in := range map[bool]pattern.Input{false: c.not, true: c.is} {
			a, err := pattern.Causes(in)
			if err != nil {
				t.Fatal(c.name, err)
			}
			has := func(k pattern.Check) bool { return k.Code == c.code }
			if got := slices.ContainsFunc(a.ChecksFirst, has); got != want {
				t.Errorf("%s: %v, want %v; %+v", c.name, got, want, a.ChecksFirst)
			}
		}
	}
}

// The one sentence of what to do now, for each thing that decides it.
func TestNextStepOfEach(t *testing.T) {
	t.Parallel()
	type facts = pattern.Facts

	done := facts{PartsChecked: true, DampersChecked: true, PressureToTarget: 1, BeadGapVariationMM: 0.5,
		RunoutLimitMM: 1}
	spun := func(f facts) facts { f.SpinZero = true; return f }
	missing := pattern.Observation{Code: "missing_weight"}
	shakes := vibration.Report{Class: vibration.Car, WorstKMH: 95}
	feels := func(place string) facts {
		r := shakes
		r.Places = []string{place}
		return facts{SpinZero: true, Vibration: &r}
	}
	open := tread(low(8, step32(3), 0, 1, 3), even(8, 6), even(8, 6))

	for _, c := range []struct {
		name string
		in   pattern.Input
		want string
	}{
		{"imbalance leads, wheel not spun yet", pattern.Input{Tread: found(lopsided(), missing), Facts: done},
			"after the checks balance this wheel"},
		{"a couple takes two planes", pattern.Input{Tread: found(wobbling(), missing), Facts: done},
			"after the checks balance this wheel in two planes"},
		{"imbalance leads by what was seen, tread even", pattern.Input{Tread: found(evenTread(), missing), Facts: done},
			"a check spin with nothing removed, then balance this wheel"},
		{"the steering wheel shakes", pattern.Input{Tread: evenTread(), Facts: feels("steering_wheel")},
			"this wheel is in balance: next a check spin of the front pair, since the steering wheel shakes"},
		{"the seat shakes", pattern.Input{Tread: evenTread(), Facts: feels("seat")},
			"this wheel is in balance: next a check spin of the rear pair, since the shake is felt in seat or floor"},
		{"the dash shakes", pattern.Input{Tread: evenTread(), Facts: feels("dash")},
			"this wheel is in balance: next a check spin of its partner, then of the other axle"},
		{"it shakes, no report", pattern.Input{Tread: evenTread(), Facts: facts{SpinZero: true, ShakeRemains: true}},
			"this wheel is in balance: next a check spin of its partner, then of the other axle"},
		{"a waddle", pattern.Input{Tread: evenTread(), Facts: facts{Vibration: &vibration.Report{Class: vibration.Car,
			WorstKMH: 40}}}, "do not drive it before tire and wheel are inspected for a broken belt or a bent wheel"},
		{"uneven, nothing asked for, checks left", pattern.Input{Tread: open, Confirmed: true, Facts: spun(facts{})},
			"not enough data; what would decide: the dips around the tire counted by hand, or that the tread feels smooth " +
				"all round"},
		{"even and nothing known", pattern.Input{Tread: evenTread()}, "nothing to do beyond the usual inspections"},
		{"once a turn, spun to zero: checks left",
			pattern.Input{Tread: lopsided(), Confirmed: true, Facts: spun(facts{DampersChecked: true, PressureToTarget: 1})},
			"the cause is open: make the checks in order, then read the tread again"},
		{"once a turn, all checked and spun to zero",
			pattern.Input{Tread: lopsided(), Confirmed: true, Facts: spun(done)},
			"the cause is open: look for what wears the tire before it is used up, then read the tread again"},
	} {
		a, err := pattern.Causes(c.in)
		if err != nil || metric.Render(a.NextStep) != c.want {
			t.Errorf("%s: %q, %v; want %q", c.name, a.NextStep, err, c.want)
		}
	}
}
