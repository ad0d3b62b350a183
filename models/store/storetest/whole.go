package storetest

import (
	"context"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"rimledger/models"
)

func entitiesComeBackWhole(t *testing.T, w *world) {
	for name, check := range map[string]func(*rapid.T, *world){
		"depot": wholeDepot, "policy": wholePolicy, "vehicle": wholeVehicle, "tire": wholeTire, "wheel": wholeWheel,
		"fitment": wholeFitment, "finding": wholeFinding, "user": wholeUser, "token": wholeToken, "change": wholeChange,
		"digest slot": wholeSlot, "figures": wholeFigures, "receipt": wholeReceipt, "photo": wholePhoto,
	} {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) { check(t, w) })
		})
	}
}

func wholeDepot(t *rapid.T, w *world) {
	d := full[models.Depot](t, w)
	d.ID = newID[models.DepotID]()
	d.Name += string(d.ID)
	w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.PutDepot(ctx, d) })
	same(
		t,
		"depot",
		one(t, w, func(ctx context.Context, r models.Reader) (models.Depot, error) { return r.Depot(ctx, d.ID) }),
		d,
	)
}

func wholePolicy(t *rapid.T, w *world) {
	p := full[models.DepotPolicy](t, w)
	p.Class = models.Bus
	w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.PutDepotPolicy(ctx, p) })
	got := one(t, w, func(ctx context.Context, r models.Reader) ([]models.DepotPolicy, error) {
		return r.DepotPolicies(ctx, p.DepotID)
	})
	same(t, "policy", got, []models.DepotPolicy{p})
}

func wholeVehicle(t *rapid.T, w *world) {
	row := full[models.VehicleRow](t, w)
	v := &row.Vehicle
	v.ID = newID[models.VehicleID]()
	v.Number += string(v.ID)
	v.Class = models.Class(v.ID) // alone in its list
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return firstError(tx.PutVehicle(ctx, *v), tx.PutVehicleState(ctx, v.ID, row.State, row.Standing))
	})

	w.read(t, func(ctx context.Context, r models.Reader) error {
		got, state, err := r.Vehicle(ctx, v.ID)
		same(t, "vehicle", got, *v)
		same(t, "vehicle state", state, row.State)

		if err != nil {
			return err
		}

		byNumber, err := r.VehicleByNumber(ctx, v.DepotID, v.Number)
		same(t, "vehicle by number", byNumber, *v)
		if err != nil {
			return err
		}

		rows, _, err := r.Vehicles(ctx, models.VehicleFilter{Class: v.Class, Retired: true}, models.Page{Limit: 5})
		same(t, "vehicle row", rows, []models.VehicleRow{row})
		return err
	})
}

func wholeTire(t *rapid.T, w *world) {
	want := full[models.TireWithState](t, w)
	tire := &want.Tire
	tire.ID = newID[models.TireID]()

	tire.Number += string(tire.ID)
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return firstError(
			tx.PutTire(ctx, *tire),
			tx.PutTireStates(ctx, map[models.TireID]models.TireState{tire.ID: want.State}, true),
		)
	})

	w.read(t, func(ctx context.Context, r models.Reader) error {
		got, state, err := r.Tire(ctx, tire.ID)
		same(t, "tire", models.TireWithState{Tire: got, State: state}, want)
		if err != nil {
			return err
		}
		byNumber, err := r.TireByNumber(ctx, tire.DepotID, tire.Number)
		same(t, "tire by number", byNumber, *tire)
		return err
	})
}

func wholeWheel(t *rapid.T, w *world) {
	wheel := full[models.Wheel](t, w)
	wheel.ID = newID[models.WheelID]()
	wheel.Number += string(wheel.ID)
	w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.PutWheel(ctx, wheel) })
	same(
		t,
		"wheel",
		one(t, w, func(ctx context.Context, r models.Reader) (models.Wheel, error) { return r.Wheel(ctx, wheel.ID) }),
		wheel,
	)
}

func wholePhoto(t *rapid.T, w *world) {
	p := full[models.Photo](t, w)
	w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.AddPhoto(ctx, p) })
	same(
		t,
		"photo",
		one(t, w, func(ctx context.Context, r models.Reader) (models.Photo, error) { return r.Photo(ctx, p.ID) }),
		p,
	)
}

func wholeFitment(t *rapid.T, w *world) {
	f := full[models.Fitment](t, w)
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return firstError(tx.DeleteFitments(ctx, f.TireID), tx.PutFitments(ctx, []models.Fitment{f}))
	})
	got := one(t, w, func(ctx context.Context, r models.Reader) ([]models.Fitment, error) {
		return r.Fitments(ctx, models.FitmentFilter{TireID: f.TireID})
	})
	same(t, "fitment", got, []models.Fitment{f})
}

