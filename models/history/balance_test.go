package history_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/history"
	"rimledger/models/units"
)

// TestDrift: a wheel that was left at zero with 30 g at 90 degrees and now needs
// 40 g at 180 bare has changed by the vector between both, 50 g at 216.9
// degrees (3-4-5 triangle, by hand), however it was spun; after the tire was off
// its wheel there is nothing to compare.
func TestDrift(t *testing.T) {
	t.Parallel()
	g := func(v float64) models.Mass { return models.Mass{Value: units.Mass(v), Text: "g"} }
	at := func(h int) models.Meta {
		return models.Meta{VehicleID: car.ID, At: time.Date(2026, 3, 1, h, 0, 0, 0, time.UTC)}
	}

	first := &models.BalanceJob{Meta: at(1), TireID: "t", Position: "1L", Planes: "flanges", WeightsOff: true,
		Shown:  []models.PlaneUnbalance{{Plane: "outer", Mass: g(30), Angle: 90}},
		Fitted: []models.FittedWeight{{Plane: "outer", Type: "clip", Mass: g(30), Angle: 90}}}

	bare := &models.BalanceJob{Meta: at(2), TireID: "t", Position: "1L", Planes: "flanges", WeightsOff: true,
		Shown: []models.PlaneUnbalance{{Plane: "outer", Mass: g(40), Angle: 180}}}

	// The same wheel spun with its 30 g on needs the difference.
	spun := &models.BalanceJob{Meta: at(2), TireID: "t", Position: "1L", Planes: "flanges", CheckSpin: true,
		Shown: []models.PlaneUnbalance{{Plane: "outer", Mass: g(50), Angle: 216.8698976}}}

	repair := &models.Repair{Meta: at(2), TireID: "t", Position: "1L", Demounted: true}

	other := &models.BalanceJob{
		Meta:       at(2),
		TireID:     "t",
		Position:   "1L",
		Planes:     "bands",
		WeightsOff: true,
		Shown:      bare.Shown,
	}

	// Nobody knows what weights it has: left at 10 g at 0, found at 30 g at 90, the
	// change is 31.6 g at 108.4 (sqrt(10² + 30²), atan 30/-10, by hand).
	left := &models.BalanceJob{Meta: at(1), TireID: "t", Position: "1L", Planes: "flanges", Fitted: first.Fitted,
		ShownAfter: []models.PlaneUnbalance{{Plane: "outer", Mass: g(10), Angle: 0}}}

	found := &models.BalanceJob{Meta: at(2), TireID: "t", Position: "1L", Planes: "flanges", CheckSpin: true,
		Shown: []models.PlaneUnbalance{{Plane: "outer", Mass: g(30), Angle: 90}}}
	spunBefore := *found // a check spin leaves what it found
	spunBefore.Meta, spunBefore.Shown = at(1), left.ShownAfter
	off := *found
	off.WeightsOff = true
	bare3 := *bare
	bare3.Meta = at(3)

	for name, row := range map[string]struct {
		events []models.Event
		worst  float64 // -1: nothing to compare
		angle  float64
		leftOn bool
	}{
		"bare both times":     {[]models.Event{first, bare}, 50, 216.9, false},
		"with its weights on": {[]models.Event{first, spun}, 50, 216.9, false},
		"the tire was off":    {[]models.Event{first, repair, &bare3}, -1, 0, false},
		"other planes":        {[]models.Event{first, other}, -1, 0, false},
		"the first job":       {[]models.Event{first}, -1, 0, false},
		"weights left on":     {[]models.Event{left, found}, 31.6, 108.4, true},
		"two check spins":     {[]models.Event{&spunBefore, found}, 31.6, 108.4, true},
		"weights off since":   {[]models.Event{left, &off}, -1, 0, false},
	} {
		s, _ := history.ReplayTire(models.Tire{ID: "t", NewDepths: []units.Length{8 * units.Millimetre}},
			map[models.VehicleID]models.Vehicle{car.ID: car}, row.events)
		d := s.Balance.Drift
		if row.worst < 0 && d == nil {
			continue
		}

		if d == nil || row.worst < 0 || d.WorstG < row.worst-0.1 || d.WorstG > row.worst+0.1 ||
			math.Abs(float64(d.Planes[0].Angle)-row.angle) > 0.15 || d.LeftOn != row.leftOn {
			t.Errorf("%s: drift %+v", name, d)
		}
	}
}

