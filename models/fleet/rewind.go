package fleet

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"

	"rimledger/models"
	"rimledger/models/history"
)

// rewind sets what an entry is compared with: the vehicle and its tires as they were
// when it happened. For a new entry that is how they are now; an entry that comes late
// or corrects another one is compared with what stood before it, without the entry that
// it corrects.
func (c *checker) rewind(ctx context.Context, tx models.Tx) error {
	c.state, c.places = c.sc.state, map[models.Position]*models.TireWithState{}
	if c.sc.vehicle.ID == "" {
		return nil
	}

	if !c.isRewound() {
		for _, t := range c.sc.tires {
			if t.State.VehicleID == c.sc.vehicle.ID {
				c.places[t.State.Position] = t
			}
		}
		return nil
	}

	if c.isImported() {
		return c.importedPlaces(ctx, tx)
	}
	if err := c.rewindVehicle(ctx, tx); err != nil {
		return err
	}
	return c.rewindPlaces(ctx, tx)
}

// isImported reports whether the entry is one of many of a sheet, whose states are in
// memory. A late one is compared with the newest of them: see batch.
func (c *checker) isImported() bool { return c.sc.shared != nil }

// importedPlaces finds which tire was where at the time of a late row.
func (c *checker) importedPlaces(ctx context.Context, tx models.Tx) error {
	then, err := c.sc.fitmentsAt(ctx, tx, c.h.At)
	if err != nil {
		return err
	}
	for _, f := range then {
		if c.places[f.Position], err = c.sc.tire(ctx, tx, f.TireID); err != nil {
			return err
		}
	}
	return nil
}

// isRewound reports whether the entry belongs before something that is recorded.
func (c *checker) isRewound() bool { return c.old != nil || c.h.At.Before(c.sc.state.LastEventAt) }

// before returns those of events that stood before the entry: of one moment, a correction
// stands where the entry does that it corrects.
func (c *checker) before(ctx context.Context, r models.Reader, events []models.Event) ([]models.Event, error) {
	own := moment{at: c.h.At, recorded: c.h.RecordedAt, id: c.h.ID}
	if c.old != nil && c.old.Header().At.Equal(c.h.At) {
		var err error
		if own, err = momentOf(ctx, r, c.old); err != nil {
			return nil, err
		}
	}

	var out []models.Event
	for _, e := range events {
		m, err := momentOf(ctx, r, e)
		if err != nil {
			return nil, err
		}
		isOld := c.old != nil && e.Header().ID == c.old.Header().ID
		if !isOld && m.compare(own) < 0 {
			out = append(out, e)
		}
	}
	return out, nil
}

// rewindVehicle finds the state of the vehicle before the entry, and the first odometer
// that was read after it.
func (c *checker) rewindVehicle(ctx context.Context, tx models.Tx) error {
	events, err := eventsInOrder(ctx, tx, models.EventFilter{VehicleID: c.sc.vehicle.ID})
	if err != nil {
		return err
	}
	before, err := c.before(ctx, tx, events)
	if err != nil {
		return err
	}

	c.state = history.ReplayVehicle(c.sc.vehicle, before)
	for _, e := range events {
		if h := e.Header(); h.At.After(c.h.At) && h.Odometer.Known && (c.old == nil || h.ID != c.old.Header().ID) {
			c.later = h
			break
		}
	}

	return nil
}

// rewindPlaces finds which tire was where before the entry.
func (c *checker) rewindPlaces(ctx context.Context, tx models.Tx) error {
	then, err := tx.Fitments(ctx, models.FitmentFilter{VehicleID: c.sc.vehicle.ID, At: c.h.At})
	if err != nil {
		return err
	}

	var ids []models.TireID
	for _, f := range then {
		ids = append(ids, f.TireID)
	}
	if c.old != nil {
		ids = append(ids, c.old.TireIDs()...)
	}
	slices.Sort(ids)

	for _, id := range slices.Compact(ids) {
		t, err := c.tire(ctx, tx, id)
		if err != nil {
			return err
		}
		if t.State.VehicleID == c.sc.vehicle.ID {
			c.places[t.State.Position] = t
		}
	}

	return nil
}

