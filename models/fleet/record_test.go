package fleet_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"rimledger/models"
	"rimledger/models/units"
)

// instead makes e the correction, or the withdrawal, of an entry.
func instead[E models.Event](e E, old models.Event) E {
	h := e.Header()
	h.Supersedes, h.Reason = old.Header().ID, "misread"
	return e
}

// another creates a second vehicle like the first, without tires.
func (w *world) another() models.Vehicle {
	w.t.Helper()
	v := w.vehicle
	v.ID, v.Number = newID[models.VehicleID](), "T-02"
	return must(w.fleet.CreateVehicle(w.ctx, w.boss, v))(w.t)
}

// TestCorrectionsRefused: a correction is of the same kind, on the same vehicle, of an entry
// that nothing superseded yet, with a reason; what was withdrawn is recorded anew. A refused
// one changes nothing.
func TestCorrectionsRefused(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	other := w.another()
	w.after(day)
	kept := &models.OdometerEntry{Meta: w.meta("200,300 mi")}
	w.record(kept)
	gone := &models.Alignment{Meta: w.meta("unknown")}
	w.record(gone)
	void := instead(&models.Void{Meta: w.meta("unknown")}, gone)
	w.record(void)
	w.after(time.Hour)

	entry := func() *models.OdometerEntry { return &models.OdometerEntry{Meta: w.meta("200,200 mi")} }
	elsewhere := instead(entry(), kept)
	elsewhere.VehicleID = other.ID
	unsaid := instead(entry(), kept)
	unsaid.Reason = ""
	why := entry()
	why.Reason = "misread"

	for name, row := range map[string]struct {
		event models.Event
		want  models.Kind
	}{
		"an entry of another vehicle":    {elsewhere, models.Invalid},
		"an entry of another kind":       {instead(&models.Retorque{Meta: w.meta("unknown")}, kept), models.Invalid},
		"a withdrawal of a withdrawal":   {instead(&models.Void{Meta: w.meta("unknown")}, void), models.Invalid},
		"a correction of a withdrawal":   {instead(entry(), void), models.Invalid},
		"what was withdrawn":             {instead(&models.Alignment{Meta: w.meta("unknown")}, gone), models.Conflict},
		"what was withdrawn, withdrawn":  {instead(&models.Void{Meta: w.meta("unknown")}, gone), models.Conflict},
		"a correction without a reason":  {unsaid, models.Invalid},
		"a reason without a correction":  {why, models.Invalid},
		"a withdrawal of nothing":        {&models.Void{Meta: w.meta("unknown")}, models.Invalid},
		"a correction of what never was": {instead(entry(), entry()), models.NotFound},
	} {
		_, err := w.fleet.Record(w.ctx, w.boss, row.event)
		if e := wantKind(t, err, row.want); e.Error() == "" {
			t.Errorf("%s: no reason", name)
		}
	}

	view := must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t)
	if text := view.State.Odometer.Text; text != "200,300 mi" || view.State.LastAlignment != nil {
		t.Errorf("a refused correction changed the record: %s, %+v", text, view.State.LastAlignment)
	}
}

// states returns what is known of the vehicle and of the tires at two places, without the
// time of the newest entry.
func (w *world) states(ids ...models.TireID) any {
	w.t.Helper()
	v := must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(w.t).State
	v.LastEventAt = time.Time{}
	all := []any{v}
	for _, id := range ids {
		view := must(w.fleet.Tire(w.ctx, w.boss, id))(w.t)
		view.State.LastEventAt = time.Time{}
		all = append(all, view.State, view.Fitments)
	}
	return all
}

