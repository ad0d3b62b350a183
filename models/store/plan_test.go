package store_test

import (
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/store"
)

// The lists that are open all day must walk an index in their order, whatever
// the size of the fleet: no sorting, no walk over all vehicles.
func TestListsWalkAnIndex(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	s := open(t, newFile(t), store.Options{Migrate: true, Volatile: true})
	var query string
	var args []any
	s.OnQuery(func(sql string, vars []any) { query, args = sql, vars })
	one, two := []models.DepotID{"a"}, []models.DepotID{"a", "b"}

	page := models.Page{Limit: 50}
	next := models.Page{Limit: 50, After: base64.RawURLEncoding.EncodeToString([]byte(`[1,1,"n","id"]`))}
	vehicles := func(f models.VehicleFilter, p models.Page) func(models.Reader) error {
		return func(r models.Reader) error { _, _, err := r.Vehicles(ctx, f, p); return err }
	}
	findings := func(f models.FindingFilter) func(models.Reader) error {
		return func(r models.Reader) error { _, _, err := r.Findings(ctx, f, page); return err }
	}

	for _, c := range []struct {
		name, index string
		read        func(models.Reader) error
	}{
		{"attention, all depots", "vehicles_attention", vehicles(models.VehicleFilter{Attention: true}, page)},
		{"attention, all depots, next page", "vehicles_attention", vehicles(models.VehicleFilter{Attention: true}, next)},
		{"attention, one depot", "vehicles_depot_attention", vehicles(models.VehicleFilter{Attention: true, Depots: one}, page)},
		{"attention, one depot, next page", "vehicles_depot_attention", vehicles(models.VehicleFilter{Attention: true, Depots: one}, next)},
		{"attention, some depots, next page", "vehicles_attention", vehicles(models.VehicleFilter{Attention: true, Depots: two}, next)},
		{"attention, one urgency", "vehicles_attention", vehicles(models.VehicleFilter{Attention: true, Urgency: models.DoNow}, page)},
		{"by date to the pull point, all depots", "vehicles_pull", vehicles(models.VehicleFilter{ByPull: true}, next)},
		{"by date to the pull point, one depot", "vehicles_depot_pull", vehicles(models.VehicleFilter{ByPull: true, Depots: one}, page)},
		{"vehicles by number", "vehicles_list", vehicles(models.VehicleFilter{}, page)},
		{"vehicles of one depot by number", "vehicles_number", vehicles(models.VehicleFilter{Depots: one}, page)},
		{"those to check", "vehicles_next_check", func(r models.Reader) error { _, err := r.VehiclesToCheck(ctx, time.Unix(0, 0), 50); return err }},
		{"tires by number", "tires_list", func(r models.Reader) error { _, _, err := r.Tires(ctx, models.TireFilter{}, page); return err }},
		{"tires on a vehicle", "tires_place", func(r models.Reader) error { _, err := r.TiresOn(ctx, "v"); return err }},
		{"history of a vehicle", "events_vehicle", func(r models.Reader) error {
			_, _, err := r.Events(ctx, models.EventFilter{VehicleID: "v"}, page)
			return err
		}},
		{"findings, all depots", "findings_open", findings(models.FindingFilter{})},
		{"findings, one depot", "findings_depot_open", findings(models.FindingFilter{Depots: one})},
		{"findings, some depots", "findings_open", findings(models.FindingFilter{Depots: two})},
		{"findings of one code", "findings_code", findings(models.FindingFilter{Codes: []models.FindingCode{models.RunFlat}})},
		{"closed findings", "findings_closed", findings(models.FindingFilter{Closed: true})},
		{"changes within some depots", "change_depots", func(r models.Reader) error {
			_, _, err := r.Changes(ctx, models.ChangeFilter{Within: two}, page)
			return err
		}},
		{"changes of one thing", "changes_entity", func(r models.Reader) error {
			_, _, err := r.Changes(ctx, models.ChangeFilter{Entity: "tire", ID: "t"}, page)
			return err
		}},
	} {
		if err := s.Read(ctx, c.read); err != nil {
			t.Fatal(err)
		}
		plan := explain(t, s, query, args)
		if !slices.Contains(strings.Fields(plan), c.index) || strings.Contains(plan, "TEMP B-TREE FOR ORDER BY") {
			t.Errorf("%s: %s\nwant a walk along %s for %s", c.name, plan, c.index, query)
		}
	}
}

