package storetest

import (
	"context"
	"errors"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"rimledger/models"
)

func notFound(t *testing.T, w *world) {
	absent := newID[string]()
	for name, get := range map[string]func(context.Context, models.Reader) error{
		"depot": func(ctx context.Context, r models.Reader) error {
			_, err := r.Depot(ctx, models.DepotID(absent))
			return err
		},
		"vehicle": func(ctx context.Context, r models.Reader) error {
			_, _, err := r.Vehicle(ctx, models.VehicleID(absent))
			return err
		},
		"vehicle of another depot": func(ctx context.Context, r models.Reader) error {
			_, err := r.VehicleByNumber(ctx, w.depots[1].ID, w.vehicle.Number)
			return err
		},
		"tire": func(ctx context.Context, r models.Reader) error {
			_, _, err := r.Tire(ctx, models.TireID(absent))
			return err
		},
		"tire of another depot": func(ctx context.Context, r models.Reader) error {
			_, err := r.TireByNumber(ctx, w.depots[1].ID, w.tires[0].Number)
			return err
		},
		"wheel": func(ctx context.Context, r models.Reader) error {
			_, err := r.Wheel(ctx, models.WheelID(absent))
			return err
		},
		"photo": func(ctx context.Context, r models.Reader) error {
			_, err := r.Photo(ctx, models.PhotoID(absent))
			return err
		},
		"event": func(ctx context.Context, r models.Reader) error {
			_, err := r.Event(ctx, models.EventID(absent))
			return err
		},
		"finding": func(ctx context.Context, r models.Reader) error {
			_, err := r.Finding(ctx, models.FindingID(absent))
			return err
		},
		"token by id": func(ctx context.Context, r models.Reader) error {
			_, err := r.TokenByID(ctx, models.TokenID(absent))
			return err
		},
		"user": func(ctx context.Context, r models.Reader) error {
			_, err := r.User(ctx, models.UserID(absent))
			return err
		},
		"email": func(ctx context.Context, r models.Reader) error {
			_, err := r.UserByEmail(ctx, "nobody@example.org")
			return err
		},
		"token": func(ctx context.Context, r models.Reader) error { _, err := r.Token(ctx, absent); return err },
		"slot": func(ctx context.Context, r models.Reader) error {
			_, err := r.DigestSlot(ctx, w.depots[0].ID, "2026-03-30T06:00")
			return err
		},
	} {
		err := w.store.Read(context.Background(), func(r models.Reader) error { return get(context.Background(), r) })
		if models.KindOf(err) != models.NotFound {
			t.Errorf("%s: got %v, want a not found error", name, err)
		}
	}

	for name, put := range map[string]func(context.Context, models.Tx) error{
		"state of a vehicle": func(ctx context.Context, tx models.Tx) error {
			return tx.PutVehicleState(ctx, models.VehicleID(absent), models.VehicleState{}, models.Standing{})
		},
		"state of a tire": func(ctx context.Context, tx models.Tx) error {
			return tx.PutTireStates(ctx, map[models.TireID]models.TireState{w.tires[0].ID: {}, models.TireID(absent): {}}, true)
		},
	} {
		if err := w.tryWrite(put); models.KindOf(err) != models.NotFound {
			t.Errorf("%s that is not there: got %v, want a not found error", name, err)
		}
	}
}

