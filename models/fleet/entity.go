package fleet

import (
	"context"
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
	err := s.write(ctx, func(tx models.Tx, now time.Time) error {
		var err error
		v, _, err = k.createIn(ctx, s, tx, a, v, now)
		return err
	})
	return v, err
}

// createIn creates v in tx and reports whether it was there before.
func (k entity[T]) createIn(ctx context.Context, s *Service, tx models.Tx, a Actor, v T, now time.Time) (T, bool, error) {
	if err := a.may(k.permission); err != nil {
		return v, false, err
	}
	if err := a.in(k.depot(v), "depot"); err != nil {
		return v, false, err
	}
	*k.stamp(&v) = models.Stamp{}
	if err := k.check(ctx, tx, &v, nil); err != nil {
		return v, false, err
	}
	before, err := s.once(ctx, tx, k.id(v), v, now)
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
	if err := s.audit(ctx, tx, a, now, k.name, k.id(v), "created", nil, v); err != nil {
		return v, false, err
	}
	return v, false, k.after(ctx, tx, v, now)
}

func (k entity[T]) edit(ctx context.Context, s *Service, a Actor, v T) (T, error) {
	err := s.write(ctx, func(tx models.Tx, now time.Time) error {
		if err := a.may(k.permission); err != nil {
			return err
		}
		old, err := k.get(ctx, tx, v)
		if err != nil {
			return err
		}
		if err := a.in(k.depot(old), k.name); err != nil {
			return err
		}
		if err := a.in(k.depot(v), "depot"); err != nil {
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
		if err := s.audit(ctx, tx, a, now, k.name, k.id(v), "edited", old, v); err != nil {
			return err
		}
		return k.after(ctx, tx, v, now)
	})
	return v, err
}
