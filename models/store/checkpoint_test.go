package store_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/store"
)

// shortLog is what may be left of the log of a large transaction, in bytes;
// chosen by us.
const shortLog = 8 << 20

func logSize(t *testing.T, path string) int64 {
	t.Helper()
	f, err := os.Stat(path + "-wal")
	if err != nil {
		t.Fatal(err)
	}
	return f.Size()
}

// becomesShort waits until the log is short.
func becomesShort(t *testing.T, path, what string) {
	t.Helper()
	modeltest.Eventually(t, what+": the log is short", func() bool { return logSize(t, path) <= shortLog })
}

// large writes more than the cache of the database holds, and then fails with err.
func large(t *testing.T, s *store.Store, err error) error {
	t.Helper()
	return s.Write(t.Context(), func(tx models.Tx) error {
		for range 48 {
			c := models.Change{At: time.Unix(0, 0), After: strings.Repeat("x", 1<<20)}
			if err := tx.AddChange(t.Context(), c); err != nil {
				return err
			}
		}
		return err
	})
}

// A large transaction, recorded or not, leaves no long log, also when a reader
// is in the way for a while; nobody waits long for the reader.
func TestLongLogIsCut(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()
	path := newFile(t)
	s := open(t, path, store.Options{Migrate: true})
	putDepot(t, s, models.Depot{ID: depotID, Name: "Alder Yard"})

	undone := errors.New("undone")
	if err := large(t, s, undone); !errors.Is(err, undone) {
		t.Fatal(err)
	}

	becomesShort(t, path, "rolled back")
	if err := large(t, s, nil); err != nil {
		t.Fatal(err)
	}

	becomesShort(t, path, "committed")

	err := s.Read(t.Context(), func(r models.Reader) error {
		if _, err := r.Depot(t.Context(), depotID); err != nil { // from here on the reader needs the log
			return err
		}
		if err := large(t, s, nil); err != nil {
			return err
		}

		ctx, stop := context.WithTimeout(t.Context(), 5*time.Second)
		defer stop()

		for range 20 {
			if err := s.Write(ctx, func(tx models.Tx) error {
				return tx.PutDepot(ctx, models.Depot{ID: depotID,
					Name: "Renamed"})
			}); err != nil {
				return err
			}
		}

		if n := logSize(t, path); n <= shortLog {
			t.Errorf("the log has %d bytes while a reader needs it", n)
		}

		d, err := r.Depot(t.Context(), depotID)
		if d.Name != "Alder Yard" {
			t.Errorf("the reader sees %q, want what was there when it began", d.Name)
		}

		return err
	})

	if err != nil {
		t.Fatal(err)
	}

	becomesShort(t, path, "after a reader")
	if got := depot(t, s); got.Name != "Renamed" {
		t.Errorf("the depot is %q after the cut, want Renamed", got.Name)
	}
}

// A log that an earlier run left long is cut when the database is opened.
func TestLongLogOfAnEarlierRun(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()
	path := newFile(t)

	s := open(t, path, store.Options{Migrate: true})
	err := s.Read(t.Context(), func(r models.Reader) error {
		if _, err := r.Depots(t.Context()); err != nil {
			return err
		}
		if err := large(t, s, nil); err != nil {
			return err
		}

		copied := filepath.Join(t.TempDir(), "copy.sqlite") // as a machine leaves it that loses its power
		for _, end := range []string{"", "-wal"} {
			data, err := os.ReadFile(path + end)
			if err != nil {
				return err
			}
			if err := os.WriteFile(copied+end, data, 0o600); err != nil {
				return err
			}
		}

		open(t, copied, store.Options{})
		becomesShort(t, copied, "opened again")
		return nil
	})

	if err != nil {
		t.Fatal(err)
	}
}
