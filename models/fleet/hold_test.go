package fleet_test

import (
	"errors"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// confirm records e, with every value confirmed that is asked about.
func (w *world) confirm(e models.Event) {
	w.t.Helper()
	_, err := w.fleet.Record(w.ctx, w.boss, e)
	var held *models.Error
	if errors.As(err, &held) && held.Kind == models.Held {
		for _, f := range held.Fields {
			e.Header().Confirmed = append(e.Header().Confirmed, f.Code)
		}
		_, err = w.fleet.Record(w.ctx, w.boss, e)
	}
	if err != nil {
		w.t.Fatal(err)
	}
}

// asked returns what is asked about e at 1L, or everywhere but there.
func (w *world) asked(e models.Event) []string {
	w.t.Helper()
	_, err := w.fleet.Record(w.ctx, w.boss, e)
	if err == nil {
		return nil
	}
	var held *models.Error
	if !errors.As(err, &held) || held.Kind != models.Held {
		w.t.Fatal(err)
	}

	var codes []string
	for _, f := range held.Fields {
		codes = append(codes, f.Code)
	}
	return slices.Compact(codes)
}

// grooves are depths of 1L by space; the other places are not read.
func (w *world) grooves(odometer, depths string) *models.Inspection {
	w.t.Helper()
	e := &models.Inspection{Meta: w.meta(odometer), Readings: []models.Reading{{Position: "1L"}}}
	for _, text := range strings.Fields(depths) {
		d := must(models.ParseDepth(text, units.In32))(w.t)
		e.Readings[0].Depths = append(e.Readings[0].Depths, []*models.Depth{&d})
	}
	return e
}

// TestHoldsOnlyWhatCannotBeRight: usual wear is recorded, what no wear explains is asked
// about, groove by groove.
func TestHoldsOnlyWhatCannotBeRight(t *testing.T) {
	t.Parallel()

	for _, tc := range []struct {
		name, before, now string
		days              int
		odometer          string
		want              string
	}{
		{"three 32nds in forty days", "17 17 17", "14 14 14", 40, "212,000 mi", ""},
		{"three 32nds on one shoulder", "17 17 17", "14 15 16", 40, "212,000 mi", ""},
		{"fourteen 32nds in six days", "17 17 17", "3 3 3", 6, "202,400 mi", "depth_drop:1L"},
		{"two grooves that grow", "16 16 16", "20 16 20", 10, "203,000 mi", "depth_rise:1L"},
		{"one groove that grows", "16 16 16", "16 16 20", 10, "203,000 mi", "depth_rise:1L"},
		{"a groove one 32nd up", "16 16 16", "16 16 17", 10, "203,000 mi", ""},
		{"all grooves one 32nd up", "16 16 16", "17 17 17", 10, "203,000 mi", ""},
		{"all grooves two 32nds up", "16 16 16", "18 18 18", 10, "203,000 mi", "depth_rise:1L"},
		{"a dropped digit", "14 14 14", "14 4 14", 20, "205,000 mi", "depth_drop:1L"},
		{"mm from the other gauge", "16 16 16", "12.7 12.6 12.7", 10, "203,000 mi", "unit:1L"},
		{"32nds into mm", "12.7mm 12.6mm 12.7mm", "16mm 16mm 16mm", 10, "203,000 mi", "unit:1L"},
		{"32nds into mm, below new", "9.5mm 9.5mm 9.4mm", "12mm 12mm 12mm", 10, "203,000 mi", "unit:1L"},
		{"one new depth and two 32nds", "20 20 20", "22 22 22", 1, "201,000 mi", "depth_rise:1L"},
		{"above new", "20 20 20", "22.1 22 22", 1, "201,000 mi", "above_new:1L"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			w := newWorld(t)
			w.after(day)
			w.confirm(w.grooves("200,500 mi", tc.before))
			for range tc.days {
				w.after(day)
			}

			if got := strings.Join(w.asked(w.grooves(tc.odometer, tc.now)), " "); got != tc.want {
				t.Errorf("%s after %s is asked about as %q, want %q", tc.now, tc.before, got, tc.want)
			}
		})
	}
}

// correction returns a copy of e that corrects it.
func correction[E models.Event](w *world, e E, change func(E)) E {
	w.t.Helper()
	h := e.Header()
	was := *h
	h.ID, h.Supersedes, h.Reason = w.meta("").ID, was.ID, "misread"
	h.Confirmed = nil
	change(e)
	return e
}

