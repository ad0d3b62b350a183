package pattern_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"rimledger/models/pattern"
	"rimledger/models/vibration"
)

// cupped is a tire with three cups on eight stations, counted by hand.
func cupped() pattern.Tread {
	return found(tread(around(8, 10, cups(4, 2.6, 3, 0)), even(8, 6), even(8, 6)),
		pattern.Observation{Code: "cupping", Count: 3})
}

// lopsided is a tire with one side more worn that feels smooth.
func lopsided() pattern.Tread {
	return found(tread(around(8, 10, cups(4, 2.6, 1, 0)), around(8, 10, cups(4, 2, 1, 0))),
		pattern.Observation{Code: "smooth"})
}

// uncounted is a tire with n dips on eight stations that no hand counted.
func uncounted(n int) pattern.Tread {
	row := around(8, 10, cups(4, 2.6, n, 0))
	return tread(row, row, row)
}

// wobbling is a tire worn at opposite sides of its shoulders that feels smooth.
func wobbling() pattern.Tread {
	return found(tread(around(8, 10, cups(4, 2.6, 1, 0)), even(8, 6), around(8, 10, cups(4, 2.6, 1, math.Pi))),
		pattern.Observation{Code: "smooth"})
}

func evenTread() pattern.Tread { return tread(even(8, 6), even(8, 6), even(8, 6)) }

func found(t pattern.Tread, o ...pattern.Observation) pattern.Tread {
	t.Observations = append(slices.Clone(t.Observations), o...)
	return t
}

func rising() *vibration.Report {
	return &vibration.Report{Class: vibration.Car, StartsKMH: 70, WorstKMH: 95, Neutral: "same", Throttle: "same",
		Braking: "same"}
}

func good() pattern.Facts {
	return pattern.Facts{DampersChecked: true, PartsChecked: true, PressureToTarget: 1}
}