// TestWithdrawn: an entry of any kind that is withdrawn leaves the vehicle and its tires as
// they were before it; the entry stays readable.
func TestWithdrawn(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(30 * day)
	hurt := w.inspection("204,000 mi", all("16/32"))
	hurt.Readings[0].Observations = []models.Observation{{Code: models.ObsBulge, Place: "sidewall_outer"},
		{Code: models.ObsMissingWeight}}
	w.confirm(hurt)
	w.after(day)
	shake := &models.Vibration{Meta: w.meta("unknown"), WorstKMH: 90}
	w.record(shake)
	w.after(day)

	thirty := models.Mass{Value: 30, Text: "30 g"}
	shown := []models.PlaneUnbalance{{Plane: "outer", Mass: thirty}, {Plane: "inner"}}
	left, right := w.tires["1L"], w.tires["1R"]
	gap := models.TruenessMeasure{What: models.BeadGap, Value: models.Size{Value: units.Millimetre, Text: "1 mm"}}

	for _, e := range []models.Event{
		&models.OdometerEntry{Meta: w.meta("204,900 mi")},
		w.inspection("204,900 mi", all("15/32")),
		&models.Removal{Meta: w.meta("204,900 mi"), Removed: []models.Removed{
			{Position: "1L", Reason: models.WornEven, To: models.Scrapped}}},
		&models.Rotation{Meta: w.meta("204,900 mi"), Moves: []models.Move{{From: "1L", To: "1R"}, {From: "1R", To: "1L"}}},
		&models.BalanceJob{Meta: w.meta("unknown"), Position: "1L", Why: models.BalanceLost, Mode: "two_plane",
			CheckSpin: true, Shown: shown},
		&models.Repair{Meta: w.meta("unknown"), Position: "1L", What: "patch", Demounted: true},
		&models.Alignment{Meta: w.meta("unknown")},
		&models.Retorque{Meta: w.meta("unknown")},
		&models.Service{Meta: w.meta("unknown"), What: "dampers"},
		&models.Vibration{Meta: w.meta("unknown"), WorstKMH: 70},
		&models.Vibration{Meta: w.meta("unknown"), Settles: shake.ID},
		&models.Clearance{Meta: func() models.Meta { m := w.meta("unknown"); m.Note = "a splice"; return m }(),
			Position: "1L", Codes: []models.ObservationCode{models.ObsBulge}},
		&models.WheelCheck{Meta: w.meta("unknown"), Position: "1L", Measures: []models.TruenessMeasure{gap}},
	} {
		before := w.states(left, right)
		e.Header().At = w.now
		w.record(e)
		if cmp.Equal(before, w.states(left, right)) {
			t.Errorf("%s changes nothing", e.Kind())
		}

		w.after(time.Hour)
		w.record(instead(&models.Void{Meta: w.meta("unknown")}, e))
		if diff := cmp.Diff(before, w.states(left, right), cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("%s, withdrawn (-before +after):\n%s", e.Kind(), diff)
		}
		if old := must(w.fleet.Event(w.ctx, w.boss, e.Header().ID))(t); old.Header().SupersededBy == "" {
			t.Errorf("%s does not say that it was withdrawn", e.Kind())
		}
		w.after(time.Hour)
	}
}

// TestLateEntry: what arrives late stands where it belongs in time. A reading of day 10 that
// comes after the one of day 20 is the one before; the newest odometer, inspection and
// damage stay, and what the late one found counts from its own day.
func TestLateEntry(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	began := w.now
	w.after(20 * day)
	newest := w.inspection("204,000 mi", all("17/32"))
	w.record(newest)
	w.after(time.Hour)

	late := w.inspection("202,000 mi", all("18/32"))
	late.At = began.Add(10 * day)
	late.Readings[0].Observations = []models.Observation{{Code: models.ObsBulge}}
	got := w.record(late)
	if p := codes(got.Open)[models.Damage]; !slices.Equal(p, []models.Position{"1L"}) {
		t.Errorf("damage of the late entry at %v, want 1L", p)
	}

	check := func(what string, s models.TireState, last, previous models.EventID, damaged bool) {
		t.Helper()
		if s.Last == nil || s.Last.EventID != last || (s.Previous == nil) != (previous == "") ||
			s.Previous != nil && s.Previous.EventID != previous || (len(s.Damage) > 0) != damaged {
			t.Errorf("%s: last %+v, previous %+v, damage %v", what, s.Last, s.Previous, s.Damage)
		}
	}
	tire := func() models.TireState { return must(w.fleet.Tire(w.ctx, w.boss, w.tires["1L"]))(t).State }
	vehicle := func() models.VehicleState { return must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t).State }
	check("late", tire(), newest.ID, late.ID, true)
	if d := tire().Damage[0]; !d.At.Equal(late.At) {
		t.Errorf("damage counts from %s, want %s", d.At, late.At)
	}
	if v := vehicle(); v.Odometer.Text != "204,000 mi" || v.LastInspection.EventID != newest.ID ||
		v.FirstOdometer.Text != "200,000 mi" {
		t.Errorf("vehicle after a late entry: %+v", v)
	}

	// Three readings of even wear: 20, 18 and 17/32 at 0, 2,000 and 4,000 mi.
	if s := tire().MinWear; s.Count != 2 || s.LastMM != (17*units.ThirtySecond).Millimetres() {
		t.Errorf("wear after a late entry: %+v", s)
	}

	// A tire cannot be moved before what was read of it later.
	move := &models.Rotation{Meta: w.meta("unknown"), Moves: []models.Move{{From: "1L", To: "1R"}, {From: "1R",
		To: "1L"}}}
	move.At = began.Add(15 * day)
	_, err := w.fleet.Record(w.ctx, w.boss, move)
	wantKind(t, err, models.Conflict)

	// The late entry is withdrawn: no damage, one reading. Then the newest, too.
	w.after(time.Hour)
	w.record(instead(&models.Void{Meta: w.meta("unknown")}, late))
	check("the late one withdrawn", tire(), newest.ID, "", false)
	w.after(time.Hour)
	w.record(instead(&models.Void{Meta: w.meta("unknown")}, newest))
	if s := tire(); s.Last != nil || s.MinWear.Count != 0 {
		t.Errorf("both withdrawn: %+v", s.Last)
	}
	if v := vehicle(); v.Odometer.Text != "200,000 mi" || v.LastInspection != nil {
		t.Errorf("both withdrawn: %s, %+v", v.Odometer.Text, v.LastInspection)
	}

	// With nothing after it, the move is possible at that time.
	w.record(move)
	if p := tire().Position; p != "1R" {
		t.Errorf("moved to %s, want 1R", p)
	}
}

