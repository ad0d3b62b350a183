package auth

import (
	"context"
	"crypto/subtle"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/alexedwards/scs/v2"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/fleet"
)

// lifetime is how long a session lasts; after it one signs in again.
const lifetime = 14 * 24 * time.Hour

// firstKeyLife is how long the link for the first person works.
const firstKeyLife = time.Hour

// Where a session keeps the id of its person, and when that person signed in,
// in microseconds since 1970.
const (
	userKey  = "user"
	sinceKey = "since"
)

// Options are what New needs.
type Options struct {
	Fleet    *fleet.Service
	Store    scs.CtxStore
	Secure   bool             // people reach the server by https: the cookie is sent by nothing else
	FirstKey string           // admits the first person; empty if there are people already
	Now      func() time.Time // nil: time.Now
}

// Auth finds out who sends a request. It is safe for use by many requests at once.
type Auth struct {
	fleet    *fleet.Service
	sessions *scs.SessionManager
	device   http.Cookie // what a known device's cookie looks like, without its value
	now      func() time.Time
	tries    *limiter

	first      sync.Mutex // locked while the first person is created
	firstKey   string
	firstUntil time.Time
}

// New returns an Auth over the use-cases and a session store.
func New(o Options) *Auth {
	a := &Auth{fleet: o.Fleet, sessions: scs.New(), now: o.Now, firstKey: o.FirstKey}
	if a.now == nil {
		a.now = time.Now
	}
	a.tries = &limiter{now: a.now}
	a.firstUntil = a.now().Add(firstKeyLife)
	s := a.sessions
	s.Store = o.Store
	s.Lifetime = lifetime
	s.HashTokenInStore = true

	s.Cookie.Name = "rimledger"
	if o.Secure {
		s.Cookie.Name = "__Host-rimledger"
	}
	s.Cookie.HttpOnly = true
	s.Cookie.SameSite = http.SameSiteLaxMode
	s.Cookie.Secure = o.Secure

	a.device = http.Cookie{Name: s.Cookie.Name + "-device", Path: "/", MaxAge: int(access.DeviceLife.Seconds()),
		HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: o.Secure}

	return a
}

// Sessions loads the session of each request before next and saves what it
// changed. failed answers a request whose session cannot be read or saved.
func (a *Auth) Sessions(next http.Handler, failed func(http.ResponseWriter, *http.Request, error)) http.Handler {
	a.sessions.ErrorFunc = failed
	return a.sessions.LoadAndSave(next)
}

// Who returns who sends r: a program by its token, else the person of the
// session. It returns an Unauthenticated error for a stranger, and for a token
// that is unknown, expired or revoked even if there is a session too.
func (a *Auth) Who(r *http.Request) (fleet.Actor, error) {
	if h := r.Header.Get("Authorization"); h != "" {
		scheme, secret, _ := strings.Cut(h, " ")
		if !strings.EqualFold(scheme, "Bearer") || strings.TrimSpace(secret) == "" {
			return fleet.Actor{}, models.Errorf(models.Unauthenticated,
				"the Authorization header must be Bearer and an API token")
		}
		return a.fleet.Authenticate(r.Context(), strings.TrimSpace(secret))
	}

	id := a.sessions.GetString(r.Context(), userKey)
	if id == "" {
		return fleet.Actor{}, models.Errorf(
			models.Unauthenticated,
			"sign in, or send an API token as Authorization: Bearer",
		)
	}

	since := time.UnixMicro(a.sessions.GetInt64(r.Context(), sinceKey))
	if !a.now().Before(since.Add(lifetime)) {
		return fleet.Actor{}, models.Errorf(models.Unauthenticated, "the session is over; sign in again")
	}
	u, err := a.fleet.Signed(r.Context(), models.UserID(id))
	if err == nil && since.Before(u.PasswordSetAt) {
		return fleet.Actor{}, models.Errorf(models.Unauthenticated, "the password was changed; sign in again")
	}

	return fleet.Actor{User: u, Source: models.FromPage}, err
}

// SignIn starts a session for the person with this mail address and password, and
// leaves a cookie by which their device is known. address is where r came from.
//
// It returns a RateLimited error after too many tries, an Unavailable one while
// too many passwords are being checked or other tries are not decided yet, both with how long to wait, and an
// Unauthenticated one that does not reveal which of the two was wrong.
func (a *Auth) SignIn(w http.ResponseWriter, r *http.Request, address, email, password string) (models.User, error) {
	ctx, begun := r.Context(), a.now()
	email = fleet.TypedEmail(email)

	device := ""
	if c, err := r.Cookie(a.device.Name); err == nil {
		if device, err = a.fleet.KnownDevice(ctx, email, c.Value); err != nil {
			return models.User{}, err
		}
	}

	u, err := a.check(ctx, attempt{account: email, address: addressKey(address), device: device}, password)
	if err != nil {
		return models.User{}, err
	}

	return u, a.begin(w, r, u.ID, begun)
}

