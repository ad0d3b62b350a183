package assess_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/pattern"
)

// checked adds what was measured of the assembly at p.
func (s *scene) checked(p models.Position, what models.TruenessKind, text, material string, onVehicle bool) *scene {
	v, err := models.ParseSize(text)
	if err != nil {
		panic(err)
	}
	st := &s.at(p).State
	st.Trueness = append(st.Trueness,
		models.TruenessRecord{Point: models.Point{At: ago(day)}, OnVehicle: onVehicle, Material: material,
			TruenessMeasure: models.TruenessMeasure{What: what, Value: v}})
	return s
}

// british returns a car in Great Britain on which nothing is wrong.
func british() *scene { return car("GB") }

// TestWheelCheckLimits has rows on both sides of every limit. Sources: bead gap
// 2/32 in, truck trade press; heavy assemblies and bare wheels TMC RP 214C tables
// as copied by a truck-tire maker; light ones makers' workshop manuals.
func TestWheelCheckLimits(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name       string
		of         func() *scene
		at         models.Position
		what       models.TruenessKind
		within     string
		over       string
		material   string
		onVehicle  bool
		figureSays string
	}{
		{"bead gap", tractor, "1L", models.BeadGap, "2/32 in", "1.6 mm", "", false, "1.6 mm"},
		{"steer, radial", tractor, "1L", models.TireRadial, "0.095 in", "0.096 in", "", true, "0.096 in"},
		{"steer, lateral", tractor, "1L", models.TireLateral, "0.095 in", "2.42 mm", "", false, "2.42 mm"},
		{"drive, radial", tractor, "2LO", models.TireRadial, "0.125 in", "0.126 in", "", true, "0.126 in"},
		{"heavy steel wheel", tractor, "1L", models.WheelRadial, "0.070 in", "0.071 in", "steel", false, "0.071 in"},
		{"heavy wheel of unknown material: as steel", tractor, "1L",
			models.WheelRadial, "0.070 in", "0.071 in", "", false, "0.071 in"},
		{"heavy aluminum wheel", tractor, "1L",
			models.WheelLateral, "0.030 in", "0.031 in", "alloy", false, "0.031 in"},
		{"car, off the vehicle", british, "1L", models.TireRadial, "0.050 in", "0.051 in", "", false, "0.051 in"},
		{"car, on the vehicle", british, "1L", models.TireRadial, "0.060 in", "0.061 in", "", true, "0.061 in"},
		{"car, steel wheel", british, "1L", models.WheelRadial, "0.8 mm", "0.81 mm", "steel", false, "0.81 mm"},
		{"car, alloy wheel", british, "1L", models.WheelRadial, "0.3 mm", "0.31 mm", "alloy", false, "0.31 mm"},
	} {
		within := brief(assess.Assess(c.of().checked(c.at, c.what, c.within, c.material, c.onVehicle).Snapshot))
		if len(within) != 0 {
			t.Errorf("%s of %s: %q, want none", c.name, c.within, within)
		}

		over := c.of().checked(c.at, c.what, c.over, c.material, c.onVehicle)
		f := one(t, over, models.SuspectOther)
		if !strings.Contains(f.Title, "run-out or seating is likely at "+string(c.at)) {
			t.Errorf("%s of %s: %q", c.name, c.over, f.Title)
		}
		if text := f.Evidence[0].Text; !strings.Contains(text, c.figureSays) || !strings.Contains(text, "limit") {
			t.Errorf("%s: the line %q lacks its numbers", c.name, text)
		}
	}
}

