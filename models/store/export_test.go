package store

import "gorm.io/gorm"

// OnQuery calls fn with every query that was read.
func (s *Store) OnQuery(fn func(query string, args []any)) {
	register(s.reader.Callback().Query().After("gorm:query").Register("test:query", func(g *gorm.DB) {
		fn(g.Statement.SQL.String(), g.Statement.Vars)
	}))
}

// OnWrite calls fn after every statement that wrote.
func (s *Store) OnWrite(fn func()) {
	count := func(*gorm.DB) { fn() }
	register(s.writer.Callback().Create().After("gorm:create").Register("test:create", count))
	register(s.writer.Callback().Update().After("gorm:update").Register("test:update", count))
	register(s.writer.Callback().Raw().After("gorm:raw").Register("test:raw", count))
}

func register(err error) {
	if err != nil {
		panic(err)
	}
}
