package auth_test

import (
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"

	"rimledger/api/auth"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/store"
)

const (
	password = "a long enough password"
	home     = "192.0.2.1" // TEST-NET-1 of RFC 5737, as are the other addresses
)

// world is an Auth over a store whose clock the test may move.
type world struct {
	*testing.T
	auth  *auth.Auth
	fleet *fleet.Service
	store *store.Store
	clock time.Time
}

func start(t *testing.T, firstKey string) *world {
	t.Helper()
	options := store.Options{Migrate: true, Volatile: true}
	st, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "test.sqlite"), options)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })

	w := &world{T: t, store: st, clock: time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)}
	now := func() time.Time { return w.clock }
	w.fleet = fleet.New(st, fleet.Options{Now: now})
	w.auth = auth.New(auth.Options{Fleet: w.fleet, Store: st.Sessions(), Secure: true, FirstKey: firstKey, Now: now})

	return w
}

// person adds an invented person whose password is cheap to check, so that many
// tries take little time.
func (w *world) person(email string) models.User {
	w.Helper()
	cheap := &argon2id.Params{Memory: 64, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}
	hash, err := argon2id.CreateHash(password, cheap)
	if err != nil {
		w.Fatal(err)
	}

	invented := models.User{Name: "Invented", Email: email, Role: models.Viewer}
	u, err := w.fleet.AddUser(w.Context(), w.system(), invented, "")
	if err != nil {
		w.Fatal(err)
	}
	u.PasswordHash = hash
	if err := w.store.Write(w.Context(), func(tx models.Tx) error { return tx.PutUser(w.Context(), u) }); err != nil {
		w.Fatal(err)
	}

	return u
}

func (w *world) system() fleet.Actor { return fleet.System(models.FromCLI) }

// visit runs do within a request's session and returns the cookies of the browser
// after it.
func (w *world) visit(cookies []*http.Cookie, do func(http.ResponseWriter, *http.Request)) []*http.Cookie {
	w.Helper()
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	for _, c := range cookies {
		r.AddCookie(c)
	}

	rec := httptest.NewRecorder()
	w.auth.Sessions(http.HandlerFunc(do), func(_ http.ResponseWriter, _ *http.Request, err error) {
		w.Errorf("session: %v", err)
	}).ServeHTTP(rec, r)

	after := rec.Result().Cookies()
	for _, c := range cookies {
		if !slices.ContainsFunc(after, func(n *http.Cookie) bool { return n.Name == c.Name }) {
			after = append(after, c)
		}
	}

	return after
}

// try signs in and returns the cookies after it.
func (w *world) try(cookies []*http.Cookie, address, email, pw string) ([]*http.Cookie, error) {
	w.Helper()
	var err error
	after := w.visit(cookies, func(rw http.ResponseWriter, r *http.Request) {
		_, err = w.auth.SignIn(rw, r, address, email, pw)
	})
	return after, err
}

// in signs in and must be let in.
func (w *world) in(cookies []*http.Cookie, address, email, pw string) []*http.Cookie {
	w.Helper()
	after, err := w.try(cookies, address, email, pw)
	if err != nil {
		w.Fatalf("%s from %s: %v", email, address, err)
	}
	return after
}

// wrong tries a wrong password from an address, many times, and fails the test
// unless each is let through and found wrong.
func (w *world) wrong(times int, cookies []*http.Cookie, address, email string) {
	w.Helper()
	for i := range times {
		if _, err := w.try(cookies, address, email, "wrong"); !errors.Is(err, models.Unauthenticated) {
			w.Fatalf("try %d for %s from %s: %v", i+1, email, address, err)
		}
	}
}

// limited fails the test unless a right password is refused until a wait is over.
func (w *world) limited(cookies []*http.Cookie, address, email string, wait time.Duration) {
	w.Helper()
	_, err := w.try(cookies, address, email, password)
	if !errors.Is(err, models.RateLimited) || models.WaitOf(err) != wait {
		w.Errorf("%s from %s: %v, want to wait %s", email, address, err, wait)
	}
}

// who returns the mail address of the person of a session, or the error.
func (w *world) who(cookies []*http.Cookie) (email string, err error) {
	w.Helper()
	w.visit(cookies, func(_ http.ResponseWriter, r *http.Request) {
		var a fleet.Actor
		a, err = w.auth.Who(r)
		email = a.User.Email
		if a.User.PasswordHash != "" {
			w.Error("who acts is given with the hash of the password")
		}
	})
	return email, err
}

// out fails the test if a session still has a person.
func (w *world) out(when string, cookies []*http.Cookie) {
	w.Helper()
	if email, err := w.who(cookies); !errors.Is(err, models.Unauthenticated) {
		w.Errorf("%s: %q, %v", when, email, err)
	}
}

