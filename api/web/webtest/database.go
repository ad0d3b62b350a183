package webtest

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"rimledger/models/demo"
	"rimledger/models/modeltest"
	"rimledger/models/store"
)

// prepared is a database that is made once and copied for each test.
type prepared struct {
	name string
	fill func(*store.Store) error

	once sync.Once
	data []byte
	err  error
}

var (
	emptyRecord = &prepared{name: "empty", fill: func(*store.Store) error { return nil }}
	demoRecord  = &prepared{name: "demo", fill: func(st *store.Store) error {
		return demo.Build(context.Background(), st, begin, nil)
	}}
)

// make fills a new database and keeps its bytes.
func (p *prepared) make(folder string) {
	path := filepath.Join(folder, p.name+".sqlite")
	st, err := store.Open(context.Background(), path, store.Options{Migrate: true, Volatile: true})
	if err != nil {
		p.err = err
		return
	}

	if p.err = errors.Join(p.fill(st), st.Close()); p.err == nil {
		p.data, p.err = os.ReadFile(path)
	}
}

// open returns a copy of its own for a test.
func (p *prepared) open(t testing.TB) *store.Store {
	t.Helper()
	folder := sharedFolder(t)
	p.once.Do(func() { p.make(folder) })
	if p.err != nil {
		t.Fatal(p.err)
	}

	path := filepath.Join(t.TempDir(), "fleet.sqlite")
	if err := os.WriteFile(path, p.data, 0o600); err != nil {
		t.Fatal(err)
	}

	st := modeltest.Must(store.Open(t.Context(), path, store.Options{Volatile: true}))(t)
	t.Cleanup(func() { _ = st.Close() })
	return st
}