// Each line of evidence with its points. Sources: manual = workshop manuals;
// truck = truck tire trade guides; practice = common practice, no source; the
// points themselves are proposed by us. Polygon = Math. Probl. Eng. 2014.
func TestEvidence(t *testing.T) {
	t.Parallel()
	even, bad := evenTread(), cupped()
	feathered := pattern.Input{Tread: found(lopsided(), pattern.Observation{Code: "feathering"})}
	reported := func(r vibration.Report) pattern.Input {
		r.Class = vibration.Car
		return pattern.Input{Tread: even, Facts: pattern.Facts{Vibration: &r}}
	}

	for _, c := range []struct {
		name   string
		in     pattern.Input
		id     string
		cause  string
		points int
	}{
		{"shake rises with speed, nothing else changes it (manual)",
			pattern.Input{Tread: even, Facts: pattern.Facts{Vibration: rising()}}, "vibration_rises", pattern.Imbalance,
			3},
		{"weight missing (practice)", pattern.Input{Tread: found(even, pattern.Observation{Code: "missing_weight"})},
			"weight_missing", pattern.Imbalance, 4},
		{"never balanced since mount (practice)",
			pattern.Input{Tread: even, Facts: pattern.Facts{BalanceOverdue: true}}, "balance_overdue",
			pattern.Imbalance, 2},
		{"partner normal (practice)", pattern.Input{Tread: lopsided(), AxleMate: &even}, "one_end_only",
			pattern.Imbalance, 2},
		{"first harmonic rules (rib profiles)", pattern.Input{Tread: lopsided()}, "first_harmonic", pattern.Imbalance,
			2},
		{"toe wears the whole turn alike (geometry)", feathered, "one_side_of_tire", pattern.Alignment, -3},
		{"toe does not take the once a turn from imbalance (geometry)", feathered, "feather_or_one_side",
			pattern.Imbalance, 0},
		{"pressure wears the whole turn alike (army)",
			pattern.Input{Tread: lopsided(), Facts: pattern.Facts{PressureToTarget: 0.85}}, "one_side_of_tire",
			pattern.Pressure, -2},
		{"duals wear patches or the whole turn (truck)",
			pattern.Input{Tread: lopsided(), Facts: pattern.Facts{DualPressureKPa: 60}}, "one_side_of_tire",
			pattern.DualMismatch, -3},
		{"a damper does not push once a turn (manual)",
			pattern.Input{Tread: lopsided(), Facts: pattern.Facts{DampersLeak: true}}, "one_side_of_tire",
			pattern.Dampers, -2},
		{"nor does it on two shoulders (manual)",
			pattern.Input{Tread: wobbling(), Facts: pattern.Facts{DampersLeak: true}}, "one_side_of_tire",
			pattern.Dampers, -2},
		{"what nothing speaks for is not excluded (ours)", pattern.Input{Tread: lopsided()}, "one_side_of_tire",
			pattern.Dampers, 0},
		{"1, 7 or 9 dips on 8 stations (sampling)", pattern.Input{Tread: uncounted(1)}, "many_dips_or_one",
			pattern.SelfExcited, 1},
		{"not counted twice (sampling)", pattern.Input{Tread: uncounted(1)}, "many_dips_fit",
			pattern.SelfExcited, 0},
		{"3, 5 or 11 dips on 8 stations (sampling)", pattern.Input{Tread: uncounted(3)}, "many_dips_fit",
			pattern.SelfExcited, 2},
		{"dips with all else clean (truck)", pattern.Input{Tread: bad, Facts: good()}, "dips_clean", pattern.Imbalance,
			2},
		{"cups on a young tire: imbalance (practice)", pattern.Input{Tread: bad, Facts: pattern.Facts{WornShare: 0.1}},
			"young_cups", pattern.Imbalance, 1},
		{"cups on a young tire: bead seat (practice)", pattern.Input{Tread: bad, Facts: pattern.Facts{WornShare: 0.1}},
			"young_cups", pattern.RunoutOrSeating, 2},
		{"demand near the limit (trade press)", pattern.Input{Tread: even, Facts: pattern.Facts{DemandToLimit: 0.9}},
			"demand_near_limit", pattern.Imbalance, 1},
		{"feather edge (car manual)", pattern.Input{Tread: found(even, pattern.Observation{Code: "feathering"})},
			"feather_or_one_side", pattern.Imbalance, -2},
		{"both ends alike and dampers leak (truck)",
			pattern.Input{Tread: bad, AxleMate: &bad, Facts: pattern.Facts{DampersLeak: true}}, "both_ends_dampers",
			pattern.Imbalance, -2},
		{"dampers over 240,000 km (damper makers)",
			pattern.Input{Tread: bad, AxleMate: &bad, Facts: pattern.Facts{DampersKM: 250_000}}, "both_ends_dampers",
			pattern.Imbalance, -2},
		{"end play (truck)", pattern.Input{Tread: bad, Facts: pattern.Facts{Looseness: true}}, "looseness",
			pattern.Imbalance, -5},
		{"a run-out over its limit takes from imbalance (limits)",
			pattern.Input{Tread: even, Facts: pattern.Facts{RunoutMM: 1.5, RunoutLimitMM: 1.27}}, "runout_over",
			pattern.Imbalance, -5},
		{"a bead not seated takes from imbalance (truck)",
			pattern.Input{Tread: even, Facts: pattern.Facts{BeadGapVariationMM: 1.7}}, "bead_gap",
			pattern.Imbalance, -5},
		{"a low pressure takes from imbalance (army)",
			pattern.Input{Tread: even, Facts: pattern.Facts{PressureToTarget: 0.9}}, "low_pressure",
			pattern.Imbalance, -2},
		{"a high pressure takes from imbalance (army)",
			pattern.Input{Tread: even, Facts: pattern.Facts{PressureToTarget: 1.1}}, "high_pressure",
			pattern.Imbalance, -2},
		{"3 counted dips at 30 km/h are 12.8 Hz on 1.95 m: wheel hop (derived)",
			pattern.Input{Tread: bad, Facts: pattern.Facts{
				Vibration: &vibration.Report{Class: vibration.Car, StartsKMH: 25, WorstKMH: 30, ReturnsHigher: true}}},
			"hop_rate", pattern.Imbalance, -3},
		{"five or more dips (polygon)",
			pattern.Input{Tread: found(even, pattern.Observation{Code: "cupping", Count: 18})}, "many_dips",
			pattern.Imbalance, -2},
		{"18 sides on 1.95 m by their spacing of 108 mm (polygon)",
			pattern.Input{Tread: found(even, pattern.Observation{Code: "cupping", SpacingMM: 108})}, "many_dips",
			pattern.SelfExcited, 7},
		{"wear of each block (truck)", pattern.Input{Tread: found(even, pattern.Observation{Code: "heel_toe"})},
			"block_period", pattern.Imbalance, -2},
		{"one single patch (manual)", pattern.Input{Tread: found(even, pattern.Observation{Code: "flat_spot"})},
			"single_patch", pattern.Imbalance, -3},
		{"dual pressures 6 psi apart (matching limits)",
			pattern.Input{Tread: even, Facts: pattern.Facts{DualPressureKPa: 41.4}}, "dual_apart", pattern.Imbalance,
			-2},
		{"only while braking (practice)", reported(vibration.Report{Braking: "only"}), "braking_only",
			pattern.Imbalance, -4},
		{"only under throttle (practice)", reported(vibration.Report{Throttle: "only"}), "throttle_only",
			pattern.Imbalance, -4},
		{"bead gap over 2/32 in (truck)", pattern.Input{Tread: even, Facts: pattern.Facts{BeadGapVariationMM: 1.7}},
			"bead_gap", pattern.RunoutOrSeating, 6},
		{"run-out over its limit (limits)",
			pattern.Input{Tread: even, Facts: pattern.Facts{RunoutMM: 1.5, RunoutLimitMM: 1.27}}, "runout_over",
			pattern.RunoutOrSeating, 6},
		{"waddle at low speed (manual)", reported(vibration.Report{StartsKMH: 10, WorstKMH: 40}), "waddle",
			pattern.RunoutOrSeating, 4},
		{"began after a mount (practice)", reported(vibration.Report{Since: "fit"}), "after_mount",
			pattern.RunoutOrSeating, 2},
		{"zero on the balancer and it still shakes (manual)",
			pattern.Input{Tread: even, Facts: pattern.Facts{SpinZero: true, ShakeRemains: true}}, "spin_zero_shakes",
			pattern.RunoutOrSeating, 4},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			a, err := pattern.Causes(c.in)
			if err != nil {
				t.Fatal(err)
			}

			sum, points := 0, 0
			for _, l := range a.Of(c.cause).Lines {
				sum += l.Points
				if l.ID == c.id {
					points = l.Points
				}
			}

			if points != c.points || sum != a.Of(c.cause).Score {
				t.Errorf("%s gives %s %d points, want %d; %+v", c.id, c.cause, points, c.points, a.Of(c.cause))
			}
		})
	}
}