func conflicts(t *testing.T, w *world) {
	odometer := &models.OdometerEntry{
		Meta: models.Meta{ID: newID[models.EventID](), VehicleID: w.vehicle.ID, At: w.at(1)},
	}

	later := &models.OdometerEntry{Meta: models.Meta{ID: newID[models.EventID](), VehicleID: w.vehicle.ID, At: w.at(2)}}

	token := models.Token{ID: newID[models.TokenID](), UserID: w.user.ID, Hash: "h"}
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return firstError(
			tx.AddEvents(ctx, odometer),
			tx.AddEvents(ctx, later),
			tx.Supersede(ctx, odometer.ID, later.ID),
			tx.AddReceipts(ctx, models.Receipt{ID: "r", Fingerprint: "print", At: w.at(0)}),
			tx.PutToken(ctx, token),
		)
	})

	for _, c := range []struct {
		name, says string
		put        func(context.Context, models.Tx) error
	}{
		{"vehicle number in the depot", "T-1", func(ctx context.Context, tx models.Tx) error { return tx.PutVehicle(ctx, w.newVehicle("T-1")) }},
		{"tire number in the depot", "A001", func(ctx context.Context, tx models.Tx) error { return tx.PutTire(ctx, w.newTire("A001")) }},
		{"wheel number in the depot", "W-1", func(ctx context.Context, tx models.Tx) error {
			return tx.PutWheel(ctx, models.Wheel{ID: newID[models.WheelID](), DepotID: w.depots[0].ID, Number: "W-1"})
		}},
		{"renumbering onto a taken number", "A001", func(ctx context.Context, tx models.Tx) error {
			tire := w.tires[0]
			tire.Number = "A001"
			return tx.PutTire(ctx, tire)
		}},
		{"depot name", "Alder Yard", func(ctx context.Context, tx models.Tx) error {
			return tx.PutDepot(ctx, models.Depot{ID: newID[models.DepotID](), Name: "Alder Yard"})
		}},
		{"email", "ana@example.org", func(ctx context.Context, tx models.Tx) error {
			return tx.PutUser(ctx, models.User{ID: newID[models.UserID](), Email: "ana@example.org"})
		}},
		{"token hash", "token", func(ctx context.Context, tx models.Tx) error {
			return tx.PutToken(ctx, models.Token{ID: newID[models.TokenID](), UserID: w.user.ID, Hash: "h"})
		}},
		{"event id", string(odometer.ID), func(ctx context.Context, tx models.Tx) error { return tx.AddEvents(ctx, odometer) }},
		{"receipt", "r", func(ctx context.Context, tx models.Tx) error {
			return tx.AddReceipts(ctx, models.Receipt{ID: "r", Fingerprint: "other", At: w.at(1)})
		}},
		{"superseding twice", string(odometer.ID), func(ctx context.Context, tx models.Tx) error { return tx.Supersede(ctx, odometer.ID, later.ID) }},
	} {
		err := w.tryWrite(c.put)
		var e *models.Error
		if !errors.As(err, &e) || e.Kind != models.Conflict || !strings.Contains(e.Msg, c.says) {
			t.Errorf("%s: got %v, want a conflict that names %q", c.name, err, c.says)
		}
	}

	w.write(t, func(ctx context.Context, tx models.Tx) error { // the same numbers in the other depot
		v, tire, wheel := w.newVehicle("T-1"), w.newTire("A001"), w.wheel
		v.DepotID, tire.DepotID, wheel.DepotID = w.depots[1].ID, w.depots[1].ID, w.depots[1].ID
		wheel.ID = newID[models.WheelID]()
		return firstError(tx.PutVehicle(ctx, v), tx.PutTire(ctx, tire), tx.PutWheel(ctx, wheel))
	})
}

