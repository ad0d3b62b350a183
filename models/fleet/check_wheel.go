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
		c.faults.Add(
			"on_vehicle",
			"true",
			"is of a loose assembly; name the position, or say that it was measured off the vehicle",
		)
	}

	e.Check(&c.faults)
	return nil
}

// keepWheel writes back to a wheel what events measured of it: the newest value of
// each thing that is not superseded, so that a withdrawal brings the earlier one back.
func (s *Service) keepWheel(ctx context.Context, tx models.Tx, a Actor, e, old models.Event, now time.Time) error {
	if err := s.keepGeometry(ctx, tx, a, e, old, now); err != nil {
		return err
	}

	// A correction may name another wheel than the event that it supersedes.
	var wheels []models.WheelID
	for _, c := range []models.Event{old, e} {
		if check, ok := c.(*models.WheelCheck); ok {
			wheels = append(wheels, models.WheelsOf(check)...)
		}
	}

	slices.Sort(wheels)
	for _, id := range slices.Compact(wheels) {
		w, err := tx.Wheel(ctx, id)
		if err != nil {
			return err
		}
		before := w
		if w.RunOut, err = rimAt(ctx, tx, id, now.Add(clockSkew)); err != nil {
			return err
		}

		// An unchanged wheel gets no new version and no line in the audit trail.
		if reflect.DeepEqual(before.RunOut, w.RunOut) {
			continue
		}

		w.Version, w.UpdatedAt, w.UpdatedBy = w.Version+1, now, a.User.ID
		if err := tx.PutWheel(ctx, w); err != nil {
			return err
		}
		change := models.Change{Entity: "wheel", ID: string(w.ID), What: "measured", Depots: []models.DepotID{w.DepotID}}
		if err := s.audit(ctx, tx, a, now, change, before, w); err != nil {
			return err
		}
	}

	return nil
}

// rimAt returns a wheel's own run-out at a time, by the checks that are not superseded.
func rimAt(ctx context.Context, r models.Reader, id models.WheelID, at time.Time) ([]models.TruenessRecord, error) {
	checks, _, err := r.Events(
		ctx,
		models.EventFilter{WheelID: id, Kinds: []models.EventKind{models.KindWheelCheck}, Ascending: true},
		models.Page{},
	)

	var out []models.TruenessRecord
	for _, e := range checks {
		if c, ok := e.(*models.WheelCheck); ok && !c.At.After(at) {
			out = models.NewestTrueness(
				out,
				slices.DeleteFunc(c.Records(), func(v models.TruenessRecord) bool { return !v.What.OfRim() }),
			)
		}
	}

	return out, err
}

// refreshRims corrects the run-out that e, if it is a fit, copied of the wheel under
// tire id from a check that was withdrawn or corrected since.
func refreshRims(ctx context.Context, r models.Reader, e models.Event, id models.TireID) error {
	fit, ok := e.(*models.Fit)
	if !ok {
		return nil
	}

	for i, f := range fit.Fittings {
		for _, v := range f.Rim {
			if f.TireID != id {
				continue
			}

			from, err := r.Event(ctx, v.EventID)
			if err != nil {
				return err
			}
			if from.Header().SupersededBy == "" {
				continue
			}
			if fit.Fittings[i].Rim, err = rimAt(ctx, r, f.WheelID, fit.At); err != nil {
				return err
			}

			break
		}
	}

	return nil
}

// rimCopies lists the tires that were fitted on the wheel of check old after it, with
// what was known of the rim then: withdrawing old may change that.
func rimCopies(ctx context.Context, r models.Reader, old models.Event) ([]models.TireID, error) {
	check, ok := old.(*models.WheelCheck)
	if !ok || check.WheelID == "" {
		return nil, nil
	}
	fits, _, err := r.Events(
		ctx,
		models.EventFilter{WheelID: check.WheelID, Kinds: []models.EventKind{models.KindFit}, Ascending: true},
		models.Page{},
	)

	var out []models.TireID
	for _, e := range fits {
		for _, f := range e.(*models.Fit).Fittings {
			if f.WheelID == check.WheelID && len(f.Rim) > 0 && !e.Header().At.Before(check.At) {
				out = append(out, f.TireID)
			}
		}
	}

	return out, err
}