// Which cause leads and what the verdicts are.
func TestVerdicts(t *testing.T) {
	t.Parallel()
	even, bad := evenTread(), cupped()

	facts := func(f func(*pattern.Facts)) pattern.Facts { g := good(); f(&g); return g }
	for _, c := range []struct {
		name    string
		in      pattern.Input
		first   string
		verdict pattern.Verdict
	}{
		{"lopsided, partner normal, weight missing",
			pattern.Input{Tread: found(lopsided(), pattern.Observation{Code: "missing_weight"}), AxleMate: &even,
				Facts: good()}, pattern.Imbalance, pattern.Likely},
		{"cups at both ends, dampers leak",
			pattern.Input{Tread: bad, AxleMate: &bad, Facts: pattern.Facts{DampersLeak: true, PartsChecked: true}},
			pattern.Dampers, pattern.Likely},
		{"one shoulder worn", pattern.Input{Tread: tread([]float64{3}, []float64{5}, []float64{6})}, pattern.Alignment,
			pattern.Likely},
		{"both shoulders worn and pressure low", pattern.Input{Tread: tread([]float64{4}, []float64{6}, []float64{4}),
			Facts: pattern.Facts{PressureToTarget: 0.8}}, pattern.Pressure, pattern.Likely},
		{"center worn", pattern.Input{Tread: tread([]float64{6}, []float64{4}, []float64{6})}, pattern.Pressure,
			pattern.Possible},
		{"loose bearing under cups",
			pattern.Input{Tread: bad, Facts: facts(func(f *pattern.Facts) { f.Looseness = true })}, pattern.Looseness,
			pattern.Likely},
		{"duals apart", pattern.Input{Tread: even, Facts: pattern.Facts{DualPressureKPa: 60}}, pattern.DualMismatch,
			pattern.Likely},
		{"one flat spot", pattern.Input{Tread: found(even, pattern.Observation{Code: "flat_spot"})},
			pattern.BrakeFlatSpot, pattern.Likely},
		{"nine even cups", pattern.Input{Tread: found(even, pattern.Observation{Code: "cupping", Count: 9})},
			pattern.SelfExcited, pattern.Likely},
		{"bead not seated",
			pattern.Input{Tread: lopsided(), Facts: facts(func(f *pattern.Facts) { f.BeadGapVariationMM = 3 })},
			pattern.RunoutOrSeating, pattern.Likely},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			a, err := pattern.Causes(c.in)
			if err != nil {
				t.Fatal(err)
			}
			if a.Ranked[0].Key != c.first || a.Ranked[0].Verdict != c.verdict || a.NextStep == "" {
				t.Errorf("%s %s, want %s %s; %+v", a.Ranked[0].Key, a.Ranked[0].Verdict, c.first, c.verdict, a.Ranked)
			}
		})
	}
}