// A wheel that runs out, or a bead that does not sit, is found without any depth of
// the tire: the evidence needs none. What was measured within its limit is not.
func TestWheelCheckWithoutDepths(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		name, within, over string
		what               models.TruenessKind
	}{
		{"bead gap", "2/32 in", "3/32 in", models.BeadGap},
		{"steer, radial", "0.095 in", "0.096 in", models.TireRadial},
		{"heavy steel wheel", "0.070 in", "0.071 in", models.WheelLateral},
	} {
		unread := func() *scene {
			s := tractor()
			st := &s.at("1L").State
			st.Last, st.Previous, st.Kept = nil, nil, nil
			return s
		}

		before := brief(assess.Assess(unread().Snapshot))
		if got := brief(assess.Assess(unread().checked("1L", c.what, c.within, "", false).Snapshot)); !slices.Equal(got,
			before) {
			t.Errorf("%s of %s: %q, without the check %q", c.name, c.within, got, before)
		}

		over := unread().checked("1L", c.what, c.over, "", false)
		f := one(t, over, models.SuspectOther)
		if !strings.Contains(f.Title, "run-out or seating is likely at 1L") ||
			!strings.Contains(f.Evidence[0].Text, "limit") ||
			!f.Since.Equal(ago(day)) {
			t.Errorf("%s of %s: %q, %+v since %s", c.name, c.over, f.Title, f.Evidence, f.Since)
		}

		a, ok := assess.Account(over.Snapshot, "1L")
		if !ok || a.Ranked[0].Key != pattern.RunoutOrSeating || len(a.Result.Patterns) > 0 ||
			len(a.Result.Wanted) != 1 {
			t.Errorf("%s of %s: account %+v", c.name, c.over, a)
		}
	}
}

// 49 CFR 570.10(b): rim run-out, lateral and radial, each at most 1/8 in, for
// vehicles up to 10,000 lb (4536 kg). The row was read and is on; it applies to cars and
// light trucks in the United States, not for heavier ones, elsewhere, the tire's own
// run-out or a spare.
func TestRimOverLegal(t *testing.T) {
	t.Parallel()
	light := func(kg int) func() *scene {
		return func() *scene {
			s := car("US")
			s.Vehicle.Class, s.Vehicle.MaxMassKG = models.LightTruck, kg
			return s
		}
	}

	for _, c := range []struct {
		name string
		of   func() *scene
		what models.TruenessKind
		text string
		over bool
	}{
		{"a car, at the limit", func() *scene { return car("US") }, models.WheelRadial, "0.125 in", false},
		{"a car, over it", func() *scene { return car("US") }, models.WheelRadial, "0.126 in", true},
		{"lateral, in millimeters", func() *scene { return car("US-VA") }, models.WheelLateral, "3.2 mm", true},
		{"the tire, not the rim", func() *scene { return car("US") }, models.TireRadial, "0.2 in", false},
		{"a light truck of 10,000 lb", light(4536), models.WheelRadial, "0.25 in", true},
		{"a heavier one", light(4537), models.WheelRadial, "0.25 in", false},
		{"a tractor", tractor, models.WheelRadial, "0.25 in", false},
		{"a car elsewhere", british, models.WheelRadial, "0.25 in", false},
	} {
		s := c.of().checked("1L", c.what, c.text, "steel", true)
		i := slices.IndexFunc(assess.Assess(s.Snapshot).Findings,
			func(f models.Finding) bool { return f.Code == models.RimOverLegal })
		if (i >= 0) != c.over {
			t.Errorf("%s, %s: found %t", c.name, c.text, i >= 0)
		}

		if i < 0 {
			continue
		}

		f := one(t, s, models.RimOverLegal)
		if f.Urgency != models.DoNow || f.Position != "1L" ||
			!strings.Contains(f.Title, c.text+" at 1L, over 0.125 in") ||
			!strings.Contains(f.Notice, "49 CFR 570.10(b);") ||
			!strings.Contains(f.Notice, "licensed inspector, decide") ||
			!strings.Contains(f.Evidence[len(f.Evidence)-1].Source, "read in a public text 2026-11") {
			t.Errorf("%s: %+v", c.name, f)
		}
	}
}