func missingReferences(t *testing.T, w *world) {
	nowhere := newID[models.DepotID]()

	ghost, noTire := newID[models.VehicleID](), newID[models.TireID]()
	for name, put := range map[string]func(context.Context, models.Tx) error{
		"vehicle of no depot": func(ctx context.Context, tx models.Tx) error {
			return tx.PutVehicle(ctx, models.Vehicle{ID: newID[models.VehicleID](), DepotID: nowhere, Number: "x"})
		},
		"tire of no depot": func(ctx context.Context, tx models.Tx) error {
			return tx.PutTire(ctx, models.Tire{ID: newID[models.TireID](), DepotID: nowhere, Number: "x"})
		},
		"policy of no depot": func(ctx context.Context, tx models.Tx) error {
			return tx.PutDepotPolicy(ctx, models.DepotPolicy{DepotID: nowhere, Class: models.Bus})
		},
		"event of no vehicle": func(ctx context.Context, tx models.Tx) error {
			return tx.AddEvents(ctx, &models.Alignment{Meta: models.Meta{ID: newID[models.EventID](), VehicleID: ghost}})
		},
		"event of no tire": func(ctx context.Context, tx models.Tx) error {
			return tx.AddEvents(ctx, &models.Repair{Meta: models.Meta{ID: newID[models.EventID]()}, TireID: noTire})
		},
		"tire on no vehicle": func(ctx context.Context, tx models.Tx) error {
			return tx.PutTireStates(ctx, map[models.TireID]models.TireState{w.tires[0].ID: {Status: models.Mounted, VehicleID: ghost, Position: "1L"}}, true)
		},
		"fitment of no tire": func(ctx context.Context, tx models.Tx) error {
			return tx.PutFitments(ctx, []models.Fitment{{ID: newID[models.FitmentID](), TireID: noTire, VehicleID: w.vehicle.ID}})
		},
		"finding on no vehicle": func(ctx context.Context, tx models.Tx) error {
			return tx.PutFindings(ctx, []models.Finding{{ID: newID[models.FindingID](), DepotID: w.depots[0].ID, VehicleID: ghost}})
		},
		"token of nobody": func(ctx context.Context, tx models.Tx) error {
			return tx.PutToken(ctx, models.Token{ID: newID[models.TokenID](), UserID: newID[models.UserID](), Hash: "x"})
		},
	} {
		if err := w.tryWrite(put); models.KindOf(err) != models.Conflict {
			t.Errorf("%s: got %v, want a conflict", name, err)
		}
	}
}

// unfinished is a write that must leave nothing behind.
type unfinished struct {
	w          *world
	vehicle    models.Vehicle
	inspection *models.Inspection
}

// fill writes all of it.
func (u unfinished) fill(ctx context.Context, tx models.Tx) error {
	return firstError(
		tx.PutVehicle(ctx, u.vehicle),
		tx.AddEvents(ctx, u.inspection),
		tx.AddReceipts(ctx, models.Receipt{ID: "never", Fingerprint: "p", At: u.w.at(1)}),
	)
}

// isGone fails if anything of it is in the store, after it failed in some way.
func (u unfinished) isGone(t *testing.T, how string) {
	t.Helper()

	u.w.read(t, func(ctx context.Context, r models.Reader) error {
		_, _, vehicle := r.Vehicle(ctx, u.vehicle.ID)
		_, event := r.Event(ctx, u.inspection.ID)
		for _, err := range []error{vehicle, event} {
			if models.KindOf(err) != models.NotFound {
				t.Errorf("%s left something behind: %v", how, err)
			}
		}

		receipts, err := r.Receipts(ctx, "never")
		if err != nil || len(receipts) > 0 {
			t.Errorf("receipts of a write that failed: %v, %v", receipts, err)
		}
		return nil
	})
}

func rollback(t *testing.T, w *world) {
	u := unfinished{w, w.newVehicle("never"), &models.Inspection{
		Meta:     models.Meta{ID: newID[models.EventID](), VehicleID: w.vehicle.ID, At: w.at(1)},
		Readings: []models.Reading{{Position: "1L", TireID: w.tires[0].ID}},
	}}

	ours := errors.New("the rule said no")
	err := w.tryWrite(func(ctx context.Context, tx models.Tx) error { return firstError(u.fill(ctx, tx), ours) })
	if !errors.Is(err, ours) {
		t.Errorf("got %v, want the error of the function", err)
	}
	u.isGone(t, "an error")

	err = w.tryWrite(func(ctx context.Context, tx models.Tx) error {
		return firstError(u.fill(ctx, tx), tx.PutVehicle(ctx, w.newVehicle("T-1")))
	})
	if models.KindOf(err) != models.Conflict {
		t.Errorf("got %v, want a conflict", err)
	}
	u.isGone(t, "a conflict")

	ctx, cancel := context.WithCancel(context.Background())
	err = w.store.Write(ctx, func(tx models.Tx) error {
		defer cancel()
		return u.fill(ctx, tx)
	})
	if models.KindOf(err) != models.Unavailable {
		t.Errorf("a request that ended: got %v, want unavailable", err)
	}
	u.isGone(t, "a request that ended")

	u.panics(t)
	u.isGone(t, "a panic")

	w.write(t, u.fill) // nothing is held by what failed
}