// TestCorrectionsAreComparedWithWhatStoodBefore: a correction is judged as the entry
// would have been that it corrects, with nothing of that entry and nothing later.
func TestCorrectionsAreComparedWithWhatStoodBefore(t *testing.T) {
	t.Parallel()

	start := func(t *testing.T, depths string) (*world, *models.Inspection) {
		w := newWorld(t)
		w.after(day)
		w.confirm(w.inspection("200,500 mi", all("16/32")))
		w.after(20 * day)
		e := w.inspection("205,000 mi", all(depths))
		w.confirm(e)
		return w, e
	}

	t.Run("a note changes nothing that could be asked about", func(t *testing.T) {
		t.Parallel()
		w, e := start(t, "16/32") // the same as last time, confirmed
		w.after(5 * day)
		w.confirm(w.inspection("206,000 mi", all("15/32")))
		if got := w.asked(correction(w, e, func(e *models.Inspection) { e.Note = "gauge 2" })); got != nil {
			t.Errorf("a note is asked about as %q", got)
		}
	})

	t.Run("a misread depth put right is no rise", func(t *testing.T) {
		t.Parallel()
		w, e := start(t, "3/32")
		right := w.inspection("205,000 mi", all("15/32"))
		right.At, right.Supersedes, right.Reason = e.At, e.ID, "typed 3 for 15"
		if got := w.asked(right); got != nil {
			t.Errorf("the right depth is asked about as %q", got)
		}
	})

	t.Run("a wrong depth is asked about as in a new entry", func(t *testing.T) {
		t.Parallel()
		w, e := start(t, "15/32")
		got := w.asked(correction(w, e, func(e *models.Inspection) {
			e.Readings = w.grooves("205,000 mi", "15 5 15").Readings
		}))
		if !slices.Equal(got, []string{"depth_drop:1L"}) {
			t.Errorf("asked about %q", got)
		}
	})

	for odometer, want := range map[string]string{
		"2,050,000 mi": "odometer_leap", "20,500 mi": "odometer_back", "205,100 mi": "", "206,100 mi": "odometer_ahead",
	} {
		t.Run("odometer "+odometer, func(t *testing.T) {
			t.Parallel()
			w, e := start(t, "15/32")
			w.after(day)
			w.confirm(w.grooves("206,000 mi", "15 15 15"))
			got := strings.Join(w.asked(correction(w, e, func(e *models.Inspection) {
				e.Odometer = w.meta(odometer).Odometer
			})), " ")
			if got != want {
				t.Errorf("asked about %q, want %q", got, want)
			}
		})
	}
}

// TestWordsCanAlwaysBeCorrected: who did it, why and a note are put right whatever came
// later, for entries whose content could not be recorded a second time.
func TestWordsCanAlwaysBeCorrected(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(day)

	report := &models.Vibration{Meta: w.meta("200,600 mi"), StartsKMH: 80}
	w.record(report)
	settled := &models.Vibration{Meta: w.meta("200,700 mi"), Settles: report.ID}
	w.record(settled)

	bulge := w.grooves("200,800 mi", "19 19 19")
	bulge.Readings[0].Observations = []models.Observation{{Code: models.ObsBulge}}
	w.record(bulge)
	cleared := &models.Clearance{Meta: w.meta("200,900 mi"), Position: "1L",
		Codes: []models.ObservationCode{models.ObsBulge}}
	cleared.Note = "a seam"
	w.record(cleared)

	off := &models.Removal{Meta: w.meta("201,000 mi"), Removed: []models.Removed{
		{Position: "1R", Reason: models.WornEven, To: models.InStock}}}
	w.record(off)
	on := &models.Fit{Meta: w.meta("201,100 mi"), Fittings: []models.Fitting{
		{Position: "1R", TireID: off.Removed[0].TireID}}}
	w.record(on)
	w.after(day)
	w.confirm(w.inspection("201,500 mi", all("18/32")))

	for _, e := range []models.Event{settled, report, cleared, bulge, off, on} {
		note := func(e models.Event) { e.Header().Note = "written by the night shift" }
		if _, err := w.fleet.Record(w.ctx, w.boss, correction(w, e, note)); err != nil {
			t.Errorf("a note on a %s: %v", e.Kind(), err)
		}
	}

	view := must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t)
	isDamaged := codes(view.Findings)[models.Damage] != nil
	if len(view.Tires) != len(w.tires) || len(view.State.Complaints) != 0 || isDamaged {
		t.Errorf("notes left %d tires of %d, complaints %v, damage %t", len(view.Tires), len(w.tires),
			view.State.Complaints, isDamaged)
	}
}

