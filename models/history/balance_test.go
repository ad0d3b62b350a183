package history_test

import (
	"math"
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