// TestCorrectedMove: a corrected rotation puts the tires where the right one says, from the
// time of the wrong one, and a withdrawn fit leaves the place empty and the tire in stock.
func TestCorrectedMove(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(day)
	wrong := &models.Rotation{Meta: w.meta("200,300 mi"),
		Moves: []models.Move{{From: "1L", To: "1R"}, {From: "1R", To: "1L"}}}
	w.record(wrong)
	w.after(time.Hour)
	right := instead(&models.Rotation{Meta: w.meta("200,300 mi"),
		Moves: []models.Move{{From: "2LO", To: "2LI"}, {From: "2LI", To: "2LO"}}}, wrong)
	right.At = wrong.At
	w.record(right)

	for was, want := range map[models.Position]models.Position{"1L": "1L", "1R": "1R", "2LO": "2LI", "2LI": "2LO"} {
		view := must(w.fleet.Tire(w.ctx, w.boss, w.tires[was]))(t)
		fitments := map[bool]int{true: 2, false: 1}[was != want]
		if view.State.Position != want || len(view.Fitments) != fitments {
			t.Errorf("the tire of %s is at %s with %d fitments, want %s with %d", was, view.State.Position,
				len(view.Fitments), want, fitments)
		}
	}

	spare := must(w.fleet.CreateTire(w.ctx, w.boss, w.tire("R950")))(t)
	other := w.another()
	fit := &models.Fit{Meta: w.meta("unknown"), Fittings: []models.Fitting{{TireID: spare.ID, Position: "1L"}}}
	fit.VehicleID = other.ID
	w.record(fit)
	w.after(time.Hour)
	void := instead(&models.Void{Meta: w.meta("unknown")}, fit)
	void.VehicleID = other.ID
	w.record(void)
	view := must(w.fleet.Tire(w.ctx, w.boss, spare.ID))(t)
	if view.State.Status != models.InStock || view.State.VehicleID != "" || len(view.Fitments) != 0 {
		t.Errorf("after its fit was withdrawn: %+v", view.State)
	}
}