// TestBareWithWeightsElsewhere: weights on the bands count by their effect in the flanges
// that are shown. By hand: 150 g at depth 50 and 50 g opposite at depth 150 are 100 g at
// depth 0 (sum 100, first moment 150*50 - 50*150 = 0); half the radius has half the
// effect. With a band that was not measured the bare unbalance is unknown.
func TestBareWithWeightsElsewhere(t *testing.T) {
	t.Parallel()
	mm := func(v int) units.Length { return units.Length(v) * units.Millimetre }
	g := func(v float64) models.Mass { return models.Mass{Value: units.Mass(v), Text: "g"} }
	job := func(radius int, w ...models.FittedWeight) *models.BalanceRecord {
		e := &models.BalanceJob{
			Meta:     models.Meta{VehicleID: car.ID, At: time.Date(2026, 3, 1, 1, 0, 0, 0, time.UTC)},
			TireID:   "t",
			Position: "1L",
			Planes:   "flanges",
			Removed:  w,
			Shown:    []models.PlaneUnbalance{{Plane: "outer"}, {Plane: "inner", Mass: g(10), Angle: 90}},
			Geometry: &models.WheelGeometry{
				OuterRadius:    mm(200),
				InnerRadius:    mm(200),
				InnerOffset:    mm(200),
				AdhesiveRadius: mm(radius),
				AdhesiveOffset: mm(50),
				BackRadius:     mm(radius),
				BackOffset:     mm(150),
			},
		}

		s, _ := history.ReplayTire(models.Tire{ID: "t", NewDepths: []units.Length{8 * units.Millimetre}},
			map[models.VehicleID]models.Vehicle{car.ID: car}, []models.Event{e})

		return s.Balance
	}

	band := models.FittedWeight{Plane: "band", Mass: g(150)}
	back := models.FittedWeight{Plane: "back_band", Mass: g(50), Angle: 180}
	for radius, want := range map[int]float64{200: 100, 100: 50} {
		b := job(radius, band, back).Bare
		if len(b) != 2 || math.Abs(float64(b[0].Mass.Value)-want) > 0.05 || b[0].Angle != 0 ||
			math.Abs(float64(b[1].Mass.Value)-10) > 0.05 || b[1].Angle != 90 {
			t.Errorf("bands at radius %d: bare %+v, want %g g at 0 outside and 10 g at 90 inside", radius, b, want)
		}
	}

	if b := job(0, band).Bare; b != nil {
		t.Errorf("a band that was not measured: bare %+v", b)
	}
	if b := job(0, models.FittedWeight{Plane: "outer_flange", Mass: g(30)}).Bare; len(b) != 2 || b[0].Mass.Value != 30 {
		t.Errorf("the outer flange by name: bare %+v", b)
	}
}

