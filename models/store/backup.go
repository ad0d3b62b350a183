package store

import (
	"context"
	"fmt"
	"os"

	"rimledger/models"
)

// Backup writes a consistent copy of a SQLite database to a new file, while
// others read and write. It returns a Conflict if the file exists and
// Unavailable on PostgreSQL, which has its own tools.
func (s *Store) Backup(ctx context.Context, to string) error {
	if s.dialect != SQLite {
		return models.Errorf(models.Unavailable, "a PostgreSQL database is copied with pg_dump")
	}
	if _, err := os.Lstat(to); err == nil {
		return models.Errorf(models.Conflict, "%s exists; name a new file", to)
	}
	return s.fault(s.reader.WithContext(ctx).Exec("VACUUM INTO ?", to).Error)
}

// TableCount is how many rows a table holds.
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
	s, err := Open(ctx, path, Options{})
	if err != nil {
		return nil, err
	}
	defer s.Close()
	g := s.reader.WithContext(ctx)
	var whole string
	if err := g.Raw("PRAGMA integrity_check").Scan(&whole).Error; err != nil || whole != "ok" {
		return nil, &models.Error{Kind: models.Unavailable, Msg: "the copy is damaged: " + whole, Err: err}
	}
	var broken []map[string]any
	if err := g.Raw("PRAGMA foreign_key_check").Scan(&broken).Error; err != nil || len(broken) > 0 {
		return nil, &models.Error{Kind: models.Unavailable, Msg: fmt.Sprintf("the copy has %d broken references", len(broken)), Err: err}
	}
	var tables []string
	err = g.Raw("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name").Scan(&tables).Error
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
