package fleet_test

import (
	"errors"
	"slices"
	"testing"

	"rimledger/models"
	"rimledger/models/units"
)

// TestWheelCheck: what was measured stands on the tire and, of the rim, on the
// wheel; bad input names every field and changes nothing; a withdrawal takes it back.
func TestWheelCheck(t *testing.T) {
	w := newWorld(t)
	wheel := w.wheel("W-7")
	w.after(day)
	check := func(m ...models.TrueMeasure) *models.WheelCheck {
		return &models.WheelCheck{Meta: w.meta(""), Position: "1L", WheelID: wheel.ID, Measures: m}
	}
	size := func(text string) models.Size { return must(models.ParseSize(text))(t) }
	turn := units.Angle(360)
	_, err := w.fleet.Record(w.ctx, w.boss, check(models.TrueMeasure{What: "wobble", Value: size("1 mm")},
		models.TrueMeasure{What: models.BeadGap, Place: "top", Value: size("51 mm"), High: &turn}))
	wantKind(t, err, models.Invalid)
	var bad *models.Error
	errors.As(err, &bad)
	for _, name := range []string{"measures[0].what", "measures[1].place", "measures[1].value", "measures[1].high_at_deg"} {
		if !slices.ContainsFunc(bad.Fields, func(f models.Field) bool { return f.Name == name }) {
			t.Errorf("%s is not named: %v", name, bad.Fields)
		}
	}
	good := check(models.TrueMeasure{What: models.BeadGap, Value: size("3/32 in")}, models.TrueMeasure{What: models.WheelRadial, Value: size("0.080 in")})
	w.record(good)
	view := must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t)
	i := slices.IndexFunc(view.Tires, func(x models.TireWithState) bool { return x.State.Position == "1L" })
	state := view.Tires[i].State
	if len(state.True) != 2 || state.True[0].Value.Text != "3/32 in" || state.True[1].Material != "steel" {
		t.Errorf("stands on the tire: %+v", state.True)
	}
	onWheel := func() []models.TrueValue { return must(w.fleet.Wheel(w.ctx, w.boss, wheel.ID))(t).RunOut }
	if got := onWheel(); len(got) != 1 || got[0].What != models.WheelRadial {
		t.Errorf("stands on the wheel: %+v", got)
	}
	edit := must(w.fleet.Wheel(w.ctx, w.boss, wheel.ID))(t)
	edit.Number, edit.RunOut = "W-7b", nil
	must(w.fleet.EditWheel(w.ctx, w.boss, edit))(t)
	if len(onWheel()) != 1 {
		t.Error("an edit of the wheel lost its run-out")
	}
	void := &models.Void{Meta: w.meta("")}
	void.Supersedes, void.Reason = good.ID, "another wheel"
	w.record(void)
	view = must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t)
	if left := view.Tires[i].State.True; len(left) != 0 || len(onWheel()) != 0 {
		t.Errorf("withdrawn, and still there: %+v, %+v", left, onWheel())
	}
}
