package assess_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/legal"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// anything draws a vehicle in any state that the record allows, and some that
// it should not.
func anything(t *rapid.T) assess.Snapshot {
	when := func(label string) time.Time {
		return now.Add(-time.Duration(rapid.Int64Range(-int64(10*day), int64(900*day)).Draw(t, label)))
	}

	odometer := func(label string) models.Odometer {
		if !rapid.Bool().Draw(t, label+" known") {
			return models.Odometer{}
		}
		return models.Odometer{
			Known:     true,
			Value:     units.Distance(rapid.Int64Range(0, int64(1_000_000*units.Kilometre)).Draw(t, label)),
			Estimated: rapid.Bool().Draw(t, label+" estimated"),
		}
	}

	point := func(label string) *models.Point {
		if rapid.IntRange(0, 3).Draw(t, label+" is") == 0 {
			return nil
		}
		return &models.Point{At: when(label), Odometer: odometer(label)}
	}

	class := rapid.SampledFrom(models.Classes).Draw(t, "class")
	v := models.Vehicle{
		ID:        "v",
		Class:     class,
		Spares:    rapid.IntRange(0, 2).Draw(t, "spares"),
		MaxMassKG: rapid.IntRange(0, 40_000).Draw(t, "mass"),
		Seats: rapid.IntRange(0, 60).
			Draw(t, "seats"),
		NoOdometer: rapid.Bool().Draw(t, "no odometer"),
		Stamp:      models.Stamp{CreatedAt: when("created")},
	}

	for range rapid.IntRange(1, 4).Draw(t, "axles") {
		v.Axles = append(v.Axles, models.Axle{
			Steered:  rapid.Bool().Draw(t, "steered"),
			Driven:   rapid.Bool().Draw(t, "driven"),
			Dual:     rapid.Bool().Draw(t, "dual"),
			Pressure: *psi(float64(rapid.IntRange(0, 130).Draw(t, "target"))),
		})
	}

	state := models.VehicleState{
		Odometer:       odometer("odometer"),
		OdometerAt:     when("read"),
		LastInspection: point("inspection"),
		LastPressure:   point("pressure"),
		LastRotation:   point("rotation"),
		LastAlignment:  point("alignment"),
		RetorqueFrom:   point("wheels off"),
		LastDampers:    point("dampers"),
	}

	for range rapid.IntRange(0, 2).Draw(t, "noted") {
		state.Observations = append(state.Observations, models.Observation{
			Code: rapid.SampledFrom(models.VehicleCodes).Draw(t, "noted code"),
			Axle: rapid.IntRange(0, 3).Draw(t, "noted axle"),
		})
	}

	if rapid.Bool().Draw(t, "use") {
		state.Use = wear.StartUse(wear.DefaultUse(string(class)))
		at := float64(now.Unix())/86400 - rapid.Float64Range(0, 300).Draw(t, "use since")
		if u, err := state.Use.Update(at, 90_000); err == nil {
			state.Use = u
		}
	}

	if rapid.Bool().Draw(t, "complaint") {
		state.Complaints = []models.Complaint{
			{
				EventID: "c",
				At:      when("shake"),
				Report:  models.Vibration{WorstKMH: rapid.Float64Range(0, 200).Draw(t, "worst")},
			},
		}
	}

	s := assess.Snapshot{Now: now, Zone: time.UTC, Vehicle: v, State: state,
		Policy: models.DefaultPolicy(class, units.Metric),
		Depot: models.Depot{
			ID:           "d",
			Jurisdiction: rapid.SampledFrom(append(legal.Codes(), "", "XX")).Draw(t, "jurisdiction"),
			Units:        rapid.SampledFrom([]units.Set{units.US, units.Metric}).Draw(t, "units"),
		}}

	for i, at := range v.Positions() {
		if rapid.IntRange(0, 9).Draw(t, "empty") > 0 {
			s.Tires = append(s.Tires, anyTire(t, i, at, when, point))
		}
	}

	return s
}

