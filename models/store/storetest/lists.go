package storetest

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"rimledger/models"
)

// row is a vehicle with its Standing, by the minute of the test's clock.
type row struct {
	number   string
	depot    int
	class    models.Class
	worst    models.Urgency
	since    int
	findings int
	due      int // 0: none
	pull     int // 0: none
	retired  bool
}

// putRows adds vehicles to the world, which has T-1 already.
func putRows(t *testing.T, w *world, rows []row) {
	t.Helper()

	w.write(t, func(ctx context.Context, tx models.Tx) error {
		for _, r := range rows {
			if err := r.put(ctx, tx, w); err != nil {
				return err
			}
		}
		return nil
	})
}

// put adds the vehicle, with one finding where it has any.
func (r row) put(ctx context.Context, tx models.Tx, w *world) error {
	v := w.newVehicle(r.number)
	v.DepotID, v.Class, v.Retired = w.depots[r.depot].ID, r.class, r.retired

	err := firstError(
		tx.PutVehicle(ctx, v),
		tx.PutVehicleState(ctx, v.ID, models.VehicleState{}, r.standing(w)),
	)
	if err != nil || r.findings == 0 {
		return err
	}

	return tx.PutFindings(ctx, []models.Finding{{
		ID:        newID[models.FindingID](),
		DepotID:   v.DepotID,
		VehicleID: v.ID,
		Code:      models.BelowPull,
		Urgency:   r.worst,
		Since:     w.at(r.since),
	}})
}

// standing is how the vehicle stands in the lists.
func (r row) standing(w *world) models.Standing {
	st := models.Standing{Worst: r.worst, Findings: r.findings}
	if r.worst != models.None {
		st.Since = w.at(r.since)
	}
	if r.due > 0 {
		due := w.at(r.due)
		st.DueAt = &due
	}
	if r.pull > 0 {
		pull := w.at(r.pull)
		st.PullAt = &pull
	}

	return st
}

func numbers(rows []models.VehicleRow) string {
	return strings.Join(collect(rows, func(r models.VehicleRow) string { return r.Vehicle.Number }), " ")
}

func vehicleFilters(t *testing.T, w *world) {
	putRows(t, w, []row{
		{number: "B1", depot: 0, class: models.Bus, worst: models.Plan, since: 5, findings: 1, due: 100},
		{number: "B2", depot: 0, class: models.Bus, worst: models.OffTheRoad, since: 9, findings: 1},
		{number: "C1", depot: 1, class: models.Car, worst: models.Plan, since: 4, findings: 1, due: 50},
		{number: "C2", depot: 1, class: models.Car},
		{number: "C3", depot: 1, class: models.Car, worst: models.None, findings: 1}, // acknowledged: quiet, but listed
		{number: "D1", depot: 2, class: models.Car, worst: models.Watch, since: 3, findings: 1},
		{number: "R1", depot: 0, class: models.Car, worst: models.DoNow, since: 1, findings: 1, retired: true},
	})

	w.write(t, func(ctx context.Context, tx models.Tx) error {
		sized := w.tires[3]
		sized.Size, sized.Design = "295/75R22.5", "rib"
		return firstError(tx.PutTire(ctx, sized), tx.PutTireStates(ctx, map[models.TireID]models.TireState{
			sized.ID: {Status: models.Mounted, VehicleID: w.vehicle.ID, Position: "1L"}}, true))
	})

	for _, c := range []struct {
		name string
		f    models.VehicleFilter
		want string
	}{
		{"all, by number", models.VehicleFilter{}, "B1 B2 C1 C2 C3 D1 T-1"},
		{"attention: urgency, then how long, quiet last", models.VehicleFilter{Attention: true}, "B2 C1 B1 D1 C3"},
		{"attention in one depot", models.VehicleFilter{Attention: true, Depots: []models.DepotID{w.depots[1].ID}}, "C1 C3"},
		{"two depots", models.VehicleFilter{Depots: []models.DepotID{w.depots[0].ID, w.depots[1].ID}}, "B1 B2 C1 C2 C3 T-1"},
		{"class", models.VehicleFilter{Class: models.Bus}, "B1 B2"},
		{"urgency", models.VehicleFilter{Urgency: models.Plan, Attention: true}, "C1 B1"},
		{"due before, not at", models.VehicleFilter{DueBefore: w.at(100)}, "C1"},
		{"finding", models.VehicleFilter{Code: models.BelowPull, Class: models.Bus}, "B1 B2"},
		{"no such finding", models.VehicleFilter{Code: models.RunFlat}, ""},
		{"retired", models.VehicleFilter{Retired: true}, "R1"},
		{"text in the number, any case", models.VehicleFilter{Text: " c1"}, "C1"},
		{"text in a mounted tire's number", models.VehicleFilter{Text: "a003"}, "T-1"},
		{"text in a mounted tire's size: every vehicle would match", models.VehicleFilter{Text: "295/75"}, ""},
		{"text in a tire that is in stock", models.VehicleFilter{Text: "a004"}, ""},
	} {
		w.read(t, func(ctx context.Context, r models.Reader) error {
			got, _, err := r.Vehicles(ctx, c.f, models.Page{Limit: 50})
			if numbers(got) != c.want {
				t.Errorf("%s: got %q, want %q", c.name, numbers(got), c.want)
			}

			all := len(strings.Fields(c.want))
			for _, most := range []int{2, 50} {
				n, err := r.CountVehicles(ctx, c.f, most)
				if err != nil || n != min(all, most) {
					t.Errorf("%s: counted %d up to %d, %v; want %d", c.name, n, most, err, min(all, most))
				}
			}

			return err
		})
	}
}

