package store_test

import (
	"context"
	"database/sql"
	"sync"
	"testing"

	"rimledger/models"
	"rimledger/models/store"
)

// Servers that start at once on an empty database must all come up.
func TestServersStartTogether(t *testing.T) {
	t.Parallel()
	dsn := newSchema(t, postgresDSN(t))

	var wg sync.WaitGroup
	for range 3 {
		wg.Go(func() {
			s, err := store.Open(context.Background(), dsn, store.Options{Migrate: true})
			if err != nil {
				t.Errorf("open: %v", err)
				return
			}
			if err := s.Close(); err != nil {
				t.Errorf("close: %v", err)
			}
		})
	}

	wg.Wait()
}

// A cut connection is reported as Unavailable, not as a fault of ours, leaves nothing
// behind, and the next write has a new one.
func TestCutConnection(t *testing.T) {
	t.Parallel()
	base := postgresDSN(t)
	s := open(t, newSchema(t, base), store.Options{Migrate: true})
	putDepot(t, s, models.Depot{ID: depotID, Name: "Alder Yard"})

	other, err := sql.Open("pgx", base)
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()

	ctx := context.Background()
	err = s.Write(ctx, func(tx models.Tx) error {
		if err := tx.PutDepot(ctx, models.Depot{ID: depotID, Name: "Renamed"}); err != nil {
			return err
		}

		_, err := other.Exec(`SELECT pg_terminate_backend(pid, 5000) FROM pg_locks
			WHERE locktype = 'advisory' AND granted AND objid = $1::oid`, tableID(t, s, "events"))
		if err != nil {
			return err
		}

		_, err = tx.Depot(ctx, depotID)
		return err
	})
	if models.KindOf(err) != models.Unavailable {
		t.Errorf("got %v, want unavailable", err)
	}

	if got := depot(t, s); got.Name != "Alder Yard" {
		t.Errorf("half of the write stayed: %+v", got)
	}

	putDepot(t, s, models.Depot{ID: depotID, Name: "Renamed"})
}

func tableID(t *testing.T, s *store.Store, table string) (id int64) {
	t.Helper()
	if err := s.DB().QueryRow("SELECT $1::regclass::oid::bigint", table).Scan(&id); err != nil {
		t.Fatal(err)
	}
	return id
}

// A PostgreSQL database has its own tools for copies.
func TestNoCopyOfPostgres(t *testing.T) {
	t.Parallel()
	s := open(t, newSchema(t, postgresDSN(t)), store.Options{Migrate: true})
	if err := s.Backup(context.Background(), newFile(t)); models.KindOf(err) != models.Unavailable {
		t.Errorf("got %v, want unavailable with what to use", err)
	}
}