func wholeFinding(t *rapid.T, w *world) {
	f := full[models.Finding](t, w)
	w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.PutFindings(ctx, []models.Finding{f}) })
	same(
		t,
		"finding",
		one(t, w, func(ctx context.Context, r models.Reader) (models.Finding, error) { return r.Finding(ctx, f.ID) }),
		f,
	)
}

func wholeUser(t *rapid.T, w *world) {
	u := full[models.User](t, w)
	u.ID = newID[models.UserID]()
	u.Email += string(u.ID)
	w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.PutUser(ctx, u) })

	same(
		t,
		"user",
		one(t, w, func(ctx context.Context, r models.Reader) (models.User, error) { return r.User(ctx, u.ID) }),
		u,
	)

	same(
		t,
		"user by email",
		one(
			t,
			w,
			func(ctx context.Context, r models.Reader) (models.User, error) { return r.UserByEmail(ctx, u.Email) },
		),
		u,
	)
}

func wholeToken(t *rapid.T, w *world) {
	k := full[models.Token](t, w)
	k.Hash += string(k.ID)
	w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.PutToken(ctx, k) })

	same(
		t,
		"token",
		one(t, w, func(ctx context.Context, r models.Reader) (models.Token, error) { return r.Token(ctx, k.Hash) }),
		k,
	)

	same(
		t,
		"token by id",
		one(t, w, func(ctx context.Context, r models.Reader) (models.Token, error) { return r.TokenByID(ctx, k.ID) }),
		k,
	)
}

func wholeChange(t *rapid.T, w *world) {
	c := full[models.Change](t, w)
	c.ID += newID[string]()
	w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.AddChange(ctx, c) })
	w.read(t, func(ctx context.Context, r models.Reader) error {
		got, _, err := r.Changes(ctx, models.ChangeFilter{ID: c.ID}, models.Page{Limit: 5})
		same(t, "change", got, []models.Change{c})
		return err
	})
}

func wholeSlot(t *rapid.T, w *world) {
	s := full[models.DigestSlot](t, w)
	w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.PutDigestSlot(ctx, s) })
	got := one(t, w, func(ctx context.Context, r models.Reader) (models.DigestSlot, error) {
		return r.DigestSlot(ctx, s.DepotID, s.Slot)
	})
	same(t, "digest slot", got, s)
}

func wholeFigures(t *rapid.T, w *world) {
	f := full[models.Figures](t, w)
	f.DepotID = w.depots[0].ID
	w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.PutFigures(ctx, f) })
	got := one(t, w, func(ctx context.Context, r models.Reader) ([]models.Figures, error) {
		return r.Figures(ctx, models.FiguresFilter{From: f.Day, To: f.Day})
	})
	same(t, "figures", got, []models.Figures{f})
}

func wholeReceipt(t *rapid.T, w *world) {
	id, fingerprint := newID[string](), full[models.Fingerprint](t, w)
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return tx.AddReceipts(ctx, models.Receipt{ID: id, Fingerprint: fingerprint, At: w.at(0)})
	})
	got := one(t, w, func(ctx context.Context, r models.Reader) (map[string]models.Fingerprint, error) {
		return r.Receipts(ctx, id, "never written")
	})
	same(t, "receipts", got, map[string]models.Fingerprint{id: fingerprint})
}

// kinds lists every kind of event.
var kinds = []models.EventKind{
	models.KindInspection,
	models.KindOdometer,
	models.KindFit,
	models.KindRemoval,
	models.KindRotation,
	models.KindBalance,
	models.KindRepair,
	models.KindAlignment,
	models.KindRetorque,
	models.KindService,
	models.KindVibration,
	models.KindClearance,
	models.KindTireMove,
	models.KindVoid,
	models.KindWheelCheck,
}

func eventsComeBackWhole(t *testing.T, w *world) {
	for _, kind := range kinds {
		t.Run(string(kind), func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) { wholeEvent(t, w, kind) })
		})
	}
}

func wholeEvent(t *rapid.T, w *world, kind models.EventKind) {
	e := models.NewEvent(kind)
	fillAll(t, w, e)
	e.Header().SupersededBy = "" // set by Supersede alone
	w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.AddEvents(ctx, e) })

	got := one(t, w, func(ctx context.Context, r models.Reader) (models.Event, error) {
		return r.Event(ctx, e.Header().ID)
	})
	same(t, "event", got, e)

	for _, tire := range e.TireIDs() {
		inHistory(t, w, tire, e)
	}
}

// inHistory fails unless the history of a tire lists the event e.
func inHistory(t *rapid.T, w *world, tire models.TireID, e models.Event) {
	filter := models.EventFilter{
		TireID:     tire,
		Kinds:      []models.EventKind{e.Kind()},
		Ascending:  true,
		Superseded: true,
	}

	history := one(t, w, func(ctx context.Context, r models.Reader) ([]models.Event, error) {
		list, _, err := r.Events(ctx, filter, models.Page{})
		return list, err
	})

	isIt := func(o models.Event) bool { return o.Header().ID == e.Header().ID }
	if !slices.ContainsFunc(history, isIt) {
		t.Fatalf("the history of tire %s lacks the %s", tire, e.Kind())
	}
}

