package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"strings"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/mattn/go-sqlite3"
	"gorm.io/driver/postgres"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"rimledger/models"
)

// Dialects.
const (
	SQLite   = "sqlite"
	Postgres = "postgres"
)

// Options say how a database is opened.
type Options struct {
	Migrate  bool // migrate to this program's version first
	Volatile bool // SQLite only: do not wait for the disk; for throw-away data
}

// Store is an open database.
type Store struct {
	dialect string
	path    string // of the file, for SQLite
	writer  *gorm.DB
	reader  *gorm.DB
	wal     *checkpointer // SQLite only
}

var _ models.Store = (*Store)(nil)

// readers is how many SQLite connections read at once.
const readers = 4

// Open opens the database that dsn names: a file of SQLite (a path, or
// sqlite:PATH) or postgres://…. It returns an Unavailable error that says what
// to do if the database is older or newer than this program.
func Open(ctx context.Context, dsn string, o Options) (*Store, error) {
	s, err := connect(dsn, o)
	if err != nil {
		return nil, err
	}
	if err := s.checkVersion(ctx, o.Migrate); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// connect opens a database; a file that is not there is made only to be migrated.
func connect(dsn string, o Options) (*Store, error) {
	s := &Store{dialect: SQLite}
	var err error

	if strings.HasPrefix(dsn, "postgres://") || strings.HasPrefix(dsn, "postgresql://") {
		s.dialect = Postgres
		s.writer, err = open(postgres.Open(dsn), 20)
		s.reader = s.writer
	} else {
		s.path = strings.TrimPrefix(dsn, "sqlite:")
		err = s.openSQLite(o)
	}

	if errors.Is(err, fs.ErrNotExist) && !o.Migrate {
		return nil, models.Errorf(
			models.Unavailable,
			"there is no database at %s; check --db, or make one with: rimledger migrate",
			s.path,
		)
	}

	if err != nil {
		return nil, &models.Error{
			Kind: models.Unavailable,
			Msg:  "the database cannot be opened; check where it is and who may write there",
			Err:  err,
		}
	}

	return s, nil
}

// openSQLite opens a file for one writer, several readers and the checkpointer;
// only its owner may read a new file, since it contains the hashes of
// passwords.
func (s *Store) openSQLite(o Options) error {
	how := os.O_RDWR
	if o.Migrate {
		how |= os.O_CREATE
	}
	f, err := os.OpenFile(s.path, how, 0o600)
	if err != nil {
		return err
	}

	if err := f.Close(); err != nil {
		return err
	}

	sync := "FULL"
	if o.Volatile {
		sync = "OFF"
	}
	dsn := fileURL(s.path) +
		"?_journal_mode=WAL&_foreign_keys=on&_stmt_cache_size=200&_cache_size=-16000&_synchronous=" + sync

	const patient = "&_busy_timeout=10000"

	if s.writer, err = open(sqlite.Open(dsn+patient+"&_txlock=immediate"), 1); err != nil {
		return err
	}

	// Where the checkpointer cannot cut a long log, the writer does when it begins it anew.
	if err := s.writer.Exec(fmt.Sprintf("PRAGMA journal_size_limit = %d", longestLog)).Error; err != nil {
		return errors.Join(err, closeDB(s.writer))
	}

	if s.reader, err = open(sqlite.Open(dsn+patient+"&_query_only=on"), readers); err != nil {
		return errors.Join(err, closeDB(s.writer))
	}
	g, err := open(sqlite.Open(dsn+"&_busy_timeout="+cutWait), 1)
	if err != nil {
		return errors.Join(err, closeDB(s.writer), closeDB(s.reader))
	}
	s.wal = startCheckpointer(g, s.path+"-wal")

	return nil
}

func fileURL(path string) string {
	return "file:" + strings.NewReplacer("%", "%25", "?", "%3f", "#", "%23").Replace(path)
}

func open(d gorm.Dialector, conns int) (*gorm.DB, error) {
	g, err := gorm.Open(d, &gorm.Config{SkipDefaultTransaction: true, TranslateError: true,
		DisableAutomaticPing: false, Logger: logger.Discard, NowFunc: func() time.Time { return time.Time{} }})
	if err != nil {
		return nil, err
	}
	db, err := g.DB()
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(conns)
	db.SetMaxIdleConns(conns)
	return g, nil
}

// Close closes the database.
func (s *Store) Close() error {
	var err error
	if s.wal != nil {
		err = s.wal.stop()
	}
	err = errors.Join(err, closeDB(s.writer))
	if s.reader != s.writer {
		err = errors.Join(err, closeDB(s.reader))
	}
	return err
}

func closeDB(g *gorm.DB) error {
	if g == nil {
		return nil
	}
	db, err := g.DB()
	if err != nil {
		return err
	}
	return db.Close()
}

// DB returns the pool that writes, for a job queue in the same database.
func (s *Store) DB() *sql.DB {
	db, err := s.writer.DB()
	if err != nil {
		panic(err) // gorm was opened on a pool of database/sql
	}
	return db
}

// Dialect returns SQLite or Postgres.
func (s *Store) Dialect() string { return s.dialect }

// Ping reports whether the database answers.
func (s *Store) Ping(ctx context.Context) error {
	return s.fault(s.reader.WithContext(ctx).Exec("SELECT 1").Error)
}

// Write is part of models.Store. Writes run one after another, on PostgreSQL
// across all servers of one database, so fn runs once and what it read stays
// true until it is committed.
func (s *Store) Write(ctx context.Context, fn func(models.Tx) error) error {
	err := s.writer.WithContext(ctx).Transaction(func(g *gorm.DB) error {
		if s.dialect == Postgres {
			// Each statement must see what was committed before the lock was
			// had, which READ COMMITTED does and a snapshot of the whole would not.
			if err := g.Exec("SELECT pg_advisory_xact_lock('events'::regclass::oid::bigint)").Error; err != nil {
				return err
			}
		}
		return fn(&tx{s.view(g)})
	}, s.isolation(sql.LevelReadCommitted, false))

	if s.wal != nil { // a transaction that was rolled back may leave a long log too
		s.wal.transaction()
	}
	return s.fault(err)
}

// Read is part of models.Store.
func (s *Store) Read(ctx context.Context, fn func(models.Reader) error) error {
	err := s.reader.WithContext(ctx).
		Transaction(func(g *gorm.DB) error { return fn(s.view(g)) }, s.isolation(sql.LevelRepeatableRead, true))
	return s.fault(err)
}

// isolation returns the options of a transaction; SQLite has but one isolation.
func (s *Store) isolation(level sql.IsolationLevel, readOnly bool) *sql.TxOptions {
	if s.dialect == SQLite {
		return &sql.TxOptions{}
	}
	return &sql.TxOptions{Isolation: level, ReadOnly: readOnly}
}

func (s *Store) view(g *gorm.DB) *view { return &view{g: g, s: s} }

// fault gives errors of the database that a person can do something about their
// kind. Errors that have a kind already pass.
func (s *Store) fault(err error) error {
	var e *models.Error
	if err == nil || errors.As(err, &e) {
		return err
	}

	unavailable := func(msg string) error {
		return &models.Error{Kind: models.Unavailable, Msg: msg, Err: err}
	}

	var lite sqlite3.Error
	var pg *pgconn.PgError

	var network net.Error
	switch {
	case errors.Is(err, context.Canceled),
		errors.Is(err, context.DeadlineExceeded),
		errors.Is(err, sql.ErrTxDone): // database/sql rolls back when a request ends
		return unavailable("the request ended before it was done; nothing was recorded")
	case errors.As(err, &lite):
		switch lite.Code {
		case sqlite3.ErrFull:
			return unavailable("the disk is full; nothing was recorded")
		case sqlite3.ErrBusy, sqlite3.ErrLocked:
			return unavailable("the database is busy; nothing was recorded, try again")
		case sqlite3.ErrIoErr, sqlite3.ErrReadonly, sqlite3.ErrCantOpen, sqlite3.ErrCorrupt:
			return unavailable("the database cannot be written; nothing was recorded")
		}
	case errors.As(err, &pg):
		if strings.HasPrefix(pg.Code, "53") || strings.HasPrefix(pg.Code, "57") || strings.HasPrefix(pg.Code, "08") ||
			strings.HasPrefix(pg.Code, "40") {
			return unavailable("the database cannot do this now; nothing was recorded, try again")
		}
	case errors.As(err, &network), errors.Is(err, driver.ErrBadConn), errors.Is(err, io.ErrUnexpectedEOF):
		return unavailable("the database does not answer; try again")
	}

	return fmt.Errorf("database: %w", err)
}
