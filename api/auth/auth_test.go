package auth_test

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"testing"
	"time"

	"rimledger/api/auth"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/store"
)

const password = "a long enough password"

// start returns an Auth over an empty store whose clock the test may move.
func start(t *testing.T, firstKey string) (*auth.Auth, *fleet.Service, *time.Time) {
	t.Helper()
	st, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "test.sqlite"), store.Options{Migrate: true, Volatile: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	clock := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	now := func() time.Time { return clock }
	f := fleet.New(st, fleet.Options{Now: now})
	return auth.New(auth.Options{Fleet: f, Store: st.Sessions(), Secure: true, FirstKey: firstKey, Now: now}), f, &clock
}

// visit runs do within a request's session and returns the cookies it set.
func visit(t *testing.T, a *auth.Auth, cookies []*http.Cookie, do func(r *http.Request)) []*http.Cookie {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	for _, c := range cookies {
		r.AddCookie(c)
	}
	w := httptest.NewRecorder()
	a.Sessions(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { do(r) }), func(_ http.ResponseWriter, _ *http.Request, err error) {
		t.Errorf("session: %v", err)
	}).ServeHTTP(w, r)
	return w.Result().Cookies()
}

func TestSession(t *testing.T) {
	t.Parallel()
	a, f, _ := start(t, "")
	if _, err := f.AddUser(t.Context(), fleet.System(models.FromCLI), models.User{Name: "Invented", Email: "lee@fleet.example", Role: models.Viewer}, password); err != nil {
		t.Fatal(err)
	}
	cookies := visit(t, a, nil, func(r *http.Request) {
		if _, err := a.Who(r); !errors.Is(err, models.Unauthenticated) {
			t.Errorf("a stranger: %v", err)
		}
		if _, err := a.SignIn(r.Context(), "192.0.2.1", " Lee@Fleet.example ", password); err != nil {
			t.Errorf("sign in: %v", err)
		}
	})
	if len(cookies) != 1 {
		t.Fatalf("cookies %v", cookies)
	}
	if c := cookies[0]; !c.HttpOnly || !c.Secure || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Name != "__Host-rimledger" {
		t.Errorf("cookie %v", c)
	}
	renewed := visit(t, a, cookies, func(r *http.Request) {
		if who, err := a.Who(r); err != nil || who.User.Email != "lee@fleet.example" || who.User.PasswordHash != "" {
			t.Errorf("who %+v, %v", who, err)
		}
		if _, err := a.SignIn(r.Context(), "192.0.2.1", "lee@fleet.example", password); err != nil {
			t.Errorf("sign in again: %v", err)
		}
	})
	if len(renewed) != 1 || renewed[0].Value == cookies[0].Value {
		t.Error("signing in keeps the cookie")
	}
	visit(t, a, renewed, func(r *http.Request) {
		if err := a.SignOut(r.Context()); err != nil {
			t.Errorf("sign out: %v", err)
		}
	})
	visit(t, a, renewed, func(r *http.Request) {
		if _, err := a.Who(r); !errors.Is(err, models.Unauthenticated) {
			t.Errorf("after signing out: %v", err)
		}
	})
}

func TestSignInIsSlowedDown(t *testing.T) {
	t.Parallel()
	a, f, clock := start(t, "")
	for _, name := range []string{"lee", "kim"} {
		if _, err := f.AddUser(t.Context(), fleet.System(models.FromCLI), models.User{Name: "Invented", Email: name + "@fleet.example", Role: models.Viewer}, password); err != nil {
			t.Fatal(err)
		}
	}
	visit(t, a, nil, func(r *http.Request) {
		try := func(address, email, pw string) error {
			_, err := a.SignIn(r.Context(), address, email, pw)
			return err
		}
		for i := range 10 {
			if err := try(fmt.Sprintf("192.0.2.%d", i), "lee@fleet.example", "wrong"); !errors.Is(err, models.Unauthenticated) {
				t.Fatalf("try %d: %v", i+1, err)
			}
		}
		if err := try("192.0.2.99", "LEE@fleet.example", password); !errors.Is(err, models.RateLimited) {
			t.Errorf("an eleventh try for one person: %v", err)
		}
		if err := try("192.0.2.99", "kim@fleet.example", password); err != nil {
			t.Errorf("another person meanwhile: %v", err)
		}
		*clock = clock.Add(15 * time.Minute)
		if err := try("192.0.2.99", "lee@fleet.example", password); err != nil {
			t.Errorf("after the window: %v", err)
		}
		limited := 0
		for i := range 61 { // one IPv6 network is one address; the right password keeps it cheap to tell apart
			if i == 60 {
				if err := try("2001:db8::ffff", "kim@fleet.example", password); errors.Is(err, models.RateLimited) {
					limited++
				}
				break
			}
			_ = try(fmt.Sprintf("2001:db8::%x", i), "nobody@fleet.example", "wrong")
		}
		if limited != 1 {
			t.Error("a sixty-first try from one network was let through")
		}
	})
}

func TestFirstPerson(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	a, _, clock := start(t, "the-key")
	for _, key := range []string{"", "another", "the-key "} {
		if err := a.CheckFirst(ctx, key); !errors.Is(err, models.NotFound) {
			t.Errorf("key %q: %v", key, err)
		}
	}
	visit(t, a, nil, func(r *http.Request) {
		if _, err := a.First(r.Context(), "the-key", "Invented", "first@fleet.example", ""); !errors.Is(err, models.Invalid) {
			t.Errorf("without a password: %v", err)
		}
		u, err := a.First(r.Context(), "the-key", "Invented", "first@fleet.example", password)
		if err != nil || u.Role != models.Manager || len(u.Depots) != 0 {
			t.Errorf("first person %+v, %v", u, err)
		}
		if who, err := a.Who(r); err != nil || who.User.ID != u.ID {
			t.Errorf("not signed in: %+v, %v", who, err)
		}
		if _, err := a.First(r.Context(), "the-key", "Invented", "second@fleet.example", password); !errors.Is(err, models.NotFound) {
			t.Errorf("a second time: %v", err)
		}
	})
	late, _, clock2 := start(t, "the-key")
	*clock2 = clock.Add(time.Hour)
	if err := late.CheckFirst(ctx, "the-key"); !errors.Is(err, models.NotFound) {
		t.Errorf("after an hour: %v", err)
	}
	none, _, _ := start(t, "")
	if err := none.CheckFirst(ctx, ""); !errors.Is(err, models.NotFound) {
		t.Errorf("no key at all: %v", err)
	}
}