// One station and a missing weight: the tool does not guess.
func TestNotEnoughData(t *testing.T) {
	t.Parallel()
	one := found(tread([]float64{6}, []float64{6}), pattern.Observation{Code: "missing_weight"})
	a, err := pattern.Causes(pattern.Input{Tread: one, Facts: pattern.Facts{BalanceOverdue: true}})
	if err != nil || a.Of(pattern.Imbalance).Verdict != pattern.NotEnoughData ||
		!strings.Contains(a.NextStep, "not enough data") {
		t.Errorf("%+v, %q, %v", a.Of(pattern.Imbalance), a.NextStep, err)
	}
	a, err = pattern.Causes(pattern.Input{Tread: one, Facts: pattern.Facts{BalanceOverdue: true, Vibration: rising()}})
	if err != nil || a.Of(pattern.Imbalance).Verdict != pattern.Likely {
		t.Errorf("with a report: %+v, %v", a.Of(pattern.Imbalance), err)
	}
}

// What to look at before balancing, in order (truck trade guide: pressure,
// looseness, dampers, bead seat and run-out, balance), and the next step.
func TestChecksAndNextStep(t *testing.T) {
	t.Parallel()

	order := func(in pattern.Input) (string, pattern.Account) {
		a, err := pattern.Causes(in)
		if err != nil {
			t.Fatal(err)
		}

		var codes []string
		for _, c := range a.ChecksFirst {
			codes = append(codes, c.Code)
		}

		return strings.Join(codes, " "), a
	}

	if got, _ := order(pattern.Input{Tread: cupped()}); got != "pressure looseness dampers bead_seat balance" {
		t.Errorf("cups: %s", got)
	}

	muddy := found(cupped(), pattern.Observation{Code: "dirt"})
	if got, _ := order(pattern.Input{Tread: muddy, Facts: good()}); got != "clean bead_seat balance" {
		t.Errorf("mud, rest checked: %s", got)
	}

	shake := rising()
	shake.FeltAt = "steering_wheel"
	_, a := order(pattern.Input{Tread: evenTread(), Facts: pattern.Facts{SpinZero: true, Vibration: shake}})
	if !strings.Contains(a.NextStep, "front pair") || a.Of(pattern.Imbalance).Verdict != pattern.Unlikely {
		t.Errorf("zero on this wheel: %q, %+v", a.NextStep, a.Of(pattern.Imbalance))
	}

	_, a = order(pattern.Input{Tread: evenTread(), Facts: pattern.Facts{AllSpinsZero: true, ShakeRemains: true}})
	if !a.CheckLoaded || !strings.Contains(a.NextStep, "under load") {
		t.Errorf("all zero and it shakes: %q", a.NextStep)
	}

	got, a := order(pattern.Input{Tread: found(cupped(), pattern.Observation{Code: "bulge"})})
	if !strings.HasPrefix(got, "off_road") || !strings.Contains(a.NextStep, "off the road") {
		t.Errorf("bulge: %s, %q", got, a.NextStep)
	}
}

// Every row of the table has text, a basis and points, once a finding and cause.
func TestRows(t *testing.T) {
	t.Parallel()
	seen := map[[2]string]bool{}
	for _, r := range pattern.Rows() {
		k := [2]string{r.ID, r.Cause}
		if r.Text == "" || r.Basis == "" || r.Points == 0 || seen[k] {
			t.Errorf("row %+v", r)
		}
		seen[k] = true
	}
}