// TestWithdrawnRemoval: a removal that was a mistake is withdrawn, and the tire is where it
// was; not where another tire stands by now, nor after something happened to it.
func TestWithdrawnRemoval(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	tire := func() models.TireState { return must(w.fleet.Tire(w.ctx, w.boss, w.tires["1L"]))(t).State }
	remove := func() *models.Removal {
		w.after(time.Hour)
		e := &models.Removal{Meta: w.meta("200,300 mi"), Removed: []models.Removed{
			{Position: "1L", Reason: models.WornEven, To: models.InStock}}}
		w.record(e)
		w.after(time.Hour)
		return e
	}
	withdraw := func(e models.Event) error {
		_, err := w.fleet.Record(w.ctx, w.boss, instead(&models.Void{Meta: w.meta("unknown")}, e))
		return err
	}

	if err := withdraw(remove()); err != nil {
		t.Fatal(err)
	}
	if s := tire(); s.Position != "1L" || s.VehicleID != w.vehicle.ID || s.Removed != nil {
		t.Errorf("after its removal was withdrawn: %+v", s)
	}

	// Another tire stands there now: two in one place cannot be.
	off := remove()
	other := must(w.fleet.CreateTire(w.ctx, w.boss, w.tire("R960")))(t)
	fit := &models.Fit{Meta: w.meta("unknown"), Fittings: []models.Fitting{{TireID: other.ID, Position: "1L"}}}
	w.record(fit)
	w.after(time.Hour)
	if e := wantKind(t, withdraw(off), models.Conflict); !strings.Contains(e.Msg, "R960") {
		t.Errorf("refused without naming what stands there: %s", e.Msg)
	}
	if err := withdraw(fit); err != nil {
		t.Fatal(err)
	}
	if err := withdraw(off); err != nil || tire().Position != "1L" {
		t.Errorf("with the place empty again: %v, %+v", err, tire())
	}

	// Sent to the retreader since.
	off = remove()
	sent := &models.TireMove{Meta: w.meta("unknown"), TireID: w.tires["1L"], To: models.AtRetreader}
	sent.VehicleID = ""
	w.record(sent)
	w.after(time.Hour)
	wantKind(t, withdraw(off), models.Conflict)
}

// TestTimeOfAnEntry: a phone's clock may run ten minutes ahead (chosen by us); nothing is
// older than 1990.
func TestTimeOfAnEntry(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(day)
	for _, row := range []struct {
		name string
		at   time.Time
		ok   bool
	}{
		{"ten minutes ahead", w.now.Add(10 * time.Minute), true},
		{"a second more", w.now.Add(10*time.Minute + time.Second), false},
		{"the first moment of 1990", time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC), true},
		{"the last of 1989", time.Date(1989, 12, 31, 23, 59, 59, 0, time.UTC), false},
	} {
		e := &models.Alignment{Meta: w.meta("unknown")}
		e.At = row.at
		_, err := w.fleet.Record(w.ctx, w.boss, e)
		if row.ok && err != nil {
			t.Errorf("%s: %v", row.name, err)
		}
		if !row.ok && wantKind(t, err, models.Invalid).Fields[0].Name != "at" {
			t.Errorf("%s: %v", row.name, err)
		}
	}
}

// TestOdometerLeap: 1,500 km a day, and as much within one day, is believed (chosen by us:
// two drivers at 62 km/h around the clock); more, or less than the last, is asked about.
func TestOdometerLeap(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(100 * day)
	w.record(&models.OdometerEntry{Meta: w.meta("400000 km")})
	for _, row := range []struct {
		name  string
		after time.Duration
		km    string
		code  string
	}{
		{"the same", time.Hour, "400000 km", ""},
		{"one less", time.Hour, "399999 km", "odometer_back"},
		{"a day's worth within an hour", time.Hour, "401500 km", ""},
		{"one more", time.Hour, "401501 km", "odometer_leap"},
		{"two days' worth", 2 * day, "403000 km", ""},
		{"one more in two days", 2 * day, "403001 km", "odometer_leap"},
	} {
		before := w.now
		w.after(row.after)
		e := &models.OdometerEntry{Meta: w.meta(row.km)}
		_, err := w.fleet.Record(w.ctx, w.boss, e)
		if row.code == "" && err != nil {
			t.Errorf("%s: %v", row.name, err)
		}
		if row.code == "" {
			w.after(time.Hour)
			w.record(instead(&models.Void{Meta: w.meta("unknown")}, e))
		} else if held := wantKind(t, err, models.Held); held.Fields[0].Code != row.code {
			t.Errorf("%s: held for %s, want %s", row.name, held.Fields[0].Code, row.code)
		}
		w.now = before
	}

	// What happened before the newest odometer was read is not measured by it.
	w.after(time.Hour)
	late := &models.OdometerEntry{Meta: w.meta("322000 km")}
	late.At = w.now.Add(-90 * day)
	w.record(late)

	// A changed counter is confirmed.
	w.after(day)
	changed := &models.OdometerEntry{Meta: w.meta("12 km")}
	changed.Confirmed = []string{"odometer_back"}
	w.record(changed)
}