func cookie(t *testing.T, cookies []*http.Cookie, name string) *http.Cookie {
	t.Helper()
	for _, c := range cookies {
		if c.Name == name {
			return c
		}
	}
	t.Fatalf("no cookie %s in %v", name, cookies)
	return nil
}

// device is what a browser has after its session is over: the device's cookie.
func device(t *testing.T, cookies []*http.Cookie) []*http.Cookie {
	t.Helper()
	return []*http.Cookie{cookie(t, cookies, "__Host-rimledger-device")}
}

func TestSession(t *testing.T) {
	t.Parallel()
	w := start(t, "")
	w.person("lee@fleet.example")
	w.out("a stranger", nil)

	cookies := w.in(nil, home, " Lee@Fleet.example ", password)

	session, device := cookie(t, cookies, "__Host-rimledger"), cookie(t, cookies, "__Host-rimledger-device")
	for c, want := range map[*http.Cookie]struct {
		site http.SameSite
		days int
	}{session: {http.SameSiteLaxMode, 14}, device: {http.SameSiteStrictMode, 365}} {
		if !c.HttpOnly || !c.Secure || c.SameSite != want.site || c.Path != "/" || c.Domain != "" {
			t.Errorf("cookie %v", c)
		}
		life := time.Duration(c.MaxAge) * time.Second
		if d := life - time.Duration(want.days)*24*time.Hour; d.Abs() > time.Minute {
			t.Errorf("cookie %s lasts %s, want %d days", c.Name, life, want.days)
		}
	}

	if email, err := w.who(cookies); err != nil || email != "lee@fleet.example" {
		t.Errorf("who %q, %v", email, err)
	}

	again := w.in(cookies, home, "lee@fleet.example", password)
	if cookie(t, again, "__Host-rimledger").Value == session.Value {
		t.Error("signing in keeps the cookie")
	}
	w.visit(again, func(_ http.ResponseWriter, r *http.Request) {
		if err := w.auth.SignOut(r.Context()); err != nil {
			t.Errorf("sign out: %v", err)
		}
	})

	w.out("after signing out", again)
}

// A session lasts 14 days from signing in, however much it is used.
func TestSessionEnds(t *testing.T) {
	t.Parallel()
	w := start(t, "")
	w.person("lee@fleet.example")

	cookies := w.in(nil, home, "lee@fleet.example", password)
	for range 13 {
		w.clock = w.clock.Add(24 * time.Hour)
		if _, err := w.who(cookies); err != nil {
			t.Fatalf("on %s: %v", w.clock.Format(time.DateOnly), err)
		}
	}

	w.clock = w.clock.Add(24*time.Hour - time.Second)
	if _, err := w.who(cookies); err != nil {
		t.Errorf("a second before the end: %v", err)
	}
	w.clock = w.clock.Add(time.Second)
	w.out("after 14 days", cookies)
}

// A new password ends the sessions that began before, but the one that set it,
// and makes the devices of before strangers.
func TestNewPassword(t *testing.T) {
	t.Parallel()
	w := start(t, "")
	lee := w.person("lee@fleet.example")
	here, there := w.in(nil, home, lee.Email, password), w.in(nil, "192.0.2.2", lee.Email, password)
	w.wrong(10, nil, "198.51.100.1", lee.Email)
	w.clock = w.clock.Add(time.Minute)
	const second = "a second long password"

	self := fleet.Actor{User: lee, Source: models.FromPage}
	if err := w.fleet.SetPassword(t.Context(), self, lee.ID, second); err != nil {
		t.Fatal(err)
	}

	w.out("the session elsewhere", there)
	here = w.visit(here, func(rw http.ResponseWriter, r *http.Request) {
		if err := w.auth.Renew(rw, r, lee.ID); err != nil {
			t.Error(err)
		}
	})
	if _, err := w.who(here); err != nil {
		t.Errorf("the session that set it: %v", err)
	}

	if _, err := w.try(nil, home, lee.Email, password); !errors.Is(err, models.Unauthenticated) {
		t.Errorf("the old password: %v", err)
	}

	w.wrong(10, nil, "198.51.100.2", lee.Email) // those before the new password do not count any more
	w.limited(device(t, there), "198.51.100.3", lee.Email, 15*time.Minute)
	w.in(device(t, here), "198.51.100.3", lee.Email, second)
}

