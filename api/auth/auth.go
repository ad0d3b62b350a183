// Package auth says who sends a request: a signed-in person by the session
// cookie, or a program by an API token in "Authorization: Bearer". It signs
// people in and out, slows down guessing, and admits the very first person by
// a link that the server printed. What a person may do is decided by the
// use-cases, not here.
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

// Auth knows who sends a request. It is safe for use by many requests at once.
type Auth struct {
	fleet    *fleet.Service
	sessions *scs.SessionManager
	now      func() time.Time
	tries    *limiter

	first      sync.Mutex // held while the first person is made
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
			return fleet.Actor{}, models.Errorf(models.Unauthenticated, "the Authorization header must be Bearer and an API token")
		}
		return a.fleet.Authenticate(r.Context(), strings.TrimSpace(secret))
	}
	id := a.sessions.GetString(r.Context(), userKey)
	if id == "" {
		return fleet.Actor{}, models.Errorf(models.Unauthenticated, "sign in, or send an API token as Authorization: Bearer")
	}
	u, err := a.fleet.Signed(r.Context(), models.UserID(id))
	if err == nil && time.UnixMicro(a.sessions.GetInt64(r.Context(), sinceKey)).Before(u.PasswordSetAt) {
		return fleet.Actor{}, models.Errorf(models.Unauthenticated, "the password was changed; sign in again")
	}
	return fleet.Actor{User: u, Source: models.FromPage}, err
}

// SignIn starts a session for the person with this mail address and password.
// address is where the request came from. It returns a RateLimited error after
// too many tries from one address or for one mail address, and an
// Unauthenticated one that does not tell which of the two was wrong.
func (a *Auth) SignIn(ctx context.Context, address, email, password string) (models.User, error) {
	email = strings.ToLower(strings.TrimSpace(email))
	if err := a.tries.take(addressKey(address), triesByAddress); err != nil {
		return models.User{}, err
	}
	if err := a.tries.take("mail "+email, triesByMail); err != nil {
		return models.User{}, err
	}
	u, err := a.fleet.SignIn(ctx, email, password)
	if err != nil {
		return models.User{}, err
	}
	a.tries.forget("mail " + email)
	return u, a.begin(ctx, u.ID)
}

// begin puts a person into the session under a new cookie, so that a cookie
// planted before signing in is worth nothing.
func (a *Auth) begin(ctx context.Context, id models.UserID) error {
	if err := a.sessions.RenewToken(ctx); err != nil {
		return err
	}
	a.sessions.Put(ctx, userKey, string(id))
	a.sessions.Put(ctx, sinceKey, a.now().UnixMicro())
	return nil
}

// Renew keeps the session of a person who has just set a new password; their
// other sessions are over.
func (a *Auth) Renew(ctx context.Context, id models.UserID) error { return a.begin(ctx, id) }

// SignOut ends the session.
func (a *Auth) SignOut(ctx context.Context) error { return a.sessions.Destroy(ctx) }

// CheckFirst returns nil if key may make the first person now, else a
// NotFound error that says where to get a new one.
func (a *Auth) CheckFirst(ctx context.Context, key string) error {
	right := a.firstKey != "" && subtle.ConstantTimeCompare([]byte(key), []byte(a.firstKey)) == 1
	if !right || !a.now().Before(a.firstUntil) {
		return models.Errorf(models.NotFound, "this link does not work, or not any more; restart the server for a new one, or use the command user add")
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
func (a *Auth) First(ctx context.Context, key, name, email, password string) (models.User, error) {
	a.first.Lock()
	defer a.first.Unlock()
	if err := a.CheckFirst(ctx, key); err != nil {
		return models.User{}, err
	}
	if password == "" { // the use-case would make a person who cannot sign in
		var f models.Faults
		f.Add("password", "", "must not be empty")
		return models.User{}, f.Err("person")
	}
	u, err := a.fleet.AddUser(ctx, fleet.System(models.FromPage), models.User{Name: name, Email: email, Role: models.Manager}, password)
	if err != nil {
		return models.User{}, err
	}
	return u, a.begin(ctx, u.ID)
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
