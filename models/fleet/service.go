// Package fleet holds the use-cases: what people and programs do with the
// record. Each reads the clock once, checks permission, loads what it needs,
// calls pure code, and saves everything in one transaction, so that a write
// that was answered is whole and on disk, and the findings it causes with it.
//
// It knows no HTTP and no database; every error carries a models.Kind.
package fleet

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/access"
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

// may returns a Forbidden error unless a has permission p.
func (a Actor) may(p access.Permission) error {
	if a.User.ID == "" || a.User.Disabled {
		return models.Errorf(models.Unauthenticated, "sign in first")
	}
	if !access.Can(a.User.Role, p) {
		return models.Errorf(models.Forbidden, "a %s may not do this; ask a manager", a.User.Role)
	}
	if p != access.View && a.Token != nil && a.Token.ReadOnly {
		return models.Errorf(models.Forbidden, "token %q may only read; make one that may write", a.Token.Name)
	}
	return nil
}

// in returns NotFound, as for a thing that does not exist, unless a sees depot d.
func (a Actor) in(d models.DepotID, what string) error {
	if !a.User.Sees(d) {
		return models.Errorf(models.NotFound, "no such %s", what)
	}
	return nil
}

// depots narrows a wanted list of depots to those a sees. none reports that
// nothing is left to see.
func (a Actor) depots(want []models.DepotID) (list []models.DepotID, none bool) {
	if len(a.User.Depots) == 0 {
		return want, false
	}
	if len(want) == 0 {
		return a.User.Depots, false
	}
	for _, d := range want {
		if a.User.Sees(d) {
			list = append(list, d)
		}
	}
	return list, len(list) == 0
}

// write runs fn in one transaction with the time of this use-case.
func (s *Service) write(ctx context.Context, fn func(tx models.Tx, now time.Time) error) error {
	now := s.now()
	return s.store.Write(ctx, func(tx models.Tx) error { return fn(tx, now) })
}

// read returns what fn reads on one snapshot.
func read[T any](ctx context.Context, s *Service, fn func(models.Reader) (T, error)) (T, error) {
	var out T
	err := s.store.Read(ctx, func(r models.Reader) error {
		var err error
		out, err = fn(r)
		return err
	})
	return out, err
}

// once notes that id is written with this content. It reports true if exactly
// that was written before; other content under the same id is a Conflict.
func (s *Service) once(ctx context.Context, tx models.Tx, id string, content any, now time.Time) (before bool, err error) {
	known, err := tx.Receipts(ctx, id)
	if err != nil {
		return false, err
	}
	print, before, err := seen(known, id, content)
	if err != nil || before {
		return before, err
	}
	return false, tx.AddReceipts(ctx, models.Receipt{ID: id, Fingerprint: print, At: now})
}

// seen is once by what is known of ids, without noting anything.
func seen(known map[string]models.Fingerprint, id string, content any) (print models.Fingerprint, before bool, err error) {
	b, err := json.Marshal(content)
	if err != nil {
		return "", false, fmt.Errorf("fingerprint %s: %w", id, err)
	}
	print = models.FingerprintOf(b)
	old, before := known[id]
	if before && old != print {
		return print, false, models.Errorf(models.Conflict, "id %s was already used for something else; make a new id for new content", id)
	}
	return print, before, nil
}

// audit adds a line to the audit trail. before is nil for a creation.
func (s *Service) audit(ctx context.Context, tx models.Tx, a Actor, now time.Time, entity, id, what string, before, after any) error {
	c := models.Change{At: now, By: a.User.ID, Source: a.Source, Entity: entity, ID: id, What: what}
	for _, side := range []struct {
		v  any
		to *string
	}{{before, &c.Before}, {after, &c.After}} {
		if side.v == nil {
			continue
		}
		b, err := json.Marshal(side.v)
		if err != nil {
			return fmt.Errorf("audit %s %s: %w", entity, id, err)
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
		return old, &models.Error{Kind: models.Stale,
			Msg: fmt.Sprintf("someone saved version %d in the meantime; this edit started from version %d", old.Version, from.Version),
			Fields: []models.Field{{Name: "version", Value: fmt.Sprint(from.Version),
				Remedy: "look at what is there now, then save again from version " + fmt.Sprint(old.Version) + ": " + string(b)}}}
	}
	old.Version++
	old.UpdatedAt, old.UpdatedBy = now, a.User.ID
	return old, nil
}
