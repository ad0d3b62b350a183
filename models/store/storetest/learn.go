package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rimledger/models"
	"rimledger/models/wear"
)

func learnings(t *testing.T, w *world) {
	get := func(ctx context.Context, r models.Reader) (models.Learning, error) { return r.Learning(ctx) }
	err := w.store.Read(
		context.Background(),
		func(r models.Reader) error { _, err := r.Learning(context.Background()); return err },
	)
	if !errors.Is(err, models.NotFound) {
		t.Errorf("before anything was learned: %v", err)
	}

	rapid.Check(t, func(rt *rapid.T) {
		l := full[models.Learning](rt, w)
		w.write(t, func(ctx context.Context, tx models.Tx) error { return tx.PutLearning(ctx, l) })
		same(rt, "learning", one(t, w, get), l)
	})
}

// wearSummaries: an ended fitment says what was kept with it, a mounted tire what
// its estimate says now; one off the vehicle and one not yet measured say nothing.
func wearSummaries(t *testing.T, w *world) {
	measured := func(perKKM float64) *wear.State {
		s, err := wear.Start(wear.DefaultPrior("car", "steer"), wear.Fitting{NewMM: 8, Fresh: true})
		if err != nil {
			t.Fatal(err)
		}
		if s, _, err = s.Update(wear.Reading{XKM: 20_000, DepthMM: 8 - 20*perKKM, Gauge: wear.GaugeTenth}); err != nil {
			t.Fatal(err)
		}
		return &s
	}

	ended := wear.Summary{Class: "bus", Role: "drive", Design: "rib", RateMM: 0.2, SEMM: 0.01}
	w.write(t, func(ctx context.Context, tx models.Tx) error {
		return firstError(
			tx.PutTireStates(ctx, map[models.TireID]models.TireState{
				w.tires[0].ID: {
					Status:    models.Mounted,
					VehicleID: w.vehicle.ID,
					Position:  "1L",
					MinWear:   measured(0.1),
				},
				w.tires[1].ID: {Status: models.Mounted, VehicleID: w.vehicle.ID, Position: "1R"},
				w.tires[2].ID: {Status: models.InStock, MinWear: measured(0.15)},
			}, true),
			tx.PutFitments(ctx, []models.Fitment{
				{
					ID:        newID[models.FitmentID](),
					TireID:    w.tires[2].ID,
					VehicleID: w.vehicle.ID,
					Position:  "1R",
					From:      models.Point{At: w.at(1)},
					To:        &models.Point{At: w.at(2)},
					Wear:      &ended,
				},
				{
					ID:        newID[models.FitmentID](),
					TireID:    w.tires[1].ID,
					VehicleID: w.vehicle.ID,
					Position:  "1R",
					From:      models.Point{At: w.at(3)},
				},
			}))
	})

	list := func(ctx context.Context, r models.Reader) ([]string, error) {
		var out []string
		err := r.EachWear(ctx, func(s wear.Summary) error {
			out = append(out, fmt.Sprintf("%s/%s", s.Class, s.Design))
			return nil
		})
		return out, err
	}

	got := one(t, w, list)
	slices.Sort(got)
	want := []string{string(w.vehicle.Class) + "/" + w.tires[0].Design, "bus/rib"}
	slices.Sort(want)
	if strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("summaries of %v, want %v", got, want)
	}

	stop := errors.New("enough")
	err := w.store.Read(context.Background(), func(r models.Reader) error {
		return r.EachWear(context.Background(), func(wear.Summary) error { return stop })
	})
	if !errors.Is(err, stop) {
		t.Errorf("a stopped list says %v", err)
	}
}