// anyTire draws the tire number i of a vehicle, with a state.
func anyTire(
	t *rapid.T,
	i int,
	at models.Position,
	when func(string) time.Time,
	point func(string) *models.Point,
) models.TireWithState {
	tire := models.Tire{
		ID:   models.TireID(fmt.Sprintf("t%02d", i)),
		Size: rapid.SampledFrom([]string{"295/75R22.5 144/141L", "11R22.5", "12.00-20", "made up", ""}).Draw(t, "size"),
		TIN: rapid.SampledFrom([]string{"", "B9JAXK22716", "B9JAXK2LM509", "nonsense"}).
			Draw(t, "tin"),
		LifeIndex: rapid.IntRange(0, 2).Draw(t, "life"),
		Winter:    rapid.Bool().Draw(t, "winter"),
		Regrooved: rapid.Bool().Draw(t, "regrooved"),
	}

	for range rapid.IntRange(0, 4).Draw(t, "grooves when new") {
		tire.NewDepths = append(tire.NewDepths, 18*in32)
	}

	st := models.TireState{
		Status:          models.Mounted,
		VehicleID:       "v",
		Position:        at,
		FittedOn:        point("fitted"),
		PlacedAt:        point("placed"),
		Last:            anyMeasured(t, "last", at, when),
		Previous:        anyMeasured(t, "previous", at, when),
		UnbalancedSince: point("unbalanced"),
		MissingWeight:   point("lost weight"),
	}

	if p := point("balance"); p != nil {
		st.Balance = &models.BalanceRecord{
			Point:     *p,
			VehicleID: "v",
			Verdict: models.BalanceVerdict{
				Proven: true,
				Within: rapid.Bool().Draw(t, "within"),
				Reason: "12 g is left",
				Limit:  "7 g",
			},
		}
	}

	if p := point("damage"); p != nil && rapid.Bool().Draw(t, "damaged") {
		st.Damage = []models.ActiveDamage{{Point: *p, Observation: models.Observation{Code: models.ObsBulge}}}
	}

	fitting := wear.Fitting{XKM: 80_000, NewMM: 14.3, Fresh: true}
	if s, err := wear.Start(wear.DefaultPrior("tractor", "drive"), fitting); err == nil &&
		rapid.Bool().Draw(t, "estimated wear") {
		mm := rapid.Float64Range(0, 14).Draw(t, "mm")
		if next, _, err := s.Update(wear.Reading{XKM: 89_000, DepthMM: mm, Gauge: wear.Gauge32nd}); err == nil {
			s = next
		}
		st.MinWear, st.MeanWear = &s, &s
	}

	return models.TireWithState{Tire: tire, State: st}
}

// anyMeasured draws a reading at a place, or nil. Its grids may have holes and grooves of
// different lengths.
func anyMeasured(t *rapid.T, label string, at models.Position, when func(string) time.Time) *models.Measured {
	if rapid.IntRange(0, 4).Draw(t, label) == 0 {
		return nil
	}

	m := &models.Measured{
		Point:     models.Point{At: when(label)},
		VehicleID: "v",
		Reading:   models.Reading{Position: at, Hot: rapid.Bool().Draw(t, "hot")},
	}

	for range rapid.IntRange(0, 4).Draw(t, "grooves") {
		var groove []*models.Depth
		for range rapid.SampledFrom([]int{1, 3, 8}).Draw(t, "stations") {
			var d *models.Depth
			if rapid.IntRange(0, 5).Draw(t, "hole") > 0 {
				d = depth(units.Length(rapid.Int64Range(0, int64(18*in32)).Draw(t, "depth")))
			}
			groove = append(groove, d)
		}
		m.Reading.Depths = append(m.Reading.Depths, groove)
	}

	if rapid.Bool().Draw(t, "gauged") {
		m.Reading.Pressure = psi(float64(rapid.IntRange(0, 140).Draw(t, "psi")))
	}

	for range rapid.IntRange(0, 3).Draw(t, "observations") {
		m.Reading.Observations = append(m.Reading.Observations, models.Observation{
			Code:  rapid.SampledFrom(models.PositionCodes).Draw(t, "code"),
			Count: rapid.IntRange(0, 9).Draw(t, "count"),
		})
	}

	return m
}

// TestAnything: whatever the state, findings are complete, finite, one for each key, the
// same each time and in whatever order the tires come.
func TestAnything(t *testing.T) {
	t.Parallel()

	rapid.Check(t, func(t *rapid.T) {
		s := anything(t)
		r := assess.Assess(s)

		keys := map[models.FindingKey]bool{}
		for _, f := range r.Findings {
			if keys[f.Key()] {
				t.Fatalf("two findings with key %v", f.Key())
			}
			keys[f.Key()] = true
			complete(t, f)
		}

		if r.NextCheck != nil && !r.NextCheck.After(s.Now) {
			t.Fatalf("next check %v is not after now", r.NextCheck)
		}

		slices.Reverse(s.Tires)
		if diff := cmp.Diff(r, assess.Assess(s)); diff != "" {
			t.Fatalf("another order of tires changes the result:\n%s", diff)
		}
	})
}

