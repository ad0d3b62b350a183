package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"gorm.io/driver/sqlite"
	"gorm.io/gorm"

	"rimledger/models"
)

// Backup writes a consistent copy of a SQLite database to a new file, while
// others read and write. It returns a Conflict if the file exists and
// Unavailable on PostgreSQL, which has its own tools.
func (s *Store) Backup(ctx context.Context, to string) error {
	if s.dialect != SQLite {
		return models.Errorf(models.Unavailable, "a PostgreSQL database is copied with pg_dump")
	}

	f, err := os.OpenFile(to, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return models.Errorf(models.Conflict, "%s exists; name a new file", to)
	}

	if err != nil {
		return &models.Error{Kind: models.Unavailable, Msg: "the copy cannot be written to " + to, Err: err}
	}

	err = s.copyInto(ctx, to)
	if err == nil {
		err = f.Sync()
	}

	if err = errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, os.Remove(to))
	}
	return nil
}

// copyInto fills the empty file to. It reads through a connection of its own,
// since those of the reader pool may write nothing at all.
func (s *Store) copyInto(ctx context.Context, to string) error {
	g, err := openReadOnly(s.path)
	if err != nil {
		return s.fault(err)
	}
	return s.fault(errors.Join(g.WithContext(ctx).Exec("VACUUM INTO ?", to).Error, closeDB(g)))
}

func openReadOnly(path string) (*gorm.DB, error) {
	return open(sqlite.Open(fileURL(path)+"?mode=ro&_busy_timeout=10000"), 1)
}

// TableCount is how many rows a table has.
type TableCount struct {
	Table string
	Rows  int64
}

// Verify proves that the copy at path opens at this program's version, is whole
// and keeps its references, and counts its rows.
func Verify(ctx context.Context, path string) ([]TableCount, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, &models.Error{Kind: models.NotFound, Msg: "no copy at " + path, Err: err}
	}

	g, err := openReadOnly(path)
	if err != nil {
		return nil, damaged(err.Error(), err)
	}
	s := &Store{dialect: SQLite, writer: g, reader: g}
	defer s.Close()

	if err := s.checkVersion(ctx, false); err != nil {
		return nil, damaged(err.Error(), err)
	}

	g = g.WithContext(ctx)

	// The file may open and still be damaged inside.
	var whole string
	if err := g.Raw("PRAGMA integrity_check").Scan(&whole).Error; err != nil || whole != "ok" {
		return nil, damaged(whole, err)
	}
	var broken []map[string]any
	if err := g.Raw("PRAGMA foreign_key_check").Scan(&broken).Error; err != nil || len(broken) > 0 {
		return nil, damaged(fmt.Sprintf("%d broken references", len(broken)), err)
	}

	// Counts let a person compare the copy with the original.
	var tables []string
	err = g.Raw("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name").
		Scan(&tables).
		Error
	if err != nil {
		return nil, s.fault(err)
	}

	var out []TableCount
	for _, name := range tables {
		c := TableCount{Table: name}
		if err := g.Raw(`SELECT COUNT(*) FROM "` + name + `"`).Scan(&c.Rows).Error; err != nil {
			return nil, s.fault(err)
		}
		out = append(out, c)
	}

	return out, nil
}

func damaged(why string, err error) error {
	return &models.Error{Kind: models.Unavailable, Msg: "the copy cannot be used: " + why, Err: err}
}