func vehiclePages(t *testing.T, w *world) {
	var rows []row
	for i := range 23 {
		rows = append(
			rows,
			row{number: fmt.Sprintf("N%02d", i%12), depot: i / 12, class: models.Car, // numbers repeat between depots
				worst: models.Urgency(1 + i%2), since: i % 3, findings: 1, pull: 1 + 5*i%7},
		)
	}

	putRows(t, w, rows)

	for _, f := range []models.VehicleFilter{{Class: models.Car}, {Attention: true}, {ByPull: true}, {Attention: true, Depots: []models.DepotID{w.depots[0].ID, w.depots[1].ID}}} {
		w.read(t, func(ctx context.Context, r models.Reader) error {
			whole, next, err := r.Vehicles(ctx, f, models.Page{Limit: 23})
			if err != nil || next != "" || len(whole) != 23 {
				t.Errorf("one page of exactly all: %d vehicles, next %q, %v", len(whole), next, err)
			}

			if f.ByPull &&
				!slices.IsSortedFunc(
					whole,
					func(a, b models.VehicleRow) int { return a.Standing.PullAt.Compare(*b.Standing.PullAt) },
				) {
				t.Error("the list by date to the pull point is not in its order")
			}

			for _, n := range []int{1, 4, 22} {
				parts := pages(
					t,
					n,
					func(p models.Page) ([]models.VehicleRow, string, error) { return r.Vehicles(ctx, f, p) },
				)
				same(t, fmt.Sprintf("list in pages of %d", n), parts, whole)
			}

			return nil
		})
	}
}

func vehiclesToCheck(t *testing.T, w *world) {
	late, soon := w.newVehicle("late"), w.newVehicle("soon")
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		at := func(v models.Vehicle, n int) error {
			when := w.at(n)
			return firstError(
				tx.PutVehicle(ctx, v),
				tx.PutVehicleState(ctx, v.ID, models.VehicleState{}, models.Standing{NextCheck: &when}),
			)
		}
		return firstError(at(late, 10), at(soon, 20))
	})

	for _, c := range []struct {
		at, limit int
		want      []models.VehicleID
	}{{9, 5, nil}, {10, 5, []models.VehicleID{late.ID}}, {30, 5, []models.VehicleID{late.ID, soon.ID}}, {30, 1, []models.VehicleID{late.ID}}} {
		got := one(t, w, func(ctx context.Context, r models.Reader) ([]models.VehicleID, error) {
			return r.VehiclesToCheck(ctx, w.at(c.at), c.limit)
		})
		if !slices.Equal(got, c.want) {
			t.Errorf("at minute %d, at most %d: got %v, want %v", c.at, c.limit, got, c.want)
		}
	}
}

