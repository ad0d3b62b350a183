package fleet

import (
	"context"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/access"
)

// entity is how one kind of thing is created and edited: the same few steps
// for depots, vehicles, tires and wheels.
type entity[T any] struct {
	name       string
	permission access.Permission
	id         func(T) string
	depot      func(T) models.DepotID
	stamp      func(*T) *models.Stamp
	get        func(context.Context, models.Reader, T) (T, error)
	put        func(context.Context, models.Tx, T) error
	// check completes and validates v; old is nil for a creation.
	check func(ctx context.Context, tx models.Tx, v *T, old *T) error
	// after runs when v is saved, to re-assess what it changes.
	after func(ctx context.Context, tx models.Tx, v T, now time.Time) error
}

func (k entity[T]) create(ctx context.Context, s *Service, a Actor, v T) (T, error) {
	err := s.writeAs(ctx, a, k.permission, references(v), func(tx models.Tx, now time.Time) error {
		var before bool
		var err error
		claim := func(id string, content any) (bool, error) { return s.claimID(ctx, tx, id, content, now) }
		if v, before, err = k.createIn(ctx, s, tx, a, v, now, claim); err != nil || !before {
			return err
		}

		// The same content was written before; the thing may belong to another depot since.
		if a.requireDepot(k.depot(v), k.name) != nil {
			return idUsed(k.id(v))
		}

		return nil
	})
	if err != nil {
		var none T
		return none, err
	}

	return v, nil
}

// createIn creates v in tx, for somebody who may, and reports whether it was
// there before, which claim says of its id and content as claimID does.
func (k entity[T]) createIn(ctx context.Context, s *Service, tx models.Tx, a Actor, v T, now time.Time,
	claim func(id string, content any) (bool, error)) (T, bool, error) {
	*k.stamp(&v) = models.Stamp{}
	if err := k.check(ctx, tx, &v, nil); err != nil {
		return v, false, err
	}

	before, err := claim(k.id(v), v)
	if err != nil {
		return v, false, err
	}
	if before {
		v, err = k.get(ctx, tx, v)
		return v, true, err
	}

	*k.stamp(&v) = stamped(a, now)
	if err := k.put(ctx, tx, v); err != nil {
		return v, false, err
	}
	if err := s.audit(ctx, tx, a, now, k.change("created", v), nil, v); err != nil {
		return v, false, err
	}

	return v, false, k.after(ctx, tx, v, now)
}

// edit saves v over the version it started from. Who moves it to another depot
// must see both.
func (k entity[T]) edit(ctx context.Context, s *Service, a Actor, v T) (T, error) {
	err := s.writeAs(ctx, a, k.permission, references(v), func(tx models.Tx, now time.Time) error {
		old, err := k.get(ctx, tx, v)
		if err != nil {
			return err
		}
		if err := a.requireDepot(k.depot(old), k.name); err != nil {
			return err
		}

		if err := k.check(ctx, tx, &v, &old); err != nil {
			return err
		}

		st, err := restamped(a, now, *k.stamp(&v), *k.stamp(&old), old)
		if err != nil {
			return err
		}
		*k.stamp(&v) = st

		if err := k.put(ctx, tx, v); err != nil {
			return err
		}
		if err := s.audit(ctx, tx, a, now, k.change("edited", old, v), old, v); err != nil {
			return err
		}

		return k.after(ctx, tx, v, now)
	})

	return v, err
}

// change is a line of the audit trail. States are the thing before and after the
// change, or its present state alone; it concerns the depots of both.
func (k entity[T]) change(what string, states ...T) models.Change {
	c := models.Change{Entity: k.name, ID: k.id(states[0]), What: what}
	for _, v := range states {
		c.Depots = append(c.Depots, k.depot(v))
	}
	slices.Sort(c.Depots)
	c.Depots = slices.Compact(c.Depots)
	return c
}