// Confirm checks the password of a person who is signed in. It returns the errors
// of SignIn and counts by itself: neither can use up the tries of the other.
func (a *Auth) Confirm(r *http.Request, address string, u models.User, password string) error {
	t := attempt{account: u.Email, address: addressKey(address), device: "in a session of " + string(u.ID)}
	_, err := a.check(r.Context(), t, password)
	return err
}

// check returns the person of a try if it is let through and the password is right.
func (a *Auth) check(ctx context.Context, t attempt, password string) (models.User, error) {
	since, err := a.fleet.PasswordSetAt(ctx, t.account)
	if err != nil {
		return models.User{}, err
	}
	t.since = since

	let, err := a.tries.admit(t)
	if err != nil {
		return models.User{}, err
	}

	u, err := a.fleet.SignIn(ctx, let.caller, t.account, password)

	switch {
	case err == nil:
		a.tries.passwordRight(let)
	case models.KindOf(err) == models.Unauthenticated:
		a.tries.passwordWrong(let)
	default:
		a.tries.passwordUnchecked(let)
	}

	return u, err
}

// begin puts a person who proved at an instant who they are into the session,
// under a new cookie, so that one planted before signing in is worth nothing.
func (a *Auth) begin(w http.ResponseWriter, r *http.Request, id models.UserID, at time.Time) error {
	ctx := r.Context()
	mark, err := a.fleet.MarkDevice(ctx, id)
	if err != nil {
		return err
	}
	if err := a.sessions.RenewToken(ctx); err != nil {
		return err
	}

	a.sessions.Put(ctx, userKey, string(id))
	a.sessions.Put(ctx, sinceKey, at.UnixMicro())

	device := a.device
	device.Value = mark
	http.SetCookie(w, &device)

	return nil
}

// Renew keeps the session of a person who has just set a new password; their
// other sessions are over, and the other devices are no longer known.
func (a *Auth) Renew(w http.ResponseWriter, r *http.Request, id models.UserID) error {
	return a.begin(w, r, id, a.now())
}

// SignOut ends the session.
func (a *Auth) SignOut(ctx context.Context) error { return a.sessions.Destroy(ctx) }

// CheckFirst returns nil if key may make the first person now, else a
// NotFound error that says where to get a new one.
func (a *Auth) CheckFirst(ctx context.Context, key string) error {
	right := a.firstKey != "" && subtle.ConstantTimeCompare([]byte(key), []byte(a.firstKey)) == 1
	if !right || !a.now().Before(a.firstUntil) {
		return models.Errorf(models.NotFound, "this link does not work, or not any more; "+
			"restart the server for a new one, or use the command user add")
	}

	has, err := a.fleet.HasUsers(ctx)
	if err != nil {
		return err
	}
	if has {
		return models.Errorf(models.NotFound, "somebody can sign in already; ask a manager for access")
	}

	return nil
}

// First makes the first person, a manager of all depots, with a key that
// CheckFirst accepts, and starts their session. It works once.
func (a *Auth) First(w http.ResponseWriter, r *http.Request, key, name, email, password string) (models.User, error) {
	a.first.Lock()
	defer a.first.Unlock()
	ctx := r.Context()
	if err := a.CheckFirst(ctx, key); err != nil {
		return models.User{}, err
	}

	if password == "" { // the use-case would make a person who cannot sign in
		var f models.Faults
		f.Add("password", "", "must not be empty")
		return models.User{}, f.Err("person")
	}

	manager := models.User{Name: name, Email: email, Role: models.Manager}
	u, err := a.fleet.AddUser(ctx, fleet.System(models.FromPage), manager, password)
	if err != nil {
		return models.User{}, err
	}

	return u, a.begin(w, r, u.ID, a.now())
}

// actorKey is where a context keeps its Actor.
type actorKey struct{}

// WithActor returns ctx with who acts.
func WithActor(ctx context.Context, a fleet.Actor) context.Context {
	return context.WithValue(ctx, actorKey{}, a)
}

// ActorOf returns who acts in ctx; without WithActor a nobody, whom every
// use-case refuses.
func ActorOf(ctx context.Context) fleet.Actor {
	a, _ := ctx.Value(actorKey{}).(fleet.Actor)
	return a
}
