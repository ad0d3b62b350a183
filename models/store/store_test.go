package store_test

import (
	"context"
	"database/sql"
	"flag"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/store"
	"rimledger/models/store/storetest"
)

// TestMain draws fewer examples than the library would, since each is a write,
// and keeps no files of those that failed.
func TestMain(m *testing.M) {
	for name, value := range map[string]string{"rapid.checks": "25", "rapid.nofailfile": "true"} {
		if err := flag.Set(name, value); err != nil {
			panic(err)
		}
	}
	flag.Parse() // what the command line says goes before
	os.Exit(m.Run())
}

func TestSQLite(t *testing.T) {
	t.Parallel()
	storetest.Exercise(t, func(t testing.TB) models.Store {
		return open(t, newFile(t), store.Options{Migrate: true, Volatile: true})
	})
}

func TestPostgres(t *testing.T) {
	t.Parallel()
	base := postgresDSN(t)
	storetest.Exercise(
		t,
		func(t testing.TB) models.Store { return open(t, newSchema(t, base), store.Options{Migrate: true}) },
	)
}

// open opens a store that is closed when the test ends.
func open(t testing.TB, dsn string, o store.Options) *store.Store {
	t.Helper()
	s, err := store.Open(context.Background(), dsn, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return s
}

func newFile(t testing.TB) string { return filepath.Join(t.TempDir(), "record.sqlite") }

// postgresDSN returns where the tests find PostgreSQL, or skips.
func postgresDSN(t testing.TB) string {
	t.Helper()
	dsn := os.Getenv("RIMLEDGER_TEST_POSTGRES")
	switch {
	case dsn != "":
		return dsn
	case os.Getenv("RIMLEDGER_TEST_REQUIRE_ALL") == "1":
		t.Fatal("RIMLEDGER_TEST_POSTGRES is not set; give the URL of a database in which the tests may make schemas")
	}

	t.Skip(
		"not tested on PostgreSQL: set RIMLEDGER_TEST_POSTGRES to the URL of a database in which the tests may make " +
			"schemas",
	)

	return ""
}

// databases gives an empty database of each kind that is at hand. Without
// PostgreSQL it gives SQLite alone; TestPostgres says so.
func databases(t testing.TB) map[string]string {
	t.Helper()
	all := map[string]string{store.SQLite: newFile(t)}
	if base := os.Getenv("RIMLEDGER_TEST_POSTGRES"); base != "" {
		all[store.Postgres] = newSchema(t, base)
	}
	return all
}

// newSchema makes an empty schema that is dropped when the test ends.
func newSchema(t testing.TB, base string) string {
	t.Helper()
	db, err := sql.Open("pgx", base)
	if err != nil {
		t.Fatal(err)
	}
	name := "test_" + strings.ReplaceAll(uuid.NewString(), "-", "")
	if _, err := db.Exec("CREATE SCHEMA " + name); err != nil {
		t.Fatal(err)
	}

	t.Cleanup(func() {
		if _, err := db.Exec(fmt.Sprintf("DROP SCHEMA %s CASCADE", name)); err != nil {
			t.Errorf("drop schema: %v", err)
		}
		db.Close()
	})

	u, err := url.Parse(base)
	if err != nil {
		t.Fatal(err)
	}
	q := u.Query()
	q.Set("search_path", name)
	u.RawQuery = q.Encode()

	return u.String()
}
