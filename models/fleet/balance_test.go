package fleet_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// wheelJob is a balance job at 1L that measured the inner plane this deep.
func (w *world) wheelJob(wheel models.WheelID, at time.Time, mm int) *models.BalanceJob {
	m := w.meta("")

	m.At = at
	return &models.BalanceJob{
		Meta:      m,
		Position:  "1L",
		WheelID:   wheel,
		Why:       models.BalanceInterval,
		Mode:      "two_plane",
		CheckSpin: true,
		Shown:     []models.PlaneUnbalance{{Plane: "outer"}, {Plane: "inner"}},
		Geometry: &models.WheelGeometry{
			OuterRadius: 285 * units.Millimetre,
			InnerRadius: 285 * units.Millimetre,
			InnerOffset: units.Length(mm) * units.Millimetre,
		},
	}
}

func (w *world) wheel(number string) models.Wheel {
	w.t.Helper()
	return must(
		w.fleet.CreateWheel(
			w.ctx,
			w.boss,
			models.Wheel{
				ID:         newID[models.WheelID](),
				DepotID:    w.depot.ID,
				Number:     number,
				DiameterIn: 22.5,
				WidthIn:    8.25,
				Material:   "steel",
			},
		),
	)(
		w.t,
	)
}

// TestWheelIsMeasuredAtTheLatestJob: what a job measured stands on its wheel,
// whatever the order in which jobs are recorded, corrected and withdrawn.
func TestWheelIsMeasuredAtTheLatestJob(t *testing.T) {
	w := newWorld(t)

	wheel := w.wheel("W-1")
	deep := func(step string, mm int) models.Wheel {
		t.Helper()

		got := must(w.fleet.Wheel(w.ctx, w.boss, wheel.ID))(t)
		if got.InnerOffset != units.Length(mm)*units.Millimetre {
			t.Errorf(
				"%s: the inner plane lies %s deep, want %d mm",
				step,
				units.FormatLength(got.InnerOffset, units.MM),
				mm,
			)
		}

		return got
	}

	start := w.now
	w.now = start.AddDate(0, 0, 20)
	second := w.wheelJob(wheel.ID, start.AddDate(0, 0, 10), 210)
	w.record(second)
	if got := deep("first job recorded", 210); got.MeasuredBy != second.ID || !got.MeasuredAt.Equal(second.At) ||
		got.Version != 2 {
		t.Errorf("measured by %s at %s, version %d", got.MeasuredBy, got.MeasuredAt, got.Version)
	}

	late := w.wheelJob(wheel.ID, start.AddDate(0, 0, 5), 190)
	w.record(late)
	deep("a late entry of an earlier day", 210)
	third := w.wheelJob(wheel.ID, start.AddDate(0, 0, 12), 220)
	w.record(third)
	deep("a later day", 220)
	right := w.wheelJob(wheel.ID, third.At, 225)
	right.Supersedes, right.Reason = third.ID, "read wrongly"
	w.record(right)

	deep("the newest job corrected", 225)
	old := w.wheelJob(wheel.ID, second.At, 211)
	old.Supersedes, old.Reason = second.ID, "read wrongly"
	w.record(old)
	deep("an older job corrected", 225)
	void := &models.Void{Meta: w.meta("")}
	void.Supersedes, void.Reason = right.ID, "another wheel"
	w.record(void)

	deep("the newest job withdrawn", 211)
	bare := w.wheelJob(wheel.ID, start.AddDate(0, 0, 15), 0)
	bare.Geometry = nil
	w.record(bare)
	by := deep("a job that measured nothing", 211)

	by.InnerOffset = 230 * units.Millimetre

	w.now = start.AddDate(0, 0, 30)
	if _, err := w.fleet.EditWheel(w.ctx, w.boss, by); err != nil {
		t.Fatal(err)
	}
	w.record(w.wheelJob(wheel.ID, start.AddDate(0, 0, 16), 150))
	deep("measured by hand, then a late entry", 230)
	w.record(w.wheelJob(wheel.ID, w.now, 240))

	deep("a job after that", 240)
}

