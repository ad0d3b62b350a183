package fleet

import (
	"context"
	"errors"
	"slices"
	"time"

	"rimledger/models"
)

// exported reports whether e, a visit of a sheet with an id, is in the record under that
// id and says the same, as far as a sheet can say it; superseded or not. It returns a
// Conflict error if it says something else. What is not in the record is new.
func (im *importer) exported(ctx context.Context, e models.Event) (bool, error) {
	known, err := im.part.tx.Event(ctx, e.Header().ID)
	if errors.Is(err, models.NotFound) {
		return false, nil
	}
	if err != nil {
		return false, err
	}

	was, isVisit := known.(*models.Inspection)
	now, ok := e.(*models.Inspection)
	if !ok || !isVisit || was.VehicleID != now.VehicleID || !sameOnSheet(was, now, im.zone) {
		return false, idUsed(string(now.ID))
	}
	return true, nil
}

// sameOnSheet reports whether two visits are the same on a sheet, which has the minute on
// the clock of the depot, what was read, and of each observation its code, count or direction.
func sameOnSheet(a, b *models.Inspection, zone *time.Location) bool {
	clock := func(e *models.Inspection) string { return e.At.In(zone).Format("2006-01-02 15:04") }
	if clock(a) != clock(b) || a.Odometer.Known != b.Odometer.Known ||
		a.Odometer.Value != b.Odometer.Value {
		return false
	}
	return slices.EqualFunc(a.Readings, b.Readings, func(x, y models.Reading) bool {
		samePressure := x.Pressure == nil && y.Pressure == nil ||
			x.Pressure != nil && y.Pressure != nil && x.Pressure.Value == y.Pressure.Value
		return x.Position == y.Position && samePressure && x.NotReached == y.NotReached &&
			(len(x.Depths) == 0 && len(y.Depths) == 0 || sameDepths(x.Depths, y.Depths)) &&
			slices.EqualFunc(x.Observations, y.Observations, sameObservation)
	})
}

func sameObservation(x, y models.Observation) bool {
	if x.Code != y.Code || x.Count != y.Count {
		return false
	}
	return x.Count > 0 || x.Direction == y.Direction // a count stands in the place of a direction
}