// What is not known must not come back as something: nil stays nil, the zero
// time stays the zero time.
func emptyFieldsStayEmpty(t *testing.T, w *world) {
	v, tire := w.newVehicle("bare"), w.newTire("bare")
	f := models.Finding{
		ID:        newID[models.FindingID](),
		DepotID:   v.DepotID,
		VehicleID: v.ID,
		Code:      models.NeverInspected,
		Urgency:   models.Plan,
	}

	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return firstError(tx.PutVehicle(ctx, v), tx.PutTire(ctx, tire), tx.PutFindings(ctx, []models.Finding{f}))
	})

	for _, kind := range kinds {
		e := models.NewEvent(kind)
		e.Header().ID = newID[models.EventID]()
		w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.AddEvents(ctx, e) })

		same(
			t,
			string(kind),
			one(
				t,
				w,
				func(ctx context.Context, r models.Reader) (models.Event, error) { return r.Event(ctx, e.Header().ID) },
			),
			e,
		)
	}

	w.read(t, func(ctx context.Context, r models.Reader) error {
		got, state, err := r.Vehicle(ctx, v.ID)
		same(t, "vehicle", got, v)
		same(t, "state of a new vehicle", state, models.VehicleState{})

		if err != nil {
			return err
		}

		rows, _, err := r.Vehicles(ctx, models.VehicleFilter{Text: "bare"}, models.Page{Limit: 2})
		same(t, "standing of a new vehicle", rows, []models.VehicleRow{{Vehicle: v}})
		if err != nil {
			return err
		}

		gotTire, tireState, err := r.Tire(ctx, tire.ID)
		same(t, "tire", gotTire, tire)
		same(t, "state of a new tire", tireState, models.TireState{Status: models.InStock})

		if err != nil {
			return err
		}

		finding, err := r.Finding(ctx, f.ID)
		same(t, "finding", finding, f)
		return err
	})
}

func putReplaces(t *testing.T, w *world) {
	state := models.VehicleState{LastEventAt: w.at(5), Complaints: []models.Complaint{{At: w.at(4)}}}

	due := w.at(90)
	standing := models.Standing{
		Worst:     models.DoNow,
		Since:     w.at(3),
		Findings:  2,
		DueAt:     &due,
		NextCheck: &due,
		PullAt:    &due,
	}

	tireState := models.TireState{
		Status:    models.Mounted,
		VehicleID: w.vehicle.ID,
		Position:  "1L",
		Doubts:    []string{"jump"},
	}

	v, tire := w.vehicle, w.tires[0]
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return firstError(tx.PutVehicleState(ctx, v.ID, state, standing),
			tx.PutTireStates(ctx, map[models.TireID]models.TireState{tire.ID: tireState}, true))
	})
	tireState.Doubts = []string{"jump", "gauge"} // and nothing moves
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return tx.PutTireStates(ctx, map[models.TireID]models.TireState{tire.ID: tireState}, false)
	})

	v.Number, v.Description = "T-1b", "renumbered"
	v.DepotID, v.Version = w.depots[1].ID, 2
	tire.Design, tire.Version = "rib", 2
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return firstError(tx.PutVehicle(ctx, v), tx.PutTire(ctx, tire))
	})

	w.read(t, func(ctx context.Context, r models.Reader) error {
		rows, _, err := r.Vehicles(
			ctx,
			models.VehicleFilter{Depots: []models.DepotID{w.depots[1].ID}, Text: "RENUMBERED"},
			models.Page{Limit: 5},
		)

		same(
			t,
			"vehicle, its state and standing",
			rows,
			[]models.VehicleRow{{Vehicle: v, State: state, Standing: standing}},
		)

		if err != nil {
			return err
		}

		on, err := r.TiresOn(ctx, v.ID)
		same(t, "tire and its state", on, []models.TireWithState{{Tire: tire, State: tireState}})
		return err
	})

	tireState = models.TireState{Status: models.InStock, RemovedAt: &models.Point{At: w.at(9)}}
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return firstError(tx.PutTireStates(ctx, map[models.TireID]models.TireState{tire.ID: tireState}, true),
			tx.PutVehicleState(ctx, v.ID, models.VehicleState{}, models.Standing{}))
	})

	w.read(t, func(ctx context.Context, r models.Reader) error {
		on, err := r.TiresOn(ctx, v.ID)
		if len(on) != 0 {
			t.Errorf("the tire that came off is still on the vehicle")
		}

		if err != nil {
			return err
		}

		rows, _, err := r.Vehicles(
			ctx, models.VehicleFilter{Depots: []models.DepotID{w.depots[1].ID}}, models.Page{Limit: 5},
		)
		same(t, "emptied standing", rows, []models.VehicleRow{{Vehicle: v}})

		return err
	})
}