func tireLists(t *testing.T, w *world) {
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		far := w.newTire("Z1")
		far.DepotID, far.Size = w.depots[1].ID, "11R22.5"
		return firstError(tx.PutTire(ctx, far), tx.PutTireStates(ctx, map[models.TireID]models.TireState{
			w.tires[0].ID: {Status: models.Mounted, VehicleID: w.vehicle.ID, Position: "2RO"},
			w.tires[1].ID: {Status: models.Mounted, VehicleID: w.vehicle.ID, Position: "1L"},
			w.tires[2].ID: {Status: models.Scrapped}}, true))
	})

	number := func(x models.TireWithState) string { return x.Tire.Number }
	checkLists(t, w, []listCase[models.TireFilter]{
		{"all", models.TireFilter{}, "A000 A001 A002 A003 A004 A005 A006 A007 Z1"},
		{"mounted", models.TireFilter{Status: models.Mounted}, "A000 A001"},
		{"scrapped", models.TireFilter{Status: models.Scrapped}, "A002"},
		{"depot", models.TireFilter{Depots: []models.DepotID{w.depots[1].ID}}, "Z1"},
		{"text in the size", models.TireFilter{Text: "11r22"}, "Z1"},
	}, models.Reader.Tires, number, 2)

	on := one(t, w, func(ctx context.Context, r models.Reader) ([]models.TireWithState, error) {
		return r.TiresOn(ctx, w.vehicle.ID)
	})
	if got := strings.Join(collect(on, number), " "); got != "A001 A000" {
		t.Errorf("on the vehicle, by position: got %q", got)
	}
}

func wheelPages(t *testing.T, w *world) {
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		for _, n := range []string{"W-3", "W-2", "w-1", "W-10"} {
			wheel := models.Wheel{ID: newID[models.WheelID](), DepotID: w.depots[0].ID, Number: n}
			if err := tx.PutWheel(ctx, wheel); err != nil {
				return err
			}
		}
		return tx.PutWheel(ctx, models.Wheel{ID: newID[models.WheelID](), DepotID: w.depots[1].ID, Number: "far"})
	})

	w.read(t, func(ctx context.Context, r models.Reader) error {
		list := pages(
			t,
			2,
			func(p models.Page) ([]models.Wheel, string, error) { return r.Wheels(ctx, w.depots[0].ID, p) },
		)

		// By code point, in both databases: a page must not depend on the locale of a server.
		numbers := collect(list, func(x models.Wheel) string { return x.Number })
		if got := strings.Join(numbers, " "); got != "W-1 W-10 W-2 W-3 w-1" {
			t.Errorf("got %q", got)
		}

		return nil
	})
}

func eventLists(t *testing.T, w *world) {
	meta := func(note string, at int) models.Meta {
		return models.Meta{
			ID:         newID[models.EventID](),
			VehicleID:  w.vehicle.ID,
			At:         w.at(at),
			RecordedAt: w.at(100 + at),
			Note:       note,
		}
	}

	tire := w.tires[0].ID
	old := &models.Repair{Meta: meta("old", 2), TireID: tire}
	void := &models.Void{Meta: meta("void", 6)}
	loose := &models.TireMove{Meta: meta("loose", 7), TireID: tire}

	loose.VehicleID = ""
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		second := w.tires[1].ID
		return firstError(
			tx.AddEvents(ctx,
				&models.Fit{Meta: meta("fit", 1), Fittings: []models.Fitting{
					{TireID: tire, Position: "1L"}, {TireID: second, Position: "1R", WheelID: w.wheel.ID},
				}},
				old,
				&models.Repair{Meta: meta("new", 2), TireID: tire},
				&models.BalanceJob{Meta: meta("spin", 4), TireID: tire, WheelID: w.wheel.ID},
				&models.OdometerEntry{Meta: meta("odo", 3)},
				&models.Inspection{Meta: meta("look", 5), Readings: []models.Reading{
					{Position: "1L", TireID: tire}, {Position: "1R", TireID: second}, {Position: "SP1"},
				}},
				void, loose,
			),
			tx.Supersede(ctx, old.ID, void.ID),
		)
	})

	note := func(e models.Event) string { return e.Header().Note }
	checkLists(t, w, []listCase[models.EventFilter]{
		{"newest first", models.EventFilter{VehicleID: w.vehicle.ID}, "look spin odo new fit"},
		{"oldest first", models.EventFilter{VehicleID: w.vehicle.ID, Ascending: true}, "fit new odo spin look"},
		{"of a tire, on and off vehicles", models.EventFilter{TireID: tire}, "loose look spin new fit"},
		{"of another tire", models.EventFilter{TireID: w.tires[1].ID}, "look fit"},
		{"of a wheel", models.EventFilter{WheelID: w.wheel.ID}, "spin fit"},
		{"kinds", models.EventFilter{VehicleID: w.vehicle.ID, Kinds: []models.EventKind{models.KindFit, models.KindOdometer}}, "odo fit"},
	}, models.Reader.Events, note, 1, 2, 50)

	historyForReplay(t, w, old.ID, void.ID)
}