// Whoever is disabled is out at once: sign-in, session and token.
func TestDisabled(t *testing.T) {
	t.Parallel()
	w := start(t, "")
	lee := w.person("lee@fleet.example")
	cookies := w.in(nil, home, lee.Email, password)

	_, secret, err := w.fleet.AddToken(t.Context(), fleet.Actor{User: lee, Source: models.FromPage},
		models.Token{Name: "board", ExpiresAt: w.clock.Add(time.Hour)})
	if err != nil {
		t.Fatal(err)
	}

	program := httptest.NewRequest(http.MethodGet, "/", nil)
	program.Header.Set("Authorization", "Bearer "+secret)
	if a, err := w.auth.Who(program); err != nil || a.User.ID != lee.ID {
		t.Fatalf("the token before: %+v, %v", a, err)
	}

	now, err := w.fleet.User(t.Context(), w.system(), lee.ID)
	if err != nil {
		t.Fatal(err)
	}
	now.Disabled = true
	if _, err := w.fleet.EditUser(t.Context(), w.system(), now); err != nil {
		t.Fatal(err)
	}

	w.out("the session", cookies)
	if _, err := w.auth.Who(program); !errors.Is(err, models.Unauthenticated) {
		t.Errorf("the token: %v", err)
	}

	for name, c := range map[string][]*http.Cookie{"from a new device": nil, "from a known one": device(t, cookies)} {
		if _, err := w.try(c, home, lee.Email, password); !errors.Is(err, models.Unauthenticated) {
			t.Errorf("signing in %s: %v", name, err)
		}
	}
}

// Ten wrong tries use up an account for addresses that are new to it, for a
// quarter of an hour from the first of them.
func TestAccountIsSlowedDown(t *testing.T) {
	t.Parallel()
	w := start(t, "")
	w.person("lee@fleet.example")
	w.person("kim@fleet.example")
	w.wrong(4, nil, "198.51.100.1", "lee@fleet.example")
	w.clock = w.clock.Add(time.Minute)
	w.in(nil, home, "lee@fleet.example", password) // counts as no guess, and takes none away

	for i := range 6 {
		w.wrong(1, nil, fmt.Sprintf("198.51.100.%d", i+2), "lee@fleet.example")
	}

	w.limited(nil, "192.0.2.99", "LEE@fleet.example", 14*time.Minute)
	w.in(nil, "192.0.2.99", "kim@fleet.example", password)
	w.in(nil, home, "lee@fleet.example", password) // where they signed in lately
	w.clock = w.clock.Add(14*time.Minute - time.Second)
	w.limited(nil, "192.0.2.98", "lee@fleet.example", time.Second)
	w.clock = w.clock.Add(time.Second)
	w.in(nil, "192.0.2.98", "lee@fleet.example", password)

	// An address is remembered as long as a session lasts.
	w.clock = w.clock.Add(14*24*time.Hour - time.Second)
	w.wrong(10, nil, "198.51.100.1", "lee@fleet.example")
	w.in(nil, "192.0.2.98", "lee@fleet.example", password)
	w.limited(nil, home, "lee@fleet.example", 15*time.Minute) // two quarters longer ago
}

// Sixty tries use up an address, whomever they are for, but not a device that is
// known. An IPv6 network of 64 bits is one address.
func TestAddressIsSlowedDown(t *testing.T) {
	t.Parallel()

	for name, address := range map[string]func(i int) string{
		"IPv4":        func(int) string { return "198.51.100.1" },
		"IPv4 in v6":  func(i int) string { return []string{"198.51.100.1", "::ffff:198.51.100.1"}[i%2] },
		"IPv6 prefix": func(i int) string { return fmt.Sprintf("2001:db8::%x", i+1) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			w := start(t, "")
			for i := range 7 {
				w.person(fmt.Sprintf("p%d@fleet.example", i))
			}

			owner := device(t, w.in(nil, home, "p6@fleet.example", password))

			for i := range 60 {
				w.wrong(1, nil, address(i), fmt.Sprintf("p%d@fleet.example", i%6))
			}

			w.limited(nil, address(60), "p6@fleet.example", 15*time.Minute)
			w.in(owner, address(60), "p6@fleet.example", password)
			w.in(nil, home, "p6@fleet.example", password)
			w.clock = w.clock.Add(15*time.Minute - time.Second)
			w.limited(nil, address(60), "p6@fleet.example", time.Second)
			w.clock = w.clock.Add(time.Second)
			w.in(nil, address(60), "p6@fleet.example", password)
		})
	}
}

// A known device has tries of its own, for its own person only.
func TestDeviceIsSlowedDown(t *testing.T) {
	t.Parallel()
	w := start(t, "")
	w.person("lee@fleet.example")
	w.person("kim@fleet.example")
	lees := device(t, w.in(nil, home, "lee@fleet.example", password))
	w.wrong(20, lees, "198.51.100.1", "lee@fleet.example")
	w.limited(lees, "198.51.100.1", "lee@fleet.example", 15*time.Minute)
	w.in(nil, "198.51.100.1", "lee@fleet.example", password) // nobody else is slowed down by that

	w.wrong(10, lees, "198.51.100.2", "kim@fleet.example")
	w.limited(lees, "198.51.100.2", "kim@fleet.example", 15*time.Minute)
}