func explain(t *testing.T, s *store.Store, query string, args []any) string {
	t.Helper()
	rows, err := s.DB().Query("EXPLAIN QUERY PLAN "+query, args...)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()

	var plan []string
	for rows.Next() {
		var id, parent, unused int
		var step string
		if err := rows.Scan(&id, &parent, &unused, &step); err != nil {
			t.Fatal(err)
		}
		plan = append(plan, step)
	}

	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return strings.Join(plan, " ; ")
}

// An inspection of ten wheels is saved in one statement for each wheel and for
// each finding that was open before, and in a handful for the rest.
func TestStatementsOfAnInspection(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	s := open(t, newFile(t), store.Options{Migrate: true, Volatile: true})
	v := models.Vehicle{ID: "v", DepotID: depotID, Number: "1"}
	e := &models.Inspection{Meta: models.Meta{ID: "e", VehicleID: v.ID}}
	states := map[models.TireID]models.TireState{}

	var findings []models.Finding
	err := s.Write(ctx, func(tx models.Tx) error {
		err := errors.Join(tx.PutDepot(ctx, models.Depot{ID: depotID, Name: "Alder Yard"}), tx.PutVehicle(ctx, v))
		for _, p := range models.Positions([]models.Axle{{}, {Dual: true}, {Dual: true}}, 0) {
			id := models.TireID("t" + p)
			err = errors.Join(err, tx.PutTire(ctx, models.Tire{ID: id, DepotID: depotID, Number: string(id)}))
			e.Readings = append(e.Readings, models.Reading{Position: p, TireID: id})
			states[id] = models.TireState{Status: models.Mounted, VehicleID: v.ID, Position: p}
			findings = append(
				findings,
				models.Finding{ID: models.FindingID("f" + p), DepotID: depotID, VehicleID: v.ID},
			)
		}

		return errors.Join(err, tx.PutTireStates(ctx, states, true))
	})

	if err != nil {
		t.Fatal(err)
	}

	n := 0
	s.OnWrite(func() { n++ })

	err = s.Write(ctx, func(tx models.Tx) error {
		return errors.Join(
			tx.AddEvents(ctx, e),
			tx.PutTireStates(ctx, states, false),
			tx.PutVehicleState(ctx, v.ID, models.VehicleState{}, models.Standing{}),
			tx.PutFindings(
				ctx,
				findings,
			),
			tx.AddReceipts(ctx, models.Receipt{ID: "e", Fingerprint: "print", At: time.Unix(0, 0)}),
		)
	})
	if err != nil {
		t.Fatal(err)
	}

	if want := len(states) + len(findings) + 8; n > want {
		t.Errorf("%d statements for %d wheels and %d findings, want at most %d", n, len(states), len(findings), want)
	}
}

// More than one statement takes is written and read all the same.
func TestManyAtOnce(t *testing.T) {
	t.Parallel()

	ctx := context.Background()
	for name, dsn := range databases(t) {
		s := open(t, dsn, store.Options{Migrate: true, Volatile: true})
		const n = 1201

		v := models.Vehicle{ID: "00000000-0000-7000-8000-000000000002", DepotID: depotID, Number: "1"}
		err := s.Write(ctx, func(tx models.Tx) error {
			if err := tx.PutDepot(ctx, models.Depot{ID: depotID, Name: "Alder Yard"}); err != nil {
				return err
			}
			if err := tx.PutVehicle(ctx, v); err != nil {
				return err
			}

			states := map[models.TireID]models.TireState{}

			var findings []models.Finding
			for i := range n {
				id := fmt.Sprintf("%036d", i)
				tire := models.Tire{ID: models.TireID(id), DepotID: depotID, Number: id}
				if err := tx.PutTire(ctx, tire); err != nil {
					return err
				}
				states[models.TireID(id)] = models.TireState{
					Status:    models.Mounted,
					VehicleID: v.ID,
					Position:  models.Position(id),
				}

				findings = append(findings, models.Finding{ID: models.FindingID(id), DepotID: depotID, VehicleID: v.ID})
			}

			if err := tx.PutTireStates(ctx, states, true); err != nil {
				return err
			}
			return tx.PutFindings(ctx, findings)
		})

		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}

		err = s.Read(ctx, func(r models.Reader) error {
			on, err := r.TiresOn(ctx, v.ID)
			if err != nil {
				return err
			}
			open, err := r.OpenFindings(ctx, v.ID)
			if len(on) != n || len(open) != n {
				t.Errorf("%s: %d tires, %d findings; want %d", name, len(on), len(open), n)
			}

			return err
		})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}
}