// TestReadTheSame: four wheels that read exactly as last time are asked about, three are
// not (chosen by us).
func TestReadTheSame(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(day)
	w.record(w.inspection("200,300 mi", all("19/32")))

	same := func(n int) *models.Inspection {
		alike := w.vehicle.WalkingOrder()[:n]
		return w.inspection("203,000 mi", func(p models.Position) string {
			if slices.Contains(alike, p) {
				return "19/32"
			}
			return "18/32"
		})
	}

	w.after(10 * day)
	_, err := w.fleet.Record(w.ctx, w.boss, same(4))
	held := wantKind(t, err, models.Held)
	if len(held.Fields) != 1 || held.Fields[0].Code != "same_as_last" || !strings.Contains(held.Fields[0].Remedy,
		"4 wheels") {
		t.Errorf("four the same: held for %+v", held.Fields)
	}
	w.record(same(3))
}

// TestSetAside: a finding can be set aside for 180 days, what is off the road for a week
// (chosen by us), always from now on and with a reason.
func TestSetAside(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(40 * day)
	e := w.inspection("204,000 mi", all("17/32"))
	e.Readings[0].Observations = []models.Observation{{Code: models.ObsBulge}}
	e.Readings[1].Observations = []models.Observation{{Code: models.ObsMissingWeight}}
	open := w.record(e).Open
	of := func(urgent bool) models.Finding {
		i := slices.IndexFunc(open, func(f models.Finding) bool { return (f.Urgency == models.OffTheRoad) == urgent })
		if i < 0 {
			t.Fatalf("no such finding among %v", codes(open))
		}
		return open[i]
	}

	for _, row := range []struct {
		name   string
		urgent bool
		ahead  time.Duration
		why    string
		field  string
	}{
		{"180 days", false, 180 * day, "waiting for parts", ""},
		{"a second more", false, 180*day + time.Second, "waiting for parts", "until"},
		{"off the road, a week", true, 7 * day, "parked", ""},
		{"off the road, a second more", true, 7*day + time.Second, "parked", "until"},
		{"until now", false, 0, "waiting for parts", "until"},
		{"a second", false, time.Second, "waiting for parts", ""},
		{"no reason", false, day, " ", "why"},
		{"a reason of 500 characters", false, day, strings.Repeat("x", 500), ""},
		{"a reason of 501", false, day, strings.Repeat("x", 501), "why"},
	} {
		f, err := w.fleet.Acknowledge(w.ctx, w.boss, of(row.urgent).ID, w.now.Add(row.ahead), row.why)
		if row.field == "" && (err != nil || f.Ack == nil || !f.Ack.Until.Equal(w.now.Add(row.ahead))) {
			t.Errorf("%s: %+v, %v", row.name, f.Ack, err)
		}
		if row.field != "" && wantKind(t, err, models.Invalid).Fields[0].Name != row.field {
			t.Errorf("%s: %v, want field %s", row.name, err, row.field)
		}
	}
}

// TestPhotosOfAReading: a reading names at most four photos, of its own vehicle.
func TestPhotosOfAReading(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	other := w.another()
	shoot := func(v models.VehicleID) models.PhotoID {
		p := models.Photo{ID: newID[models.PhotoID](), VehicleID: v, Data: shot(t, 8, 8)}
		return must(w.fleet.AddPhoto(w.ctx, w.boss, p))(t).ID
	}
	own := []models.PhotoID{shoot(w.vehicle.ID), shoot(w.vehicle.ID), shoot(w.vehicle.ID), shoot(w.vehicle.ID)}
	w.after(day)

	for name, row := range map[string]struct {
		photos []models.PhotoID
		field  string
	}{
		"of another vehicle": {[]models.PhotoID{own[0], shoot(other.ID)}, "readings[0].photos[1]"},
		"five":               {append(slices.Clone(own), own[0]), "readings[0].photos"},
		"four":               {own, ""},
	} {
		e := w.inspection("200,100 mi", all("19/32"))
		e.Readings[0].Photos = row.photos
		_, err := w.fleet.Record(w.ctx, w.boss, e)
		if row.field == "" && err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if row.field != "" && wantKind(t, err, models.Invalid).Fields[0].Name != row.field {
			t.Errorf("%s: %v, want %s", name, err, row.field)
		}
	}
}
