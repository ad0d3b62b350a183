package fleet

import (
	"context"
	"errors"

	"rimledger/models"
)

// trial lets the rows of an import run on a snapshot of the record, while other
// people write: it keeps in memory what later rows are checked against, and
// forgets the rest. An import that is only tried calls no other methods of a Writer.
type trial struct {
	models.Reader
	models.Writer // nil

	vehicles map[models.VehicleID]models.Vehicle
	tires    map[models.TireID]models.Tire
}

func newTrial(r models.Reader) *trial {
	return &trial{Reader: r, vehicles: map[models.VehicleID]models.Vehicle{}, tires: map[models.TireID]models.Tire{}}
}

// PutVehicle keeps a new vehicle. It returns a Conflict error if another has its number.
func (t *trial) PutVehicle(ctx context.Context, v models.Vehicle) error {
	t.vehicles[v.ID] = v
	_, err := t.VehicleByNumber(ctx, v.DepotID, v.Number)
	return taken(err, "a vehicle with number "+v.Number)
}

func (t *trial) Vehicle(ctx context.Context, id models.VehicleID) (models.Vehicle, models.VehicleState, error) {
	if v, ok := t.vehicles[id]; ok {
		return v, models.VehicleState{}, nil
	}
	return t.Reader.Vehicle(ctx, id)
}

// PutTire keeps a new tire. It returns a Conflict error if another has its number.
func (t *trial) PutTire(ctx context.Context, tire models.Tire) error {
	t.tires[tire.ID] = tire
	_, err := t.TireByNumber(ctx, tire.DepotID, tire.Number)
	return taken(err, "a tire with number "+tire.Number)
}

func (t *trial) Tire(ctx context.Context, id models.TireID) (models.Tire, models.TireState, error) {
	if tire, ok := t.tires[id]; ok {
		return tire, models.TireState{Status: models.InStock}, nil
	}
	return t.Reader.Tire(ctx, id)
}

func (*trial) PutFitments(context.Context, []models.Fitment) error { return nil }

func (*trial) AddChange(context.Context, models.Change) error { return nil }

// taken turns the answer to a search for a number into that of a store to a
// second thing with it.
func taken(err error, what string) error {
	switch {
	case err == nil:
		return models.Errorf(models.Conflict, "%s in this depot exists already", what)
	case errors.Is(err, models.NotFound):
		return nil
	}
	return err
}