// historyForReplay: a list without a page is whole, and what was superseded says by what.
func historyForReplay(t *testing.T, w *world, old, void models.EventID) {
	t.Helper()

	w.read(t, func(ctx context.Context, r models.Reader) error {
		all, next, err := r.Events(ctx, models.EventFilter{VehicleID: w.vehicle.ID, Ascending: true}, models.Page{})
		if len(all) != 5 || next != "" || err != nil {
			t.Errorf("for replay: %d events, next %q, %v; want all 5", len(all), next, err)
		}

		every, _, err := r.Events(
			ctx, models.EventFilter{VehicleID: w.vehicle.ID, Superseded: true}, models.Page{Limit: 50},
		)
		if len(every) != 7 || err != nil {
			t.Errorf("with what was superseded: %d events, %v; want 7", len(every), err)
		}

		got, err := r.Event(ctx, old)
		if err == nil && got.Header().SupersededBy != void {
			t.Errorf("the old event is superseded by %q, want %q", got.Header().SupersededBy, void)
		}
		return err
	})
}

func fitmentLists(t *testing.T, w *world) {
	fit := func(tire, from, to int) models.Fitment {
		f := models.Fitment{
			ID:        newID[models.FitmentID](),
			TireID:    w.tires[tire].ID,
			VehicleID: w.vehicle.ID,
			Position:  "1L",
			From:      models.Point{At: w.at(from)},
		}

		if to > 0 {
			f.To = &models.Point{At: w.at(to)}
		}
		return f
	}

	first, second, third := fit(0, 10, 20), fit(1, 20, 0), fit(0, 30, 0)
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return tx.PutFitments(ctx, []models.Fitment{third, first, second})
	})

	for _, c := range []struct {
		name string
		f    models.FitmentFilter
		want []models.Fitment
	}{
		{"of a tire, by start", models.FitmentFilter{TireID: w.tires[0].ID}, []models.Fitment{first, third}},
		{"of a vehicle, by start", models.FitmentFilter{VehicleID: w.vehicle.ID}, []models.Fitment{first, second, third}},
		{"before any", models.FitmentFilter{VehicleID: w.vehicle.ID, At: w.at(9)}, []models.Fitment{}},
		{"at the start", models.FitmentFilter{VehicleID: w.vehicle.ID, At: w.at(10)}, []models.Fitment{first}},
		{"at a change the new one", models.FitmentFilter{VehicleID: w.vehicle.ID, At: w.at(20)}, []models.Fitment{second}},
		{"lasting", models.FitmentFilter{VehicleID: w.vehicle.ID, At: w.at(99)}, []models.Fitment{second, third}},
	} {
		same(
			t,
			c.name,
			one(
				t,
				w,
				func(ctx context.Context, r models.Reader) ([]models.Fitment, error) { return r.Fitments(ctx, c.f) },
			),
			c.want,
		)
	}

	third.To = &models.Point{At: w.at(40)}
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return firstError(tx.PutFitments(ctx, []models.Fitment{third}), tx.DeleteFitments(ctx, w.tires[1].ID))
	})

	got := one(t, w, func(ctx context.Context, r models.Reader) ([]models.Fitment, error) {
		return r.Fitments(ctx, models.FitmentFilter{VehicleID: w.vehicle.ID})
	})
	same(t, "after ending one and deleting another's", got, []models.Fitment{first, third})
}

