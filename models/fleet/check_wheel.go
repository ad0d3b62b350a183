package fleet

import (
	"context"
	"reflect"
	"slices"
	"time"

	"rimledger/models"
)

// wheelCheck checks what was measured of an assembly and finds its wheel.
func (c *checker) wheelCheck(ctx context.Context, tx models.Tx, e *models.WheelCheck) error {
	t, err := c.assembly(ctx, tx, e.Position, &e.TireID)
	if err != nil {
		return err
	}
	w, err := c.wheelOf(ctx, tx, e.Position, &e.WheelID, t)
	if err != nil {
		return err
	}
	e.Material = w.Material
	if e.OnVehicle && e.Position == "" {
		c.faults.Add("on_vehicle", "true", "is of a loose assembly; name the position, or say that it was measured off the vehicle")
	}
	e.Check(&c.faults)
	return nil
}

// keepWheel writes back to a wheel what an event measured of it.
func (s *Service) keepWheel(ctx context.Context, tx models.Tx, a Actor, e, old models.Event, now time.Time) error {
	if err := s.keepGeometry(ctx, tx, a, e, old, now); err != nil {
		return err
	}
	for _, c := range []models.Event{old, e} {
		check, ok := c.(*models.WheelCheck)
		if !ok || check.WheelID == "" {
			continue
		}
		w, err := tx.Wheel(ctx, check.WheelID)
		if err != nil {
			return err
		}
		before := w
		w.RunOut = slices.DeleteFunc(slices.Clone(w.RunOut), func(v models.TrueValue) bool { return v.EventID == check.ID })
		if c == e {
			w.RunOut = models.NewestTrue(w.RunOut, slices.DeleteFunc(check.Values(), func(v models.TrueValue) bool { return !v.What.OfRim() }))
		}
		if reflect.DeepEqual(before.RunOut, w.RunOut) {
			continue
		}
		w.Version, w.UpdatedAt, w.UpdatedBy = w.Version+1, now, a.User.ID
		if err := tx.PutWheel(ctx, w); err != nil {
			return err
		}
		if err := s.audit(ctx, tx, a, now, "wheel", string(w.ID), "measured", before, w); err != nil {
			return err
		}
	}
	return nil
}