// tire returns a tire as it was before the entry.
func (c *checker) tire(ctx context.Context, tx models.Tx, id models.TireID) (*models.TireWithState, error) {
	now, err := c.sc.tire(ctx, tx, id)
	if err != nil || c.isImported() || c.old == nil && !c.h.At.Before(now.State.LastEventAt) {
		return now, err
	}

	life, err := loadLife(ctx, tx, id)
	if err != nil {
		return nil, err
	}
	before, err := c.before(ctx, tx, life.events)
	if err != nil {
		return nil, err
	}
	state, _ := history.ReplayTire(life.tire, life.vehicles, before)
	return &models.TireWithState{Tire: life.tire, State: state}, nil
}

// changesWordsOnly reports whether e differs from the entry that it corrects in nothing
// but who says so, note and reason.
func changesWordsOnly(e, old models.Event) (bool, error) {
	if old == nil || e.Kind() != old.Kind() || !sameMoment(e.Header(), old.Header()) {
		return false, nil
	}
	return sameContent(withoutMeta(e), withoutMeta(old))
}

// sameMoment reports whether two headers name the same time and odometer.
func sameMoment(a, b *models.Meta) bool {
	x, y := a.Odometer, b.Odometer
	return a.At.Equal(b.At) && x.Known == y.Known && x.Value == y.Value && x.Estimated == y.Estimated
}

// withoutMeta returns a copy of e with an empty header, and without what it corrects.
func withoutMeta(e models.Event) any {
	if report, ok := e.(*models.Vibration); ok {
		c := *report
		c.Meta, c.Corrects = models.Meta{}, nil
		return &c
	}

	v := reflect.New(reflect.TypeOf(e).Elem())
	v.Elem().Set(reflect.ValueOf(e).Elem())
	v.Elem().FieldByName("Meta").SetZero()
	return v.Interface()
}

// leaves reports whether a correction leaves the numbers of r and the moment of the visit
// as they were: they were judged when they were recorded.
func (c *checker) leaves(r models.Reading) bool {
	old, ok := c.old.(*models.Inspection)
	if !ok || !sameMoment(c.h, &old.Meta) {
		return false
	}

	numbers := func(r models.Reading) models.Reading {
		return models.Reading{Depths: r.Depths, Pressure: r.Pressure, Hot: r.Hot}
	}
	return slices.ContainsFunc(old.Readings, func(o models.Reading) bool {
		same, err := sameContent(numbers(o), numbers(r))
		return err == nil && o.Position == r.Position && same
	})
}

// sameContent reports whether a and b say the same, however a number is written and
// whether a list is absent or empty.
func sameContent(a, b any) (bool, error) {
	x, errX := said(a)
	y, errY := said(b)
	return reflect.DeepEqual(x, y), errors.Join(errX, errY)
}

// said returns v as a tree without what says nothing and without the texts of quantities.
func said(v any) (any, error) {
	raw, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("compare a correction: %w", err)
	}
	var tree any
	if err := json.Unmarshal(raw, &tree); err != nil {
		return nil, fmt.Errorf("compare a correction: %w", err)
	}
	return pruned(tree), nil
}

// pruned returns tree without empty fields; elements of a list stay in their places.
func pruned(tree any) any {
	switch t := tree.(type) {
	case map[string]any:
		_, measured := t["Value"]
		for key, v := range t {
			if v = pruned(v); v == nil || measured && key == "Text" {
				delete(t, key)
			} else {
				t[key] = v
			}
		}
		if len(t) == 0 {
			return nil
		}

	case []any:
		for i := range t {
			t[i] = pruned(t[i])
		}
		if len(t) == 0 {
			return nil
		}

	case string, float64, bool:
		if reflect.ValueOf(t).IsZero() {
			return nil
		}
	}
	return tree
}
