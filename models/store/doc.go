// Package store keeps the record in SQLite or PostgreSQL: it implements
// models.Store with gorm records of its own, apart from the entities.
//
// Every entity is kept whole as a JSON document under the Go field names of its
// struct, beside the columns that are searched, sorted and joined on; a golden
// file guards the stored form. Instants are integer microseconds since 1970.
//
// Writes run one after another in both databases; reads do not wait for them.
// SQLite has one writer and several readers (WAL, synchronous=FULL, foreign
// keys on): a write that was answered is on disk. On PostgreSQL, which several
// servers may share, a writer keeps an advisory lock until it commits.
//
// # An entity is one JSON document (November 2026)
//
// Context: events have a dozen shapes, and a tire's state has many parts. Choice:
// each is kept whole under the names of its Go fields; the depths of inspections
// are also rows, for analysis. Documents leave out empty fields and are written
// by go-json-experiment/json: a tire's state is a third of the size, and half of
// an inspection's time was its pages in the log. Rejected: a column for each
// field, which needs a migration for each new field.
//
// # Writes run one after another (November 2026)
//
// Context: SQLite has one writer. Choice: PostgreSQL gets the same order by an
// advisory lock at READ COMMITTED, so a use-case runs exactly once and may
// complete the value it was given. Rejected: SERIALIZABLE with retries, which run
// a use-case again on a value that it has changed.
//
// # Recording goes straight to database/sql (November 2026)
//
// Choice: the statements that recording runs for every tire and finding are
// written by hand (statement.go), with the tables as gorm reads them from the
// records; lists with many filters are gorm's. Rejected: gorm for all, because
// building and scanning through it cost more than SQLite took to answer. Its
// prepared statements are off: within a transaction it prepares every statement
// anew, while SQLite's driver and pgx keep their own.
//
// # Indexed columns are written only where they change (November 2026)
//
// Context: SQLite rewrites the row of an index even if the value stays. Choice: a
// tire's place and a finding's urgency are set only when they differ, one row at
// a time. Rejected: one statement over a list (CTE, CASE, IN), which makes SQLite
// build temporary tables and costs more than ten plain statements. PostgreSQL
// pays for the choice with a round trip for each tire.
//
// # SQLite's log is moved beside the requests (November 2026)
//
// Context: every 37th inspection waited for the log to be moved into the file.
// Choice: checkpoint.go moves it every 16 commits, outside any request. A large
// transaction, recorded or rolled back, leaves a log of up to a hundred times the
// database; above 8 MB it is emptied and cut, with a wait of 50 ms for readers,
// since writers wait for the cut. Rejected: SQLite's own checkpoints, which run
// within a commit.
//
// # Only a command that migrates makes a database file (November 2026)
//
// Choice: any other command reports a path without a file. Rejected: creating it,
// which answers a mistyped path with an empty fleet.
//
// # Migration 0001 is edited in place until the first release (November 2026)
//
// Choice: development databases are made anew. Rejected: a migration for each
// change, although nobody has data to keep yet.
package store