func digestSlots(t *testing.T, w *world) {
	slot := func(d int, name string) models.DigestSlot {
		return models.DigestSlot{DepotID: w.depots[d].ID, Slot: name, DueAt: w.at(0)}
	}

	var won atomic.Int32

	var wg sync.WaitGroup
	for range 6 {
		wg.Go(func() {
			var claimed bool
			err := w.tryWrite(func(ctx context.Context, tx models.Tx) (err error) {
				claimed, err = tx.ClaimDigestSlot(ctx, slot(0, "2026-03-30T06:00"))
				return err
			})
			if err != nil {
				t.Errorf("claim: %v", err)
			}

			if claimed {
				won.Add(1)
			}
		})
	}

	wg.Wait()
	if won.Load() != 1 {
		t.Errorf("%d of 6 claims won, want exactly one", won.Load())
	}

	done := slot(0, "2026-03-30T06:00")
	sent := w.at(3)

	done.Deliveries, done.DoneAt = []models.Delivery{{To: "yard@example.org", SentAt: &sent, Tries: 1}}, &sent
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		other, err := tx.ClaimDigestSlot(ctx, slot(1, "2026-03-30T06:00"))
		if err != nil || !other {
			t.Errorf("the same slot of another depot: %v, %v", other, err)
		}

		next, err := tx.ClaimDigestSlot(ctx, slot(0, "2026-04-06T06:00"))
		if err != nil || !next {
			t.Errorf("the next slot: %v, %v", next, err)
		}

		return tx.PutDigestSlot(ctx, done)
	})

	got := one(t, w, func(ctx context.Context, r models.Reader) ([]models.DigestSlot, error) {
		return r.DigestSlots(ctx, w.depots[0].ID, 9)
	})
	same(t, "slots, newest first", got, []models.DigestSlot{slot(0, "2026-04-06T06:00"), done})

	if got := one(t, w, func(ctx context.Context, r models.Reader) ([]models.DigestSlot, error) {
		return r.DigestSlots(ctx, w.depots[0].ID, 1)
	}); len(got) != 1 {
		t.Errorf("at most one: got %d", len(got))
	}
}

// noVehicles asks about no vehicle at all, as a depot without vehicles does.
func noVehicles(t *testing.T, w *world) {
	w.read(t, func(ctx context.Context, r models.Reader) error {
		open, err := r.OpenFindings(ctx)
		if err != nil || len(open) > 0 {
			t.Errorf("findings of no vehicle: %v, %v", open, err)
		}
		tires, err := r.TiresOn(ctx)
		if err != nil || len(tires) > 0 {
			t.Errorf("tires on no vehicle: %v, %v", tires, err)
		}
		return nil
	})
}

// figures keeps one row for each depot and day: kept again, the later one stays.
func figures(t *testing.T, w *world) {
	of := func(d int, day string, vehicles int) models.Figures {
		return models.Figures{DepotID: w.depots[d].ID, Day: day, Vehicles: vehicles}
	}
	first, early, late := of(0, "2026-03-01", 3), of(0, "2026-03-02", 4), of(0, "2026-03-02", 5)
	other, last := of(1, "2026-03-02", 6), of(0, "2026-03-03", 7)
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		if err := tx.PutFigures(ctx, last, early, other); err != nil {
			return err
		}
		return tx.PutFigures(ctx, first, late)
	})

	both := []models.Figures{late, other}
	slices.SortFunc(both, func(a, b models.Figures) int { return cmp.Compare(a.DepotID, b.DepotID) })
	for _, c := range []struct {
		what   string
		filter models.FiguresFilter
		want   []models.Figures
	}{
		{"all", models.FiguresFilter{}, append(append([]models.Figures{first}, both...), last)},
		{"of a day", models.FiguresFilter{From: "2026-03-02", To: "2026-03-02"}, both},
		{"from a day", models.FiguresFilter{From: "2026-03-03"}, []models.Figures{last}},
		{"up to a day", models.FiguresFilter{To: "2026-03-01"}, []models.Figures{first}},
		{"of a depot", models.FiguresFilter{Depots: []models.DepotID{w.depots[1].ID}}, []models.Figures{other}},
	} {
		got := one(t, w, func(ctx context.Context, r models.Reader) ([]models.Figures, error) {
			return r.Figures(ctx, c.filter)
		})
		same(t, c.what, got, c.want)
	}
}

