package fleet_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// TestWheelCheck: what was measured stands on the tire and, of the rim, on the
// wheel; bad input names every field and changes nothing; a withdrawal takes it back.
func TestWheelCheck(t *testing.T) {
	w := newWorld(t)
	wheel := w.wheel("W-7")
	w.after(day)
	check := func(m ...models.TruenessMeasure) *models.WheelCheck {
		return &models.WheelCheck{Meta: w.meta(""), Position: "1L", WheelID: wheel.ID, Measures: m}
	}

	size := func(text string) models.Size { return must(models.ParseSize(text))(t) }
	turn := units.Angle(360)
	_, err := w.fleet.Record(w.ctx, w.boss, check(models.TruenessMeasure{What: "wobble", Value: size("1 mm")},
		models.TruenessMeasure{What: models.BeadGap, Place: "top", Value: size("51 mm"), High: &turn}))
	wantKind(t, err, models.Invalid)
	var bad *models.Error
	errors.As(err, &bad)

	for _, name := range []string{"measures[0].what", "measures[1].place", "measures[1].value", "measures[1].high_at_deg"} {
		if !slices.ContainsFunc(bad.Fields, func(f models.Field) bool { return f.Name == name }) {
			t.Errorf("%s is not named: %v", name, bad.Fields)
		}
	}

	good := check(
		models.TruenessMeasure{What: models.BeadGap, Value: size("3/32 in")},
		models.TruenessMeasure{What: models.WheelRadial, Value: size("0.080 in")},
	)
	w.record(good)
	view := must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t)
	i := slices.IndexFunc(view.Tires, func(x models.TireWithState) bool { return x.State.Position == "1L" })

	state := view.Tires[i].State
	if len(state.Trueness) != 2 || state.Trueness[0].Value.Text != "3/32 in" || state.Trueness[1].Material != "steel" {
		t.Errorf("stands on the tire: %+v", state.Trueness)
	}

	onWheel := func() []models.TruenessRecord { return must(w.fleet.Wheel(w.ctx, w.boss, wheel.ID))(t).RunOut }
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
	if left := view.Tires[i].State.Trueness; len(left) != 0 || len(onWheel()) != 0 {
		t.Errorf("withdrawn, and still there: %+v, %+v", left, onWheel())
	}
}

// TestWithdrawnCheckGivesTheEarlierRimBack: the rim's value that stood before stands
// again on the wheel, whoever measured it under which tire, and on a tire that was
// fitted on the wheel meanwhile.
func TestWithdrawnCheckGivesTheEarlierRimBack(t *testing.T) {
	w := newWorld(t)

	wheel := w.wheel("W-7")
	check := func(text string) *models.WheelCheck {
		w.after(day)
		e := &models.WheelCheck{
			Meta:     w.meta(""),
			Position: "1L",
			WheelID:  wheel.ID,
			Measures: []models.TruenessMeasure{{What: models.WheelRadial, Value: must(models.ParseSize(text))(t)}},
		}

		w.record(e)
		return e
	}

	onWheel := func() (out string) {
		for _, v := range must(w.fleet.Wheel(w.ctx, w.boss, wheel.ID))(t).RunOut {
			out += v.Value.Text
		}
		return out
	}

	withdraw := func(e models.Event) {
		w.after(time.Hour)
		void := &models.Void{Meta: w.meta("")}
		void.VehicleID, void.Supersedes, void.Reason = e.Header().VehicleID, e.Header().ID, "another wheel"
		w.record(void)
	}

	first := check("0.050 in")
	w.after(day)

	w.record(
		&models.Removal{
			Meta:    w.meta(""),
			Removed: []models.Removed{{Position: "1L", Reason: models.RemovalReasons[0], To: models.InStock}},
		},
	)

	fit := func(number string) models.Tire {
		w.after(day)
		tire := w.tire(number)
		must(w.fleet.CreateTire(w.ctx, w.boss, tire))(t)

		w.record(
			&models.Fit{
				Meta:     w.meta(""),
				Fittings: []models.Fitting{{TireID: tire.ID, Position: "1L", WheelID: wheel.ID}},
			},
		)

		return tire
	}

	fit("B-1")
	second := check("0.080 in")
	third := check("0.090 in")

	if got := onWheel(); got != "0.090 in" {
		t.Fatalf("measured: %s", got)
	}

	w.after(day)
	w.record(
		&models.Removal{
			Meta:    w.meta(""),
			Removed: []models.Removed{{Position: "1L", Reason: models.RemovalReasons[0], To: models.InStock}},
		},
	)

	tire := fit("B-2")
	onTire := func() (out string) {
		for _, v := range must(w.fleet.Tire(w.ctx, w.boss, tire.ID))(t).State.Trueness {
			out += v.Value.Text
		}
		return out
	}

	for _, step := range []struct {
		withdrawn *models.WheelCheck
		want      string
	}{{third, "0.080 in"}, {second, "0.050 in"}, {first, ""}} {
		if step.withdrawn == third && onTire() != "0.090 in" {
			t.Errorf("fitted on the wheel: %s", onTire())
		}

		withdraw(step.withdrawn)

		if onWheel() != step.want || onTire() != step.want {
			t.Errorf(
				"%s withdrawn: %q stands on the wheel, %q on the tire fitted since, want %q",
				step.withdrawn.Measures[0].Value.Text,
				onWheel(),
				onTire(),
				step.want,
			)
		}
	}
}
