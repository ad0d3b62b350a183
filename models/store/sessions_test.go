package store_test

import (
	"testing"
	"time"

	"github.com/alexedwards/scs/v2"

	"rimledger/models/store"
)

var _ scs.CtxStore = (*store.Sessions)(nil)

func TestSessions(t *testing.T) {
	t.Parallel()

	ctx := t.Context()
	for name, dsn := range databases(t) {
		s := open(t, dsn, store.Options{Migrate: true}).Sessions()
		find := func(token string) string {
			t.Helper()
			data, found, err := s.FindCtx(ctx, token)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if !found {
				return "none"
			}

			return string(data)
		}

		commit := func(token, data string, expiry time.Time) {
			t.Helper()
			if err := s.CommitCtx(ctx, token, []byte(data), expiry); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}

		later := time.Now().Add(time.Hour)
		if got := find("a"); got != "none" {
			t.Errorf("%s: before any: %s", name, got)
		}
		commit("a", "one", later)
		commit("a", "two\x00binary", later)
		commit("b", "old", time.Now().Add(-time.Second))

		if got := find("a"); got != "two\x00binary" {
			t.Errorf("%s: committed twice: %q", name, got)
		}
		if got := find("b"); got != "none" {
			t.Errorf("%s: expired: %s", name, got)
		}
		if err := s.DeleteCtx(ctx, "a"); err != nil {
			t.Fatal(err)
		}

		if got := find("a"); got != "none" {
			t.Errorf("%s: deleted: %s", name, got)
		}
		if err := s.DeleteCtx(ctx, "a"); err != nil {
			t.Errorf("%s: deleting what is gone: %v", name, err)
		}
	}
}