// TestCorrectedReportStaysSettled: a shake that a later report settled stays settled when
// the first report is corrected, once and again.
func TestCorrectedReportStaysSettled(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.after(day)
	report := &models.Vibration{Meta: w.meta("200,600 mi"), WorstKMH: 80}
	w.record(report)
	w.after(day)
	w.record(&models.Vibration{Meta: w.meta("200,700 mi"), Settles: report.ID})
	w.after(day)

	open := func() int { return len(must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t).State.Complaints) }
	for _, speed := range []float64{90, 95} {
		w.record(correction(w, report, func(e *models.Vibration) { e.WorstKMH = speed }))
		if n := open(); n != 0 {
			t.Errorf("corrected to %g km/h: %d complaints are open", speed, n)
		}
	}

	// What settles a correction settles what it corrects.
	second := &models.Vibration{Meta: w.meta("200,900 mi"), WorstKMH: 60}
	w.record(second)
	first := second.ID
	w.record(correction(w, second, func(e *models.Vibration) { e.WorstKMH = 65 }))
	w.after(day)
	if n := open(); n != 1 {
		t.Errorf("%d complaints are open, want 1", n)
	}
	w.record(&models.Vibration{Meta: w.meta("201,000 mi"), Settles: first})
	if n := open(); n != 0 {
		t.Errorf("settled by its first id: %d complaints are open", n)
	}
}

// TestCorrectionNeverSharesAPlace: whatever corrects a move, each place has one tire at
// most, now and at any time before.
func TestCorrectionNeverSharesAPlace(t *testing.T) {
	t.Parallel()

	swap := func(a, b models.Position) []models.Move { return []models.Move{{From: a, To: b}, {From: b, To: a}} }
	places := func(t *testing.T, w *world) map[models.Position]models.TireID {
		there := map[models.Position]models.TireID{}
		for _, tire := range must(w.fleet.Vehicle(w.ctx, w.boss, w.vehicle.ID))(t).Tires {
			there[tire.State.Position] = tire.Tire.ID
		}
		if len(there) != len(w.tires) {
			t.Errorf("%d places have a tire, want %d: %v", len(there), len(w.tires), there)
		}
		return there
	}

	t.Run("a rotation that shares a place with the wrong one", func(t *testing.T) {
		t.Parallel()
		w := newWorld(t)
		w.after(day)
		wrong := &models.Rotation{Meta: w.meta("200,300 mi"), Moves: swap("1L", "1R")}
		w.record(wrong)
		w.after(time.Hour)
		right := instead(&models.Rotation{Meta: w.meta("200,300 mi"), Moves: swap("1L", "2LO")}, wrong)
		right.At = wrong.At
		w.record(right)
		there := places(t, w)
		for at, from := range map[models.Position]models.Position{"1L": "2LO", "2LO": "1L", "1R": "1R"} {
			if there[at] != w.tires[from] {
				t.Errorf("at %s is not the tire of %s", at, from)
			}
		}
	})

	t.Run("a second rotation of the same minute", func(t *testing.T) {
		t.Parallel()
		w := newWorld(t)
		w.after(day)
		wrong := &models.Rotation{Meta: w.meta("200,300 mi"), Moves: swap("1L", "1R")}
		w.record(wrong)
		second := &models.Rotation{Meta: w.meta("200,300 mi"), Moves: swap("1L", "2LO")}
		second.At = wrong.At
		w.record(second)
		w.after(time.Hour)
		before := places(t, w)

		for name, e := range map[string]models.Event{
			"corrected": instead(&models.Rotation{Meta: w.meta("200,300 mi"), Moves: swap("1R", "2RO")}, wrong),
			"withdrawn": instead(&models.Void{Meta: w.meta("200,300 mi")}, wrong),
		} {
			e.Header().At = wrong.At
			_, err := w.fleet.Record(w.ctx, w.boss, e)
			wantKind(t, err, models.Conflict)
			if after := places(t, w); !maps.Equal(before, after) {
				t.Errorf("%s: the refused correction moved tires", name)
			}
		}
	})

	t.Run("a fit at a place that was filled since", func(t *testing.T) {
		t.Parallel()
		w := newWorld(t)
		w.after(day)
		off := &models.Removal{Meta: w.meta("200,300 mi"), Removed: []models.Removed{
			{Position: "1L", Reason: models.WornEven, To: models.InStock},
			{Position: "1R", Reason: models.WornEven, To: models.InStock}}}
		w.record(off)
		w.after(time.Hour)
		wrong := &models.Fit{Meta: w.meta("200,300 mi"), Fittings: []models.Fitting{
			{TireID: w.tires["1L"], Position: "1L"}}}
		w.record(wrong)
		w.after(time.Hour)
		w.record(&models.Fit{Meta: w.meta("200,300 mi"), Fittings: []models.Fitting{
			{TireID: w.tires["1R"], Position: "1R"}}})
		w.after(time.Hour)

		elsewhere := instead(&models.Fit{Meta: w.meta("200,300 mi"), Fittings: []models.Fitting{
			{TireID: w.tires["1L"], Position: "1R"}}}, wrong)
		elsewhere.At = wrong.At
		_, err := w.fleet.Record(w.ctx, w.boss, elsewhere)
		if e := wantKind(t, err, models.Conflict); !strings.Contains(e.Msg, "would both be at 1R") {
			t.Errorf("refused with %q", e.Msg)
		}
		places(t, w)
	})
}
