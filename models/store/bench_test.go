package store_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/store"
)

// BenchmarkInspection saves an inspection of ten wheels, durably: what the disk
// and this package take of the time of a request.
func BenchmarkInspection(b *testing.B) {
	ctx := context.Background()
	s := open(b, newFile(b), store.Options{Migrate: true})
	v := models.Vehicle{ID: "v", DepotID: depotID, Number: "1"}
	var readings []models.Reading

	states := map[models.TireID]models.TireState{}
	err := s.Write(ctx, func(tx models.Tx) error {
		err := errors.Join(tx.PutDepot(ctx, models.Depot{ID: depotID, Name: "Alder Yard"}), tx.PutVehicle(ctx, v))
		for _, p := range models.Positions([]models.Axle{{}, {Dual: true}, {Dual: true}}, 0) {
			id := models.TireID("t" + p)
			err = errors.Join(err, tx.PutTire(ctx, models.Tire{ID: id, DepotID: depotID, Number: string(id)}))
			readings = append(readings, models.Reading{Position: p, TireID: id})
			states[id] = models.TireState{Status: models.Mounted, VehicleID: v.ID, Position: p}
		}
		return err
	})
	if err != nil {
		b.Fatal(err)
	}

	for i := 0; b.Loop(); i++ {
		e := &models.Inspection{
			Meta:     models.Meta{ID: models.EventID(fmt.Sprint(i)), VehicleID: v.ID, At: time.Unix(int64(i), 0)},
			Readings: readings,
		}

		err := s.Write(ctx, func(tx models.Tx) error {
			return errors.Join(
				tx.AddEvents(ctx, e),
				tx.PutTireStates(ctx, states, false),
				tx.PutVehicleState(
					ctx,
					v.ID,
					models.VehicleState{},
					models.Standing{},
				),
				tx.AddReceipts(ctx, models.Receipt{ID: string(e.ID), Fingerprint: "print", At: e.At}),
			)
		})
		if err != nil {
			b.Fatal(err)
		}
	}
}
