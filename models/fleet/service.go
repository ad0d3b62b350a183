package fleet

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/units"
)

// Service is the use-cases over one store.
type Service struct {
	store models.Store
	clock func() time.Time
	newID func() string
}

// Options are what a Service needs besides a store. The zero value is the
// system clock and random ids.
type Options struct {
	Now   func() time.Time
	NewID func() string
}

// New returns the use-cases over store.
func New(store models.Store, o Options) *Service {
	s := &Service{store: store, clock: o.Now, newID: o.NewID}
	if s.clock == nil {
		s.clock = time.Now
	}
	if s.newID == nil {
		s.newID = func() string { return uuid.Must(uuid.NewV7()).String() }
	}
	return s
}

// now reads the clock: UTC, cut to the microseconds that a store keeps.
func (s *Service) now() time.Time { return s.clock().UTC().Truncate(time.Microsecond) }

// Actor is who does something, and by which way.
type Actor struct {
	User   models.User
	Token  *models.Token // nil for a signed-in person
	Source models.Source
	// Notation is how the person's country writes numbers and dates; nil for programs.
	Notation units.Notation
	knows    []models.Depot
	wrote    units.Set // the units of the row of a sheet that is tried; empty: those of the reader
}

// Knowing returns a with depots that were read before, so that their units need
// not be read for each list of findings.
func (a Actor) Knowing(depots []models.Depot) Actor {
	a.knows = depots
	return a
}

// System acts for the program itself: commands, the scheduler, the demo.
func System(src models.Source) Actor {
	return Actor{User: models.User{ID: "system", Name: "Rimledger", Role: models.Manager}, Source: src}
}

// write runs fn in one transaction with the time of this use-case; what a person
// asks for goes through writeAs.
func (s *Service) write(ctx context.Context, fn func(tx models.Tx, now time.Time) error) error {
	now := s.now()
	return s.store.Write(ctx, func(tx models.Tx) error { return fn(tx, now) })
}

// read returns what fn reads on one snapshot; what a person asks for goes
// through readAs.
func read[T any](ctx context.Context, s *Service, fn func(models.Reader) (T, error)) (T, error) {
	var out T
	err := s.store.Read(ctx, func(r models.Reader) error {
		var err error
		out, err = fn(r)
		return err
	})
	return out, err
}

// claimID notes that id is written with this content. It reports true if exactly
// that was written before, and returns a Conflict error if id was written with
// other content.
func (s *Service) claimID(ctx context.Context, tx models.Tx, id string, content any, now time.Time) (bool, error) {
	receipt, err := newReceipt(id, content, now)
	if err != nil {
		return false, err
	}
	known, err := tx.Receipts(ctx, id)
	if err != nil {
		return false, err
	}

	before, err := checkReceipt(known, receipt)
	if err != nil || before {
		return before, err
	}
	return false, tx.AddReceipts(ctx, receipt)
}

// newReceipt returns the receipt of content that is written under id at now.
func newReceipt(id string, content any, now time.Time) (models.Receipt, error) {
	b, err := json.Marshal(content)
	if err != nil {
		return models.Receipt{}, fmt.Errorf("fingerprint %s: %w", id, err)
	}
	return models.Receipt{ID: id, Fingerprint: models.FingerprintOf(b), At: now}, nil
}

// checkReceipt reports whether the content of r is already written under its id.
// It returns a Conflict error if other content is. known are receipts by id.
func checkReceipt(known map[string]models.Fingerprint, r models.Receipt) (before bool, err error) {
	old, before := known[r.ID]
	if before && old != r.Fingerprint {
		return false, idUsed(r.ID)
	}
	return before, nil
}

// idUsed refuses an id under which something else was written, or what a person
// may not see any more.
func idUsed(id string) error {
	return &models.Error{Kind: models.Conflict, Err: errIDUsed,
		Msg: fmt.Sprintf("id %s was already used for something else; make a new id for new content", id)}
}

// errIDUsed is what idUsed wraps.
var errIDUsed = errors.New("an id was used for other content")

// audit adds c, which says what of which thing changed, to the audit trail with
// who changed it and both states. before is nil for a creation.
func (s *Service) audit(
	ctx context.Context,
	tx models.Tx,
	a Actor,
	now time.Time,
	c models.Change,
	before, after any,
) error {
	c.At, c.By, c.Source = now, a.User.ID, a.Source
	for _, side := range []struct {
		v  any
		to *string
	}{{before, &c.Before}, {after, &c.After}} {
		if side.v == nil {
			continue
		}
		b, err := json.Marshal(side.v)
		if err != nil {
			return fmt.Errorf("audit %s %s: %w", c.Entity, c.ID, err)
		}
		*side.to = string(b)
	}

	return tx.AddChange(ctx, c)
}

// stamped returns the stamp of the first version.
func stamped(a Actor, now time.Time) models.Stamp {
	return models.Stamp{Version: 1, CreatedAt: now, CreatedBy: a.User.ID, UpdatedAt: now, UpdatedBy: a.User.ID}
}

// restamped returns the stamp of the edit after old, or a Stale error whose
// field carries the present state if the edit did not start from old.
func restamped(a Actor, now time.Time, from, old models.Stamp, current any) (models.Stamp, error) {
	if from.Version != old.Version {
		b, _ := json.Marshal(current)
		return old, &models.Error{
			Kind: models.Stale,
			Msg: fmt.Sprintf("someone saved version %d in the meantime; this edit started from version %d",
				old.Version, from.Version),
			Fields: []models.Field{{
				Name:  "version",
				Value: fmt.Sprint(from.Version),
				Remedy: fmt.Sprintf("look at what is there now, then save again from version %d: %s",
					old.Version, b),
			}},
		}
	}

	old.Version++
	old.UpdatedAt, old.UpdatedBy = now, a.User.ID
	return old, nil
}