// panics writes and panics, which must come through.
func (u unfinished) panics(t *testing.T) {
	t.Helper()
	defer func() {
		if recover() == nil {
			t.Error("the panic was swallowed")
		}
	}()

	_ = u.w.tryWrite(func(ctx context.Context, tx models.Tx) error {
		if err := u.fill(ctx, tx); err != nil {
			return err
		}
		panic("a fault of ours")
	})
}

func writeSeesItself(t *testing.T, w *world) {
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		v := w.newVehicle("new")
		if err := tx.PutVehicle(ctx, v); err != nil {
			return err
		}
		got, err := tx.VehicleByNumber(ctx, v.DepotID, "new")
		same(t, "vehicle", got, v)
		return err
	})
}

func snapshot(t *testing.T, w *world) {
	names := func(ctx context.Context, r models.Reader) string {
		list, err := r.Depots(ctx)
		if err != nil {
			t.Fatalf("depots: %v", err)
		}
		return strings.Join(collect(list, func(d models.Depot) string { return d.Name }), ", ")
	}

	w.read(t, func(ctx context.Context, r models.Reader) error {
		before := names(ctx, r)
		w.write(t, func(ctx context.Context, tx models.Tx) error {
			return firstError(
				tx.PutDepot(ctx, models.Depot{ID: newID[models.DepotID](), Name: "Cedar Yard"}),
				tx.PutVehicle(ctx, w.newVehicle("later")),
			)
		})

		if after := names(ctx, r); after != before {
			t.Errorf("one read saw %q, then %q", before, after)
		}
		if _, err := r.VehicleByNumber(ctx, w.depots[0].ID, "later"); models.KindOf(err) != models.NotFound {
			t.Errorf("the read saw a vehicle written after it began: %v", err)
		}

		return nil
	})

	w.read(t, func(ctx context.Context, r models.Reader) error {
		if got, want := names(ctx, r), "Alder Yard, Birch Yard, Cedar Yard, Dell Yard"; got != want {
			t.Errorf("the next read saw %q, want %q", got, want)
		}
		return nil
	})
}

// Writers that read first and write then must not overwrite one another, and no
// function runs twice: use-cases count on what they changed.
func noLostUpdate(t *testing.T, w *world) {
	const writers, rounds = 4, 5
	var wg sync.WaitGroup

	var runs atomic.Int32
	for range writers {
		wg.Go(func() {
			for range rounds {
				err := w.tryWrite(func(ctx context.Context, tx models.Tx) error {
					runs.Add(1)
					d, err := tx.Depot(ctx, w.depots[0].ID)
					if err != nil {
						return err
					}
					d.Version++
					return tx.PutDepot(ctx, d)
				})
				if err != nil {
					t.Errorf("write: %v", err)
				}
			}
		})
	}

	wg.Wait()

	got := one(
		t,
		w,
		func(ctx context.Context, r models.Reader) (models.Depot, error) { return r.Depot(ctx, w.depots[0].ID) },
	)
	if got.Version != writers*rounds || runs.Load() != writers*rounds {
		t.Errorf("%d updates are there after %d runs, want %d of each", got.Version, runs.Load(), writers*rounds)
	}
}
