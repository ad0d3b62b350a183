package store

import (
	"context"
	"database/sql"

	"gorm.io/gorm"
)

// OnQuery calls fn with every query that is read.
func (s *Store) OnQuery(fn func(query string, args []any)) {
	watch(s.reader, watched{query: fn, exec: func() {}})
}

// OnWrite calls fn with every statement that writes.
func (s *Store) OnWrite(fn func()) {
	watch(s.writer, watched{query: func(string, []any) {}, exec: fn})
}

func watch(g *gorm.DB, w watched) {
	w.ConnPool = g.ConnPool
	g.ConnPool, g.Statement.ConnPool = w, w
}

// watched is a pool that reports what passes through it.
type watched struct {
	gorm.ConnPool
	query func(text string, args []any)
	exec  func()
}

func (w watched) QueryContext(ctx context.Context, text string, args ...any) (*sql.Rows, error) {
	w.query(text, args)
	return w.ConnPool.QueryContext(ctx, text, args...)
}

func (w watched) ExecContext(ctx context.Context, text string, args ...any) (sql.Result, error) {
	w.exec()
	return w.ConnPool.ExecContext(ctx, text, args...)
}

func (w watched) BeginTx(ctx context.Context, o *sql.TxOptions) (gorm.ConnPool, error) {
	tx, err := w.ConnPool.(gorm.TxBeginner).BeginTx(ctx, o)
	w.ConnPool = tx
	return &watchedTx{w, tx}, err
}

// GetDBConn is how gorm finds the pool below.
func (w watched) GetDBConn() (*sql.DB, error) { return w.ConnPool.(*sql.DB), nil }

type watchedTx struct {
	watched
	gorm.TxCommitter
}