// TestBalanceRecord: what is kept of a job. The vectors are by hand, from the 3-4-5
// triangle: 40 at 180 degrees and 30 at 90 make 50 at 143.1; 40 at 0 and 30 at 90 make
// 50 at 36.9; what changed from 30 at 90 to 40 at 180 is 50 at 216.9.
func TestBalanceRecord(t *testing.T) {
	t.Parallel()
	g := func(v float64) models.Mass { return models.Mass{Value: units.Mass(v), Text: "g"} }
	outer := func(v float64, deg units.Angle) []models.PlaneUnbalance {
		return []models.PlaneUnbalance{{Plane: "outer", Mass: g(v), Angle: deg}}
	}
	weight := func(v float64, deg units.Angle) []models.FittedWeight {
		return []models.FittedWeight{{Plane: "outer", Type: "clip", Mass: g(v), Angle: deg}}
	}
	job := func(id string, day float64, change func(*models.BalanceJob)) models.Event {
		e := balanced(unread(id, day), "1L", false)
		change(e)
		return e
	}

	geometry := &models.WheelGeometry{OuterRadius: 200 * units.Millimetre}
	bare := job("bare", 10, func(e *models.BalanceJob) {
		e.WeightsOff, e.Checks = true, []string{"clean"}
		e.Planes, e.Geometry = "bands", geometry
		e.Shown, e.Fitted, e.ShownAfter = outer(30, 90), weight(30, 90), outer(0, 0)
	})
	on := func(day float64) models.Event {
		return job("on", day, func(e *models.BalanceJob) { e.Shown, e.CheckSpin = outer(40, 180), true })
	}
	repair := repaired(unread("patch", 15), true)

	for name, row := range map[string]struct {
		events []models.Event
		want   string // demand, bare, weights, after, drift, planes
	}{
		"all weights off": {[]models.Event{bare},
			"30 g asked; bare 30 at 90; on 30 at 90; after 0 at 0; planes bands; geometry; checks 1"},
		"a check spin with the weights on": {[]models.Event{bare, on(20)},
			"40 g asked; bare 50 at 143.1; on 30 at 90; after 40 at 180; drift 40 at 180 left on since bare; " +
				"planes bands; geometry"},
		"a check spin after the tire was off": {[]models.Event{bare, repair, on(20)},
			"40 g asked; bare unknown; on unknown; after 40 at 180"},
		"a check spin that shows a second time": {[]models.Event{
			job("on", 20, func(e *models.BalanceJob) {
				e.Shown, e.CheckSpin, e.ShownAfter = outer(40, 180), true, outer(5,
					10)
			})},
			"40 g asked; bare unknown; on unknown; after 5 at 10"},
		"a weight taken off, another put on": {[]models.Event{bare, job("more", 20, func(e *models.BalanceJob) {
			e.Shown, e.Removed, e.Fitted = outer(40, 180), weight(30, 90), weight(50, 143)
		})}, "40 g asked; bare 50 at 143.1; on 50 at 143; after unknown; drift 40 at 180 left on since bare; " +
			"planes bands; geometry"},
		"a weight added": {[]models.Event{bare, job("more", 20, func(e *models.BalanceJob) {
			e.Shown, e.Fitted = outer(40, 0), weight(40, 0)
		})}, "40 g asked; bare 50 at 36.9; on 30 at 90, 40 at 0; after unknown; drift 40 at 0 left on since bare; " +
			"planes bands; geometry"},
		"a weight taken off that the record does not know": {[]models.Event{bare,
			job("more", 20, func(e *models.BalanceJob) {
				e.Shown, e.Removed = outer(40, 0), append(append(weight(30, 91), weight(31, 90)...),
					models.FittedWeight{Plane: "inner", Mass: g(30), Angle: 90})
			})}, "40 g asked; bare 50 at 36.9; on 30 at 90; after unknown; drift 40 at 0 left on since bare; " +
			"planes bands; geometry"},
		"no record, some taken off": {[]models.Event{job("first", 20, func(e *models.BalanceJob) {
			e.Shown, e.Removed, e.Fitted = outer(40, 0), weight(30, 90), weight(50, 36)
		})}, "40 g asked; bare 50 at 36.9; on 50 at 36; after unknown"},
		"no record, none taken off": {[]models.Event{job("first", 20, func(e *models.BalanceJob) {
			e.Shown, e.Fitted = outer(40, 0), weight(40, 0)
		})}, "40 g asked; bare unknown; on unknown; after unknown"},
		"nothing shown": {[]models.Event{bare, job("more", 20, func(e *models.BalanceJob) { e.Fitted = weight(5, 0) })},
			"0 g asked; bare unknown; on 30 at 90, 5 at 0; after unknown; planes bands; geometry"},
		"all off and none put on": {[]models.Event{job("off", 20, func(e *models.BalanceJob) {
			e.WeightsOff, e.Shown = true, outer(40, 0)
		})}, "40 g asked; bare 40 at 0; on; after unknown"},
		"bare again": {[]models.Event{bare, job("again", 20, func(e *models.BalanceJob) {
			e.WeightsOff, e.Shown, e.Fitted = true, outer(40, 180), weight(40, 180)
		})}, "40 g asked; bare 40 at 180; on 40 at 180; after unknown; drift 50 at 216.9 since bare; planes bands; geometry"},
		"two planes, read to a hundredth": {[]models.Event{job("off", 20, func(e *models.BalanceJob) {
			e.WeightsOff, e.Shown = true, outer(10, 30)
			exact := g(9.46)
			e.Shown[0].Unrounded = &exact
			e.Shown = append(e.Shown, models.PlaneUnbalance{Plane: "inner", Mass: g(15), Angle: 40.04})
		})}, "25 g asked; bare 9.5 at 30, 15 at 40; on; after unknown"},
	} {
		s, _ := history.ReplayTire(grooved, map[models.VehicleID]models.Vehicle{car.ID: car},
			append([]models.Event{fitted()}, row.events...))
		if got := jobText(s.Balance); got != row.want {
			t.Errorf("%s:\n got %s\nwant %s", name, got, row.want)
		}
	}
}

