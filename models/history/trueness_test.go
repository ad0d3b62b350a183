package history_test

import (
	"slices"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/history"
	"rimledger/models/units"
)

// TestTruenessFollowsTireAndWheel: a measurement of how a tire sits is valid until the
// tire comes off its wheel; run-out of the rim stays with the wheel.
func TestTruenessFollowsTireAndWheel(t *testing.T) {
	t.Parallel()
	meta := func(h int) models.Meta {
		return models.Meta{
			ID:        models.EventID(time.Duration(h).String()),
			VehicleID: car.ID,
			At:        time.Date(2026, 3, 1, h, 0, 0, 0, time.UTC),
		}
	}

	measure := func(w models.TruenessKind, mm int) models.TruenessMeasure {
		size := models.Size{Value: units.Length(mm) * units.Millimetre, Text: "mm"}
		return models.TruenessMeasure{What: w, Value: size}
	}

	check := func(h int, m ...models.TruenessMeasure) models.Event {
		return &models.WheelCheck{Meta: meta(h), Position: "1L", TireID: "t0", WheelID: "w1", Measures: m}
	}

	fit := func(h int, wheel models.WheelID, rim ...models.TruenessRecord) models.Event {
		return &models.Fit{
			Meta:     meta(h),
			Fittings: []models.Fitting{{TireID: "t0", Position: "1L", WheelID: wheel, Rim: rim}},
		}
	}

	off := func(h int) models.Event {
		return &models.Removal{
			Meta:    meta(h),
			Removed: []models.Removed{{Position: "1L", TireID: "t0", To: models.InStock}},
		}
	}

	both := []models.TruenessMeasure{measure(models.BeadGap, 2), measure(models.WheelRadial, 1)}
	known := models.TruenessRecord{
		Point:           models.Point{At: meta(1).At},
		TruenessMeasure: measure(models.WheelRadial, 3),
		WheelID:         "w2",
	}

	repair := func(demounted bool) models.Event {
		return &models.Repair{Meta: meta(3), Position: "1L", TireID: "t0", Demounted: demounted}
	}
	rotation := &models.Rotation{Meta: meta(3), Moves: []models.Move{{From: "1L", To: "1R", TireID: "t0"}}}
	retread := &models.TireMove{Meta: meta(4), TireID: "t0", To: models.InStock,
		NewDepths: []units.Length{8 * units.Millimetre}}

	for name, row := range map[string]struct {
		events []models.Event
		want   []string // the valid measurements, in mm
	}{
		"measured": {[]models.Event{check(2, both...)}, []string{"bead_gap 2", "wheel_radial 1"}},
		"measured again, one of the two": {[]models.Event{check(2, both...), check(3, measure(models.BeadGap, 1))},
			[]string{"bead_gap 1", "wheel_radial 1"}},
		"rotated": {[]models.Event{check(2, both...), rotation}, []string{"bead_gap 2", "wheel_radial 1"}},
		"repaired on its wheel": {[]models.Event{check(2, both...), repair(false)},
			[]string{"bead_gap 2", "wheel_radial 1"}},
		"taken off its wheel to repair": {[]models.Event{check(2, both...), repair(true)},
			[]string{"wheel_radial 1"}},
		"fitted again on the same wheel": {[]models.Event{check(2, both...), off(3), fit(4, "w1")},
			[]string{"wheel_radial 1"}},
		"fitted on a wheel known to run out": {[]models.Event{check(2, both...), off(3), fit(4, "w2", known)},
			[]string{"wheel_radial 3"}},
		"measured loose, then fitted": {[]models.Event{off(2), check(3, both...), fit(4, "w1")},
			[]string{"bead_gap 2", "wheel_radial 1"}},
		"a new tread": {[]models.Event{check(2, both...), off(3), retread}, nil},
	} {
		state := models.TireState{}
		for _, e := range append([]models.Event{fit(1, "w1")}, row.events...) {
			history.Tire(&state, tires()[0], car, e)
		}

		var got []string
		for _, v := range state.Trueness {
			got = append(got, string(v.What)+" "+units.FormatLength(v.Value.Value, units.MM)[:1])
		}

		if !slices.Equal(got, row.want) {
			t.Errorf("%s: %q, want %q", name, got, row.want)
		}
	}
}