// A wheel that was measured and found true is not sent to be measured again, and
// the parts that were looked at before a balance job count as looked at.
func TestWhatWasCheckedIsNotAskedAgain(t *testing.T) {
	t.Parallel()
	uneven := func() *scene {
		return tractor().around("1L", func(k int) float64 { return 1 + math.Cos(2*math.Pi*float64(k)/8) })
	}

	codes := func(s *scene) string {
		a, ok := assess.Account(s.Snapshot, "1L")
		if !ok {
			t.Fatal("no account")
		}

		var out []string
		for _, c := range a.ChecksFirst {
			out = append(out, c.Code)
		}

		return strings.Join(out, " ")
	}

	if got := codes(uneven()); got != "looseness dampers bead_seat balance" {
		t.Errorf("nothing checked: %s", got)
	}

	s := uneven().checked("1L", models.BeadGap, "1/32 in", "", false).
		checked("1L", models.TireRadial, "0.050 in", "", false)
	s.at("1L").State.Balance.Checks = []string{"dampers", "bearings"}
	if got := codes(s); got != "balance" {
		t.Errorf("all checked: %s", got)
	}

	s.State.Observations = []models.Observation{{Code: models.ObsDamperLeak, Axle: 1}}
	if got := codes(s); got != "dampers balance" {
		t.Errorf("a damper leaks since: %s", got)
	}

	a, _ := assess.Account(uneven().checked("1L", models.BeadGap, "3 mm", "", false).Snapshot, "1L")
	if a.Ranked[0].Key != pattern.RunoutOrSeating || a.Ranked[0].Verdict != pattern.Likely {
		t.Errorf("bead not seated: %+v", a.Ranked[0])
	}
}

// Every answer of a recorded report reaches the account: shakes only under brake
// or throttle are no imbalance (practice), a growl is irregular wear, a shake after
// standing goes away (workshop manuals).
func TestReportIsHeardWhole(t *testing.T) {
	t.Parallel()

	for _, c := range []struct {
		report models.Vibration
		says   string // in the evidence of the complaint
		points int    // on imbalance of an uneven front wheel not balanced
	}{
		{models.Vibration{StartsKMH: 70, WorstKMH: 95}, "once a turn", 2},
		{models.Vibration{StartsKMH: 70, WorstKMH: 95, Braking: "same", Throttle: "same", Neutral: "same"},
			"once a turn", 3},
		{models.Vibration{WorstKMH: 95, Braking: "only"}, "shakes only while braking", -4},
		{models.Vibration{WorstKMH: 95, Throttle: "only"}, "shakes only under throttle", -4},
		{models.Vibration{Audible: true}, "growl or slap", 0},
		{models.Vibration{WorstKMH: 95, Since: "parked"}, "after standing long", 2},
	} {
		s := car("GB").around("1L", func(k int) float64 { return 1 + math.Cos(2*math.Pi*float64(k)/8) })
		before, _ := assess.Account(s.Snapshot, "1L")
		s.State.Complaints = []models.Complaint{{At: ago(day), Report: c.report}}
		after, _ := assess.Account(s.Snapshot, "1L")
		if got := after.Of(pattern.Imbalance).Score - before.Of(pattern.Imbalance).Score; got != c.points {
			t.Errorf("%+v adds %d points, want %d", c.report, got, c.points)
		}

		f := one(t, s, models.VibrationOpen)
		if !slices.ContainsFunc(f.Evidence, func(e models.Evidence) bool { return strings.Contains(e.Text, c.says) }) {
			t.Errorf("%+v: no line says %q: %+v", c.report, c.says, f.Evidence)
		}
	}
}

// A brake that drags or locks is evidence for a brake flat spot, 2 points, and
// has the brakes checked first (workshop manual; trade press).
func TestDraggingBrakeIsEvidence(t *testing.T) {
	t.Parallel()
	s := car("GB").around("1L", func(k int) float64 { return 1 + math.Cos(2*math.Pi*float64(k)/8) })
	before, _ := assess.Account(s.Snapshot, "1L")
	s.State.Observations = []models.Observation{{Code: models.ObsBrakeDrag, Axle: 1}}
	after, _ := assess.Account(s.Snapshot, "1L")
	if got := after.Of(pattern.BrakeFlatSpot).Score - before.Of(pattern.BrakeFlatSpot).Score; got != 2 {
		t.Errorf("a dragging brake counts %d points, want 2", got)
	}
	if !slices.ContainsFunc(after.ChecksFirst, func(c pattern.Check) bool { return c.Code == "brakes" }) {
		t.Errorf("the brakes are not among what to check first: %+v", after.ChecksFirst)
	}
}