// TestBoxOfWeights: who records work keeps the box for one kind of wheel; the
// other lists stay, an old page overwrites nothing, and a viewer keeps nothing.
func TestBoxOfWeights(t *testing.T) {
	w := newWorld(t)
	sizes := func(texts ...string) (out []models.Mass) {
		for _, s := range texts {
			out = append(out, must(models.ParseMass(s, units.G))(t))
		}
		return out
	}

	tech := fleet.Actor{
		User:   models.User{ID: newID[models.UserID](), Role: models.Technician, Depots: []models.DepotID{w.depot.ID}},
		Source: models.FromAPI,
	}
	d := must(w.fleet.KeepBox(w.ctx, tech, w.depot.ID, 1, true, sizes("50 g", "4 oz"), sizes("25 g")))(t)
	d = must(w.fleet.KeepBox(w.ctx, tech, w.depot.ID, d.Version, false, sizes("5 g"), nil))(t)

	clips, segments := d.Box.Of(true)
	if len(clips) != 2 || len(segments) != 1 || len(d.Box.LightClips) != 1 || d.Name != w.depot.Name {
		t.Errorf("the box is %+v", d.Box)
	}

	if _, err := w.fleet.KeepBox(w.ctx, tech, w.depot.ID, 1, true, nil, nil); !errors.Is(err, models.Stale) {
		t.Errorf("from an old page: %v", err)
	}

	var bad *models.Error
	if _, err := w.fleet.KeepBox(w.ctx, tech, w.depot.ID, d.Version, true, sizes("0 g", "2001 g"), nil); !errors.As(
		err,
		&bad,
	) ||
		len(bad.Fields) != 2 ||
		bad.Fields[1].Name != "box.heavy_clips[1]" {
		t.Errorf("sizes that no weight has: %v", err)
	}

	tech.User.Role = models.Viewer
	if _, err := w.fleet.KeepBox(w.ctx, tech, w.depot.ID, d.Version, true, nil, nil); !errors.Is(
		err,
		models.Forbidden,
	) {
		t.Errorf("a viewer: %v", err)
	}
}

// TestJobClosesNotBalanced: a repair off the wheel opens "balance not done"; a job
// that proves nothing, or is over the limit, leaves it open with the reason; a job
// within the limit closes it. Limit: 150 g a plane on heavy wheels (textbook).
func TestJobClosesNotBalanced(t *testing.T) {
	w := newWorld(t)

	at1L := func(r fleet.Recorded) (codes map[models.FindingCode]string) {
		codes = map[models.FindingCode]string{}
		for _, f := range r.Open {
			if f.Position == "1L" && (f.Code == models.NotBalanced || f.Code == models.BalanceOverLimit) {
				for _, e := range f.Evidence {
					codes[f.Code] += e.Text + "\n"
				}
			}
		}

		return codes
	}

	job := func(after ...models.PlaneUnbalance) map[models.FindingCode]string {
		w.after(time.Hour)

		e := &models.BalanceJob{
			Meta:       w.meta(""),
			Position:   "1L",
			Why:        models.BalanceFitted,
			Mode:       "two_plane",
			ShownAfter: after,
			Fitted: []models.FittedWeight{
				{Plane: "outer", Type: "clip", Mass: models.Mass{Value: 50, Text: "50 g"}, Angle: 90},
			},
		}

		return at1L(w.record(e))
	}

	left := func(plane string, g units.Mass) models.PlaneUnbalance {
		return models.PlaneUnbalance{Plane: plane, Mass: models.Mass{Value: g, Text: units.FormatMass(g, units.G)}}
	}

	w.after(time.Hour)
	got := at1L(w.record(&models.Repair{Meta: w.meta(""), Position: "1L", What: "plug and patch", Demounted: true}))
	if len(got) != 1 || got[models.NotBalanced] == "" {
		t.Fatalf("after the repair: %v", got)
	}
	if got = job(); !strings.Contains(got[models.NotBalanced], "nothing is recorded that was shown after") {
		t.Errorf("a job that proves nothing: %v", got)
	}
	if got = job(left("outer", 20)); !strings.Contains(got[models.NotBalanced], "the inner plane was not shown") {
		t.Errorf("a job that shows one plane of two: %v", got)
	}

	if got = job(left("outer", 151), left("inner", 0)); !strings.Contains(
		got[models.BalanceOverLimit],
		"5.33 oz is left in a plane, the limit is 5.29 oz (150 g)",
	) {
		t.Errorf("a job over the limit: %v", got)
	}

	if got = job(left("outer", 150), left("inner", 0)); len(got) != 0 {
		t.Errorf("a job at the limit leaves open: %v", got)
	}
}