func textSearch(t *testing.T, w *world) {
	texts := []string{"100% worn", "100 worn", "a_b", "axb", `back\slash`, "Größe Ä", "O'Hara"}
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		for i, text := range texts {
			v, tire := w.newVehicle(fmt.Sprintf("V%d", i)), w.newTire(fmt.Sprintf("X%d", i))
			v.Description, tire.Design = text, text
			if err := firstError(tx.PutVehicle(ctx, v), tx.PutTire(ctx, tire)); err != nil {
				return err
			}
		}
		return nil
	})

	for text, want := range map[string]string{"100%": "V0", "A_B": "V2", `k\s`: "V4", "größe ä": "V5", "GRÖSSE": "", "o'h": "V6", "%": "V0", "  worn ": "V0 V1"} {
		w.read(t, func(ctx context.Context, r models.Reader) error {
			vehicles, _, err := r.Vehicles(ctx, models.VehicleFilter{Text: text}, models.Page{Limit: 50})
			if got := numbers(vehicles); got != want {
				t.Errorf("vehicles with %q: got %q, want %q", text, got, want)
			}

			if err != nil {
				return err
			}

			tires, _, err := r.Tires(ctx, models.TireFilter{Text: text}, models.Page{Limit: 50})
			got := strings.Join(collect(tires, func(x models.TireWithState) string { return x.Tire.Number }), " ")
			if want := strings.ReplaceAll(want, "V", "X"); got != want {
				t.Errorf("tires with %q: got %q, want %q", text, got, want)
			}

			return err
		})
	}
}

func badCursors(t *testing.T, w *world) {
	lists := map[string]func(context.Context, models.Reader, models.Page) (string, error){
		"vehicles": func(ctx context.Context, r models.Reader, p models.Page) (string, error) {
			_, next, err := r.Vehicles(ctx, models.VehicleFilter{}, p)
			return next, err
		},
		"tires": func(ctx context.Context, r models.Reader, p models.Page) (string, error) {
			_, next, err := r.Tires(ctx, models.TireFilter{}, p)
			return next, err
		},
		"wheels": func(ctx context.Context, r models.Reader, p models.Page) (string, error) {
			_, next, err := r.Wheels(ctx, w.depots[0].ID, p)
			return next, err
		},
		"events": func(ctx context.Context, r models.Reader, p models.Page) (string, error) {
			_, next, err := r.Events(ctx, models.EventFilter{}, p)
			return next, err
		},
		"findings": func(ctx context.Context, r models.Reader, p models.Page) (string, error) {
			_, next, err := r.Findings(ctx, models.FindingFilter{}, p)
			return next, err
		},
		"changes": func(ctx context.Context, r models.Reader, p models.Page) (string, error) {
			_, next, err := r.Changes(ctx, models.ChangeFilter{}, p)
			return next, err
		},
	}

	// not base64; not JSON; JSON of another shape; of another type
	for _, after := range []string{"*", "bm90IGpzb24", "e30", "WyJhIl0", "W3t9LHt9LHt9LHt9XQ", strings.Repeat("A", 10_000)} {
		for name, list := range lists {
			err := w.store.Read(context.Background(), func(r models.Reader) error {
				_, err := list(context.Background(), r, models.Page{After: after, Limit: 5})
				return err
			})
			if !namesField(err, "after") {
				t.Errorf("%s after %.20q: got %v, want an invalid error about after", name, after, err)
			}
		}
	}
}