// jobText describes what is kept of a balance job.
func jobText(b *models.BalanceRecord) string {
	planes := func(list []models.PlaneUnbalance) string {
		var out []string
		for _, p := range list {
			out = append(out, fmt.Sprintf("%g at %g", float64(p.Mass.Value), float64(p.Angle)))
		}
		return strings.Join(out, ", ")
	}
	known := func(name, list string, unknown bool) string {
		if unknown {
			list = "unknown"
		}
		return strings.TrimSpace(name + " " + list)
	}

	var weights []string
	for _, w := range b.Weights {
		weights = append(weights, fmt.Sprintf("%g at %g", float64(w.Mass.Value), float64(w.Angle)))
	}
	parts := []string{fmt.Sprintf("%g g asked", float64(b.Demand)), known("bare", planes(b.Bare), b.Bare == nil),
		known("on", strings.Join(weights, ", "), b.Weights == nil), known("after", planes(b.After), b.After == nil)}

	if d := b.Drift; d != nil {
		text := "drift " + planes(d.Planes)
		if d.LeftOn {
			text += " left on"
		}
		parts = append(parts, text+" since "+string(d.Since.EventID))
	}
	if b.Planes != "" {
		parts = append(parts, "planes "+b.Planes)
	}
	if b.Geometry != nil {
		parts = append(parts, "geometry")
	}
	if len(b.Checks) > 0 {
		parts = append(parts, fmt.Sprint("checks ", len(b.Checks)))
	}
	return strings.Join(parts, "; ")
}

// TestDriftOfTwoPlanes: a plane shown only once has no drift, and the worst of the others
// counts: 3 g and 4 g at a right angle have changed by 5 g (3-4-5 triangle).
func TestDriftOfTwoPlanes(t *testing.T) {
	t.Parallel()
	p := func(plane string, g float64, deg units.Angle) models.PlaneUnbalance {
		return models.PlaneUnbalance{Plane: plane, Mass: models.Mass{Value: units.Mass(g), Text: "g"}, Angle: deg}
	}
	first, second := balanced(unread("one", 10), "1L", true), balanced(unread("two", 20), "1L", true)
	first.WeightsOff, second.WeightsOff = true, true
	first.Shown = []models.PlaneUnbalance{p("outer", 3, 0), p("inner", 10, 10)}
	second.Shown = []models.PlaneUnbalance{p("outer", 4, 90), p("inner", 12, 10), p("single", 7, 7)}

	s, _ := history.ReplayTire(grooved, map[models.VehicleID]models.Vehicle{car.ID: car},
		[]models.Event{fitted(), first, second})
	d := s.Balance.Drift
	if d == nil || len(d.Planes) != 2 || math.Abs(d.WorstG-5) > 1e-9 || d.Planes[1].Mass.Value != 2 || d.LeftOn {
		t.Errorf("drift %+v", d)
	}
}
