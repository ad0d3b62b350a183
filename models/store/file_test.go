package store_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/store"
)

const depotID models.DepotID = "00000000-0000-7000-8000-000000000001"

func putDepot(t testing.TB, s *store.Store, d models.Depot) {
	t.Helper()
	ctx := context.Background()
	if err := s.Write(ctx, func(tx models.Tx) error { return tx.PutDepot(ctx, d) }); err != nil {
		t.Fatal(err)
	}
}

func depot(t testing.TB, s *store.Store) models.Depot {
	t.Helper()
	ctx := context.Background()
	var d models.Depot
	err := s.Read(ctx, func(r models.Reader) (err error) {
		d, err = r.Depot(ctx, depotID)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// What was answered must be on disk: SQLite promises that of WAL with
// synchronous=FULL (2) and not of NORMAL (1); sqlite.org/pragma.html#pragma_synchronous.
func TestSQLiteSettings(t *testing.T) {
	t.Parallel()

	s := open(t, newFile(t), store.Options{Migrate: true})
	for pragma, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1",
		"busy_timeout":       "10000",
		"journal_size_limit": "8388608"} {
		var got string
		if err := s.DB().QueryRow("PRAGMA " + pragma).Scan(&got); err != nil || got != want {
			t.Errorf("%s is %q, want %q (%v)", pragma, got, want, err)
		}
	}

	if n := s.DB().Stats().MaxOpenConnections; n != 1 {
		t.Errorf("%d connections write, want 1", n)
	}
}

func TestNewFileIsItsOwnersAlone(t *testing.T) {
	t.Parallel()
	path := newFile(t)
	s := open(t, path, store.Options{Migrate: true})
	backup := path + ".copy"
	if err := s.Backup(context.Background(), backup); err != nil {
		t.Fatal(err)
	}

	for _, p := range []string{path, path + "-wal", backup} {
		info, err := os.Stat(p)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm()&0o077 != 0 {
			t.Errorf("others may open %s: %v", filepath.Base(p), info.Mode())
		}
	}
}

func TestOpenForms(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "a folder, 100% #1?.sqlite")
	putDepot(t, open(t, "sqlite:"+path, store.Options{Migrate: true}), models.Depot{ID: depotID, Name: "Alder Yard"})
	if _, err := os.Stat(path); err != nil {
		t.Errorf("the file is not where it was asked for: %v", err)
	}
	if got := depot(t, open(t, path, store.Options{})); got.Name != "Alder Yard" {
		t.Errorf("the plain path gives another database: %+v", got)
	}

	for _, dsn := range []string{filepath.Join(t.TempDir(), "no such folder", "x.sqlite"), t.TempDir(), "postgres://nobody@127.0.0.1:1/none?connect_timeout=2"} {
		if _, err := store.Open(context.Background(), dsn, store.Options{Migrate: true}); models.KindOf(
			err,
		) != models.Unavailable {
			t.Errorf("%s: got %v, want unavailable", dsn, err)
		}
	}
}

func TestStaleDatabaseIsRefused(t *testing.T) {
	t.Parallel()

	for name, dsn := range databases(t) {
		if !strings.Contains(dsn, "://") {
			if _, err := store.Open(context.Background(), dsn, store.Options{}); models.KindOf(
				err,
			) != models.Unavailable ||
				!strings.Contains(err.Error(), "there is no database at") {
				t.Errorf("%s, not there: got %v, want unavailable", name, err)
			}

			if err := os.WriteFile(dsn, nil, 0o600); err != nil { // and no file was made
				t.Fatal(err)
			}
		}

		_, err := store.Open(context.Background(), dsn, store.Options{})
		if models.KindOf(err) != models.Unavailable || !strings.Contains(err.Error(), "rimledger migrate") {
			t.Errorf("%s, empty: got %v, want unavailable with the command that helps", name, err)
		}

		lines, err := store.MigrationStatus(context.Background(), dsn)
		if err != nil || len(lines) == 0 || !strings.Contains(lines[0], "pending") {
			t.Errorf("%s, empty: status %q, %v", name, lines, err)
		}

		putDepot(t, open(t, dsn, store.Options{Migrate: true}), models.Depot{ID: depotID, Name: "Alder Yard"})

		// Up on a populated one.
		if got := depot(t, open(t, dsn, store.Options{Migrate: true})); got.Name != "Alder Yard" {
			t.Errorf("%s: migrating again lost the record: %+v", name, got)
		}

		lines, err = store.MigrationStatus(context.Background(), dsn)
		if err != nil || !strings.Contains(lines[0], "applied") {
			t.Errorf("%s, migrated: status %q, %v", name, lines, err)
		}
	}
}

func TestNewerDatabaseIsRefused(t *testing.T) {
	t.Parallel()

	for name, dsn := range databases(t) {
		s := open(t, dsn, store.Options{Migrate: true})
		newer := "INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, true)"
		if _, err := s.DB().Exec(newer); err != nil {
			t.Fatal(err)
		}

		for _, migrate := range []bool{false, true} {
			_, err := store.Open(context.Background(), dsn, store.Options{Migrate: migrate})
			if models.KindOf(err) != models.Unavailable || !strings.Contains(err.Error(), "newer rimledger") {
				t.Errorf("%s: got %v, want unavailable with the remedy", name, err)
			}
		}
	}
}

func TestBackupWhileWriting(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()
	ctx := context.Background()
	path := newFile(t)
	s := open(t, path, store.Options{Migrate: true, Volatile: true})
	putDepot(t, s, models.Depot{ID: depotID, Name: "Alder Yard"})

	stop, done := make(chan struct{}), make(chan error, 1)
	go func() { // every transaction writes two vehicles: a copy must have both or none
		for i := 0; ; i++ {
			select {
			case <-stop:
				done <- nil
				return
			default:
			}

			err := s.Write(ctx, func(tx models.Tx) error {
				for _, side := range []string{"a", "b"} {
					id := models.VehicleID(fmt.Sprintf("%s%d", side, i))
					v := models.Vehicle{ID: id, DepotID: depotID, Number: string(id)}
					if err := tx.PutVehicle(ctx, v); err != nil {
						return err
					}
				}
				return nil
			})
			if err != nil {
				done <- err
				return
			}
		}
	}()

	for i := range 3 {
		to := fmt.Sprintf("%s.%d", path, i)
		if err := s.Backup(ctx, to); err != nil {
			t.Fatal(err)
		}
		before, err := os.ReadFile(to)
		if err != nil {
			t.Fatal(err)
		}

		counts, err := store.Verify(ctx, to)
		if err != nil {
			t.Fatal(err)
		}

		for _, c := range counts {
			if c.Table == "vehicles" && c.Rows%2 != 0 {
				t.Errorf("the copy cut a transaction in two: %d vehicles", c.Rows)
			}
			if c.Table == "depots" && c.Rows != 1 {
				t.Errorf("the copy has %d depots, want 1", c.Rows)
			}
		}

		if after, err := os.ReadFile(to); err != nil || string(after) != string(before) {
			t.Errorf("verifying changed the copy (%v)", err)
		}
		if err := s.Backup(ctx, to); models.KindOf(err) != models.Conflict {
			t.Errorf("over a file that exists: got %v, want a conflict", err)
		}
	}

	close(stop)
	if err := <-done; err != nil {
		t.Fatal(err)
	}

	restored := open(t, path+".2", store.Options{})
	if diff := cmp.Diff(depot(t, s), depot(t, restored)); diff != "" {
		t.Errorf("the copy, opened, differs:\n%s", diff)
	}
}

func TestVerifyRefuses(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	if _, err := store.Verify(ctx, newFile(t)); models.KindOf(err) != models.NotFound {
		t.Errorf("no file: got %v, want not found", err)
	}

	text := newFile(t)
	if err := os.WriteFile(text, []byte(strings.Repeat("not a database\n", 500)), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Verify(ctx, text); models.KindOf(err) != models.Unavailable {
		t.Errorf("another file: got %v, want unavailable", err)
	}

	orphan := newFile(t)
	s := open(t, orphan, store.Options{Migrate: true})
	db, err := sql.Open("sqlite3", "file:"+orphan)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()

	lost := "INSERT INTO wheels (id, depot_id, number, doc) VALUES ('w', 'nowhere', '1', '{}')"
	if _, err := db.Exec(lost); err != nil {
		t.Fatal(err)
	}

	if _, err := store.Verify(ctx, orphan); models.KindOf(err) != models.Unavailable ||
		!strings.Contains(err.Error(), "broken references") {
		t.Errorf("a wheel of no depot: got %v, want unavailable that says so", err)
	}

	cut := orphan + ".cut"
	if err := s.Backup(ctx, cut); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(cut, 40_000); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Verify(ctx, cut); models.KindOf(err) != models.Unavailable {
		t.Errorf("half a copy: got %v, want unavailable", err)
	}
}

// A full disk is reported as Unavailable, not as a fault of ours, and leaves the record whole.
func TestFullDisk(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()
	ctx := context.Background()
	s := open(t, newFile(t), store.Options{Migrate: true, Volatile: true})
	putDepot(t, s, models.Depot{ID: depotID, Name: "Alder Yard"})
	var pages int
	if err := s.DB().QueryRow("PRAGMA page_count").Scan(&pages); err != nil {
		t.Fatal(err)
	}

	if _, err := s.DB().Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages+2)); err != nil {
		t.Fatal(err)
	}

	err := s.Write(ctx, func(tx models.Tx) error {
		if err := tx.PutDepot(ctx, models.Depot{ID: depotID, Name: "Renamed"}); err != nil {
			return err
		}
		return tx.AddChange(ctx, models.Change{After: strings.Repeat("x", 1<<20)})
	})

	var e *models.Error
	if !errors.As(err, &e) || e.Kind != models.Unavailable || !strings.Contains(e.Msg, "disk is full") {
		t.Errorf("got %v, want unavailable that says the disk is full", err)
	}

	if got := depot(t, s); got.Name != "Alder Yard" {
		t.Errorf("half of the write stayed: %+v", got)
	}
}