// TestLooseWorkIsPutRight: work on a loose assembly is corrected and withdrawn, also
// when the tire is on a vehicle by then; who does not see its depot reaches neither,
// and a new tread is not withdrawn.
func TestLooseWorkIsPutRight(t *testing.T) {
	w := newWorld(t)
	tire := must(
		w.fleet.CreateTire(
			w.ctx,
			w.boss,
			models.Tire{ID: newID[models.TireID](), DepotID: w.depot.ID, Number: "L1", Size: "295/75R22.5 144/141L",
				NewDepths: []units.Length{15 * units.Millimetre}},
		),
	)(
		t,
	)

	loose := func() models.Meta { return models.Meta{ID: newID[models.EventID](), At: w.now} }
	spin := func(g units.Mass) *models.BalanceJob {
		m := models.Mass{Value: g, Text: units.FormatMass(g, units.G)}
		return &models.BalanceJob{
			Meta:      loose(),
			TireID:    tire.ID,
			Why:       models.BalanceFitted,
			Mode:      "two_plane",
			CheckSpin: true,
			Shown:     []models.PlaneUnbalance{{Plane: "outer", Mass: m}, {Plane: "inner"}},
		}
	}

	w.after(time.Hour)
	first := spin(20)
	w.record(first)
	w.after(time.Hour)

	w.record(
		&models.Removal{
			Meta:    w.meta(""),
			Removed: []models.Removed{{Position: "1L", Reason: models.RemovalReasons[0], To: models.InStock}},
		},
	)

	w.after(time.Hour)
	w.record(&models.Fit{Meta: w.meta(""), Fittings: []models.Fitting{{TireID: tire.ID, Position: "1L"}}})
	left := func() *models.BalanceRecord { return must(w.fleet.Tire(w.ctx, w.boss, tire.ID))(t).State.Balance }
	right := spin(30)
	right.At, right.Supersedes, right.Reason = first.At, first.ID, "misread"
	w.record(right)

	if b := left(); b == nil || b.Verdict.LeftG != 30 {
		t.Errorf("corrected: %+v", b)
	}

	void := &models.Void{Meta: loose()}
	void.Supersedes, void.Reason = right.ID, "another wheel"

	stranger := fleet.Actor{
		User: models.User{
			ID:     newID[models.UserID](),
			Role:   models.Manager,
			Depots: []models.DepotID{newID[models.DepotID]()},
		},
		Source: models.FromAPI,
	}

	_, err := w.fleet.Record(w.ctx, stranger, void)
	wantKind(t, err, models.NotFound)
	w.record(void)

	if left() != nil {
		t.Errorf("withdrawn: %+v", left())
	}

	later := spin(0)
	later.At = w.now
	_, err = w.fleet.Record(w.ctx, w.boss, later)
	wantKind(t, err, models.Conflict)

	other := must(
		w.fleet.CreateTire(
			w.ctx,
			w.boss,
			models.Tire{
				ID:        newID[models.TireID](),
				DepotID:   w.depot.ID,
				Number:    "L2",
				Size:      "295/75R22.5",
				NewDepths: []units.Length{15 * units.Millimetre},
			},
		),
	)(
		t,
	)

	var moves []*models.TireMove
	for i, to := range []models.TireStatus{models.AtRetreader, models.InStock, models.Scrapped} {
		w.after(time.Hour)
		m := &models.TireMove{Meta: loose(), TireID: other.ID, To: to}
		if i == 1 {
			m.NewDepths = []units.Length{14 * units.Millimetre}
		}
		if to == models.Scrapped {
			m.Scrap = models.RemovalReasons[0]
		}

		w.record(m)
		moves = append(moves, m)
	}

	withdraw := func(m *models.TireMove) error {
		v := &models.Void{Meta: loose()}
		v.Supersedes, v.Reason = m.ID, "another tire"
		_, err := w.fleet.Record(w.ctx, w.boss, v)
		return err
	}

	wantKind(t, withdraw(moves[0]), models.Conflict) // later entries
	if err := withdraw(moves[2]); err != nil {
		t.Errorf("scrapped by mistake: %v", err)
	}

	wantKind(t, withdraw(moves[1]), models.Conflict) // the new tread
	if s := must(w.fleet.Tire(w.ctx, w.boss, other.ID))(t).State.Status; s != models.InStock {
		t.Errorf("it is %s", s)
	}
}