// TestUntilNextCheck: before the next check, time alone changes no finding.
// Forecasts are left out: they are computed anew within 30 days and move a little.
func TestUntilNextCheck(t *testing.T) {
	t.Parallel()
	titles := func(s assess.Snapshot) (out []string) {
		for _, f := range assess.Assess(s).Findings {
			out = append(out, fmt.Sprintf("%v %s %s", f.Key(), f.Urgency, f.Title))
		}
		return out
	}

	rapid.Check(t, func(t *rapid.T) {
		s := anything(t)
		for i := range s.Tires {
			s.Tires[i].State.MinWear = nil
		}

		wait := 3 * 365 * day
		if next := assess.Assess(s).NextCheck; next != nil {
			wait = next.Sub(s.Now)
		}

		later := s
		later.Now = s.Now.Add(time.Duration(rapid.Int64Range(0, int64(wait)-1).Draw(t, "wait")))
		if diff := cmp.Diff(titles(s), titles(later)); diff != "" {
			t.Fatalf("from %v to %v, next check in %v:\n%s", s.Now, later.Now, wait, diff)
		}
	})
}

// complete fails if a finding lacks a part or has a text with a number that went wrong.
func complete(t *rapid.T, f models.Finding) {
	for part, good := range map[string]bool{
		"code":      f.Code != "",
		"vehicle":   f.VehicleID == "v",
		"depot":     f.DepotID == "d",
		"since":     !f.Since.IsZero(),
		"urgency":   f.Urgency >= models.OffTheRoad && f.Urgency <= models.Watch,
		"title":     f.Title != "" && !strings.Contains(f.Title, "\n"),
		"first job": f.FirstJob != "",
		"evidence":  len(f.Evidence) > 0,
	} {
		if !good {
			t.Fatalf("%s missing in finding %+v", part, f)
		}
	}

	text := f.Title + f.FirstJob + f.Safety + f.Notice
	for _, e := range f.Evidence {
		if e.Text == "" {
			t.Fatalf("empty evidence in %+v", f)
		}
		text += e.Text + e.Source
	}

	for _, bad := range []string{"NaN", "+Inf", "-Inf", "%!", "0001-01-01"} {
		if strings.Contains(text, bad) {
			t.Fatalf("%q in finding %+v", bad, f)
		}
	}

	if (f.Code == models.BelowLegal || f.Code == models.NearLegal) && !strings.Contains(f.Notice, legal.Notice) {
		t.Fatalf("a legal warning without who decides: %+v", f)
	}
	if f.Urgency == models.OffTheRoad && f.Safety == "" {
		t.Fatalf("off the road without a caution: %+v", f)
	}
}

// TestMonotone: less tread never makes a vehicle better.
func TestMonotone(t *testing.T) {
	t.Parallel()
	worst := func(s *scene) models.Urgency {
		u := models.Watch + 1
		for _, f := range assess.Assess(s.Snapshot).Findings {
			u = min(u, f.Urgency)
		}
		return u
	}

	rapid.Check(t, func(t *rapid.T) {
		a := units.Length(rapid.Int64Range(0, int64(14*in32)).Draw(t, "depth"))
		b := units.Length(rapid.Int64Range(0, int64(a)).Draw(t, "less"))
		j := rapid.SampledFrom(legal.Codes()).Draw(t, "jurisdiction")
		more, less := tractor().all(a), tractor().all(b)

		more.Depot.Jurisdiction, less.Depot.Jurisdiction = j, j
		if worst(less) > worst(more) {
			t.Fatalf("in %s, %s is %s and %s is %s", j, units.FormatLength(a, units.In32), worst(more),
				units.FormatLength(b, units.In32), worst(less))
		}
	})
}

// BenchmarkAssess is one vehicle of ten wheels with forecasts, a few of them worn.
func BenchmarkAssess(b *testing.B) {
	s := tractor()

	s.State.OdometerAt, s.State.Use.Day = now, float64(now.Unix())/86400
	for i := range s.Tires {
		st, err := wear.Start(wear.DefaultPrior("tractor", "drive"),
			wear.Fitting{XKM: 60_000, NewMM: 14.3, Fresh: true})
		if err != nil {
			b.Fatal(err)
		}

		if st, _, err = st.Update(wear.Reading{XKM: 100_000, DepthMM: 9, Gauge: wear.Gauge32nd}); err != nil {
			b.Fatal(err)
		}
		s.Tires[i].State.MinWear, s.Tires[i].Tire.TIN = &st, "B9JAXK22716"
	}

	s.axle(1, 3*in32)
	s.axle(2, 5*in32)
	b.ReportAllocs()

	for b.Loop() {
		assess.Assess(s.Snapshot)
	}
}