// Whoever had to wait gets in after that time, though attackers go on all the time.
func TestWaitComesTrueUnderAttack(t *testing.T) {
	t.Parallel()
	w := start(t, "")
	w.person("lee@fleet.example")

	attack := func() {
		for i := range 60 {
			_, err := w.try(nil, fmt.Sprintf("198.51.100.%d", i), "lee@fleet.example", "wrong")
			if !errors.Is(err, models.Unauthenticated) && !errors.Is(err, models.RateLimited) {
				t.Fatalf("attacker %d: %v", i, err)
			}
		}
	}

	attack()
	w.clock = w.clock.Add(5 * time.Minute)
	attack()
	w.limited(nil, home, "lee@fleet.example", 10*time.Minute)
	w.clock = w.clock.Add(10*time.Minute - time.Second)
	attack()
	w.limited(nil, home, "lee@fleet.example", time.Second)
	w.clock = w.clock.Add(time.Second)

	attack()

	// One try passes, and no more: an attacker who waits has one guess, too.
	w.wrong(1, nil, home, "lee@fleet.example")
	w.limited(nil, home, "lee@fleet.example", 15*time.Minute)
	w.clock = w.clock.Add(15 * time.Minute)
	attack()
	w.in(nil, home, "lee@fleet.example", password)
}

// A password that nobody can have is refused without work, and counts like any wrong one.
func TestPasswordThatIsTooLong(t *testing.T) {
	t.Parallel()
	w := start(t, "")
	w.person("lee@fleet.example")
	for range 10 {
		_, err := w.try(nil, home, "lee@fleet.example", strings.Repeat("x", 201))
		if !errors.Is(err, models.Unauthenticated) {
			t.Fatal(err)
		}
	}
	w.limited(nil, home, "lee@fleet.example", 15*time.Minute)
}

// Whoever has taken a session cannot guess its password without end.
func TestConfirmIsSlowedDown(t *testing.T) {
	t.Parallel()
	w := start(t, "")
	lee := w.person("lee@fleet.example")
	confirm := func(pw string) error {
		return w.auth.Confirm(httptest.NewRequest(http.MethodGet, "/", nil), home, lee, pw)
	}

	for i := range 20 {
		if err := confirm("wrong"); !errors.Is(err, models.Unauthenticated) {
			t.Fatalf("try %d: %v", i+1, err)
		}
	}

	if err := confirm(password); !errors.Is(err, models.RateLimited) {
		t.Errorf("a try more: %v", err)
	}

	w.in(nil, home, lee.Email, password)
	w.clock = w.clock.Add(15 * time.Minute)
	if err := confirm(password); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}

func TestFirstPerson(t *testing.T) {
	t.Parallel()
	w := start(t, "the-key")
	for _, key := range []string{"", "another", "the-key "} {
		if err := w.auth.CheckFirst(t.Context(), key); !errors.Is(err, models.NotFound) {
			t.Errorf("key %q: %v", key, err)
		}
	}

	cookies := w.visit(nil, func(rw http.ResponseWriter, r *http.Request) {
		_, err := w.auth.First(rw, r, "the-key", "Invented", "first@fleet.example", "")
		if !errors.Is(err, models.Invalid) {
			t.Errorf("without a password: %v", err)
		}

		u, err := w.auth.First(rw, r, "the-key", "Invented", "first@fleet.example", password)
		if err != nil || u.Role != models.Manager || len(u.Depots) != 0 {
			t.Errorf("first person %+v, %v", u, err)
		}

		_, err = w.auth.First(rw, r, "the-key", "Invented", "second@fleet.example", password)
		if !errors.Is(err, models.NotFound) {
			t.Errorf("a second time: %v", err)
		}
	})

	if email, err := w.who(cookies); err != nil || email != "first@fleet.example" {
		t.Errorf("not signed in: %q, %v", email, err)
	}

	late := start(t, "the-key")
	late.clock = late.clock.Add(time.Hour)
	if err := late.auth.CheckFirst(t.Context(), "the-key"); !errors.Is(err, models.NotFound) {
		t.Errorf("after an hour: %v", err)
	}

	none := start(t, "")
	if err := none.auth.CheckFirst(t.Context(), ""); !errors.Is(err, models.NotFound) {
		t.Errorf("no key at all: %v", err)
	}
}
