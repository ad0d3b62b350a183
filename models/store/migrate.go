package store

import (
	"context"
	"embed"
	"fmt"
	"io/fs"
	"path"
	"time"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"

	"rimledger/models"
)

//go:embed migrations
var migrations embed.FS

func (s *Store) provider() (*goose.Provider, error) {
	files, err := fs.Sub(migrations, "migrations/"+s.dialect)
	if err != nil {
		return nil, err
	}
	if s.dialect == SQLite {
		return goose.NewProvider(goose.DialectSQLite3, s.DB(), files)
	}

	// Of several servers that start at once, one migrates and the others wait.
	locker, err := lock.NewPostgresSessionLocker(lock.WithLockTimeout(1, 120))
	if err != nil {
		return nil, err
	}

	return goose.NewProvider(goose.DialectPostgres, s.DB(), files, goose.WithSessionLocker(locker))
}

// checkVersion migrates if asked to, and refuses a database that is not at this
// program's version.
func (s *Store) checkVersion(ctx context.Context, migrate bool) error {
	p, err := s.provider()
	if err != nil {
		return err
	}
	at, newest, err := p.GetVersions(ctx)
	if err != nil {
		return s.fault(err)
	}

	switch {
	case at > newest:
		return models.Errorf(
			models.Unavailable,
			"the database is at version %d and this program knows only %d; run a newer rimledger",
			at,
			newest,
		)
	case at < newest && !migrate:
		return models.Errorf(
			models.Unavailable,
			"the database is at version %d and this program needs %d; run: rimledger migrate",
			at,
			newest,
		)
	case at < newest:
		if _, err := p.Up(ctx); err != nil {
			return fmt.Errorf("migrate: %w", err)
		}
	}

	return nil
}

// MigrationStatus describes each migration of the database at dsn in a line.
func MigrationStatus(ctx context.Context, dsn string) ([]string, error) {
	s, err := connect(dsn, Options{})
	if err != nil {
		return nil, err
	}
	defer s.Close()
	p, err := s.provider()
	if err != nil {
		return nil, err
	}

	all, err := p.Status(ctx)
	if err != nil {
		return nil, s.fault(err)
	}

	var lines []string
	for _, m := range all {
		line := fmt.Sprintf("%s: %s", path.Base(m.Source.Path), m.State)
		if m.State == goose.StateApplied {
			line += " " + m.AppliedAt.UTC().Format(time.DateTime)
		}
		lines = append(lines, line)
	}

	return lines, nil
}