// TestJobsOfAWheel: the jobs of a wheel are listed whichever tire was on it, each
// with what changed since the job before of the same mounting (by hand: 20 g at 0
// degrees left on and 50 g found there is 30 g of change); another tire on the wheel
// starts anew, and a withdrawn job is not listed.
func TestJobsOfAWheel(t *testing.T) {
	w := newWorld(t)

	wheel := w.wheel("W-1")
	spin := func(g units.Mass) *models.BalanceJob {
		w.after(day)

		m := models.Mass{Value: g, Text: units.FormatMass(g, units.G)}
		e := &models.BalanceJob{
			Meta:      w.meta(""),
			Position:  "1L",
			WheelID:   wheel.ID,
			Why:       models.BalanceInterval,
			Mode:      "two_plane",
			CheckSpin: true,
			Shown:     []models.PlaneUnbalance{{Plane: "outer", Mass: m}, {Plane: "inner"}},
		}

		w.record(e)
		return e
	}

	spin(20)
	spin(50)
	w.after(day)

	w.record(
		&models.Removal{
			Meta:    w.meta(""),
			Removed: []models.Removed{{Position: "1L", Reason: models.RemovalReasons[0], To: models.InStock}},
		},
	)

	w.after(day)
	tire := w.tire("B-1")
	must(w.fleet.CreateTire(w.ctx, w.boss, tire))(t)
	w.record(
		&models.Fit{Meta: w.meta(""), Fittings: []models.Fitting{{TireID: tire.ID, Position: "1L", WheelID: wheel.ID}}},
	)

	spin(5)
	wrong := spin(90)
	w.after(time.Hour)
	void := &models.Void{Meta: w.meta("")}
	void.Supersedes, void.Reason = wrong.ID, "another wheel"
	w.record(void)

	list := func(f fleet.JobFilter) (out string) {
		for _, j := range func() []fleet.JobView {
			l, _, err := w.fleet.BalanceJobs(w.ctx, w.boss, f, models.Page{Limit: 50})
			if err != nil {
				t.Fatal(err)
			}
			return l
		}() {
			out += j.Tire.Number + " " + j.Job.Shown[0].Mass.Text
			if j.Record.Drift != nil {
				out += " changed " + units.FormatMass(units.Mass(j.Record.Drift.WorstG), units.G)
			}
			out += "; "
		}

		return out
	}

	first := must(w.fleet.Tire(w.ctx, w.boss, w.tires["1L"]))(t).Tire
	want := "B-1 5 g; " + first.Number + " 50 g changed 30 g; " + first.Number + " 20 g; "
	if got := list(fleet.JobFilter{WheelID: wheel.ID}); got != want {
		t.Errorf("of the wheel: %s\nwant %s", got, want)
	}

	if got, want := list(fleet.JobFilter{TireID: tire.ID}), "B-1 5 g; "; got != want {
		t.Errorf("of the tire: %s, want %s", got, want)
	}

	stranger := fleet.Actor{
		User: models.User{
			ID:     newID[models.UserID](),
			Role:   models.Manager,
			Depots: []models.DepotID{newID[models.DepotID]()},
		},
	}

	_, _, err := w.fleet.BalanceJobs(w.ctx, stranger, fleet.JobFilter{WheelID: wheel.ID}, models.Page{})
	wantKind(t, err, models.NotFound)
	_, _, err = w.fleet.BalanceJobs(w.ctx, w.boss, fleet.JobFilter{}, models.Page{})
	wantKind(t, err, models.Invalid)
}
