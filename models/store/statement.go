package store

import (
	"context"
	"database/sql"
	"errors"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"

	"gorm.io/gorm"
	"gorm.io/gorm/schema"

	"rimledger/models"
)

// The statements that recording runs for every tire and finding go straight to
// database/sql: gorm has the columns of a record, but building and
// scanning through it costs more than SQLite takes to answer. Lists that are
// narrowed by many filters are gorm's.

// table is the table of a record type with its columns.
type table struct {
	name    string
	columns []string
	fields  []int // of the record, by column
	auto    int   // column whose value the database generates, or -1
}

var tables sync.Map // *table by reflect.Type of the record

func tableOf[R any]() *table {
	kind := reflect.TypeFor[R]()
	if t, ok := tables.Load(kind); ok {
		return t.(*table)
	}

	s, err := schema.Parse(new(R), &sync.Map{}, schema.NamingStrategy{})
	if err != nil {
		panic(err) // records are plain structs
	}

	t := &table{name: s.Table, auto: -1}
	for i, f := range s.Fields {
		t.columns, t.fields = append(t.columns, f.DBName), append(t.fields, f.StructField.Index[0])
		if f.AutoIncrement {
			t.auto = i
		}
	}

	tables.Store(kind, t)
	return t
}

// each calls fn with the rows of a query of texts, one after another. An argument
// that is a []string becomes a list in brackets.
func (v *view) each(ctx context.Context, fn func(row []string) error, text string, args ...any) error {
	rows, err := v.query(ctx, text, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	names, err := rows.Columns()
	if err != nil {
		return err
	}

	row, to := make([]string, len(names)), make([]any, len(names))
	for i := range row {
		to[i] = &row[i]
	}

	for rows.Next() {
		if err := rows.Scan(to...); err != nil {
			return err
		}
		if err := fn(row); err != nil {
			return err
		}
	}

	return rows.Err()
}

// entities reads the documents that a query, from the name of its table on, picks.
func entities[T any](ctx context.Context, v *view, query string, args ...any) ([]T, error) {
	var docs []string
	err := v.each(ctx, func(row []string) error {
		docs = append(docs, row[0])
		return nil
	}, "SELECT doc FROM "+query, args...)
	if err != nil {
		return nil, err
	}
	return decodeAll(docs, decode[T])
}

// entity reads the one document that a query picks; what names it in the NotFound error.
func entity[T any](ctx context.Context, v *view, what, query string, args ...any) (T, error) {
	all, err := entities[T](ctx, v, query+" LIMIT 1", args...)
	if err != nil || len(all) == 0 {
		var none T
		return none, missing(err, what)
	}
	return all[0], nil
}

// first reads the one record that query, a condition, picks; what names it in
// the NotFound error.
func first[R any](ctx context.Context, v *view, what, query string, args ...any) (r R, err error) {
	t := tableOf[R]()
	rows, err := v.query(
		ctx, "SELECT "+strings.Join(t.columns, ", ")+" FROM "+t.name+" WHERE "+query+" LIMIT 1", args...,
	)
	if err != nil {
		return r, err
	}
	defer rows.Close()

	if !rows.Next() {
		return r, missing(rows.Err(), what)
	}

	to, at := make([]any, len(t.fields)), reflect.ValueOf(&r).Elem()
	for i, f := range t.fields {
		to[i] = at.Field(f).Addr().Interface()
	}

	err = rows.Scan(to...)
	return r, err
}

// missing returns err, or NotFound if err is nil.
func missing(err error, what string) error {
	if err == nil {
		err = models.Errorf(models.NotFound, "no such %s", what)
	}
	return err
}

// insert adds records; one that is there already is a Conflict.
func insert[R any](ctx context.Context, t *tx, what string, records ...R) error {
	return put(ctx, t, what, "", records)
}

// upsert inserts records or replaces those with the same key. what names them
// where a unique number is taken or a thing they belong to is missing.
func upsert[R any](ctx context.Context, t *tx, what string, key []string, records ...R) error {
	if len(records) == 0 {
		return nil
	}

	var set []string
	for _, c := range tableOf[R]().columns {
		set = append(set, c+" = excluded."+c)
	}
	return put(
		ctx,
		t,
		what,
		" ON CONFLICT ("+strings.Join(key, ", ")+") DO UPDATE SET "+strings.Join(set, ", "),
		records,
	)
}

// put inserts records in batches, with a clause for those that are there.
func put[R any](ctx context.Context, t *tx, what, conflict string, records []R) error {
	tab := tableOf[R]()
	var columns []string
	for i, c := range tab.columns {
		if i != tab.auto {
			columns = append(columns, c)
		}
	}

	row := "(?" + strings.Repeat(", ?", len(columns)-1) + ")"
	for len(records) > 0 {
		some := records[:min(batch, len(records))]
		records = records[len(some):]

		args := make([]any, 0, len(some)*len(columns))
		for i := range some {
			r := reflect.ValueOf(&some[i]).Elem()
			for c, f := range tab.fields {
				if c != tab.auto {
					args = append(args, r.Field(f).Interface())
				}
			}
		}

		_, err := t.exec(
			ctx,
			"INSERT INTO "+tab.name+" ("+strings.Join(
				columns,
				", ",
			)+") VALUES "+row+strings.Repeat(", "+row, len(some)-1)+conflict,
			args...)
		if err != nil {
			return keyError(err, what)
		}
	}

	return nil
}

// amend sets columns of the row with an id where one of the values differs. A
// column of an index is expensive to set, even to its present value.
func (t *tx) amend(ctx context.Context, table, id string, columns []string, values ...any) error {
	text := "UPDATE " + table + " SET " + strings.Join(columns, " = ?, ") + " = ? WHERE id = ? AND (" +
		strings.Join(columns, " IS DISTINCT FROM ? OR ") + " IS DISTINCT FROM ?)"
	_, err := t.exec(ctx, text, slices.Concat(values, []any{id}, values)...)
	return err
}

func (v *view) query(ctx context.Context, text string, args ...any) (*sql.Rows, error) {
	text, args = v.bind(text, args)
	rows, err := v.g.Statement.ConnPool.QueryContext(v.within(ctx), text, args...)
	return rows, v.translated(err)
}

// exec runs a statement and returns how many rows it changed.
func (v *view) exec(ctx context.Context, text string, args ...any) (int, error) {
	text, args = v.bind(text, args)
	res, err := v.g.Statement.ConnPool.ExecContext(v.within(ctx), text, args...)
	if err != nil {
		return 0, v.translated(err)
	}
	n, err := res.RowsAffected()
	return int(n), err
}

// translated is a driver's error as gorm names it.
func (v *view) translated(err error) error {
	if t, ok := v.g.Dialector.(gorm.ErrorTranslator); ok && err != nil {
		return t.Translate(err)
	}
	return err
}

// bind writes the places of arguments in the form of the database, with as many
// for a []string as it has elements.
func (v *view) bind(text string, args []any) (string, []any) {
	var b strings.Builder

	var flat []any
	place := func(arg any) {
		flat = append(flat, arg)
		if v.s.dialect == Postgres {
			b.WriteString("$" + strconv.Itoa(len(flat)))
		} else {
			b.WriteByte('?')
		}
	}

	for i := 0; ; i++ {
		before, rest, more := strings.Cut(text, "?")
		b.WriteString(before)
		if !more {
			return b.String(), flat
		}
		text = rest

		list, ok := args[i].([]string)
		if !ok {
			place(args[i])
			continue
		}

		b.WriteByte('(')

		for j, one := range list {
			if j > 0 {
				b.WriteByte(',')
			}
			place(one)
		}

		b.WriteByte(')')
	}
}

func keyError(err error, what string) error {
	switch {
	case errors.Is(err, gorm.ErrDuplicatedKey):
		return &models.Error{Kind: models.Conflict, Msg: what + " exists already", Err: err}
	case errors.Is(err, gorm.ErrForeignKeyViolated):
		return &models.Error{Kind: models.Conflict, Msg: what + " belongs to something that does not exist", Err: err}
	}
	return err
}
