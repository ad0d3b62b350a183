package site

import (
	"context"
	"html/template"
	"log/slog"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"rimledger/api/auth"
	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/fleet"
)

// Mail is a mail with the same content as text and as HTML.
type Mail struct{ Subject, Text, HTML string }

// Deps is what the pages need.
type Deps struct {
	Fleet     *fleet.Service
	Auth      *auth.Auth
	Now       func() time.Time
	Version   string
	PublicURL string       // under which phones reach the pages; empty: as each request was sent
	Log       *slog.Logger // for faults of the server; nil: slog.Default()
	// DigestPreview writes the digest of a depot as it would be mailed now.
	DigestPreview func(ctx context.Context, a fleet.Actor, depot models.DepotID) (Mail, error)
	// DigestToMe mails that to the person; nil where no mail can be sent.
	DigestToMe func(ctx context.Context, a fleet.Actor, depot models.DepotID) error
	// DigestNext is when a depot's digest is due next after an instant, false where none is.
	DigestNext func(d models.Depot, after time.Time) (time.Time, bool)
}

// Site answers the pages.
type Site struct {
	Deps
	Echo   *echo.Echo
	layout *template.Template
	pages  pages
	Works  []WorkLink // that the page of a vehicle offers
}

// Get answers a path with h for people who are signed in.
func (s *Site) Get(path string, h Handler) { s.Echo.GET(path, s.signedIn(h)) }

// Post takes a form at a path, as get.
func (s *Site) Post(path string, h Handler) { s.Echo.POST(path, s.signedIn(h)) }

// Handler answers one page for a person who is signed in.
type Handler func(*Request) error

// Request is one request by a person who is signed in.
type Request struct {
	echo.Context
	Site   *Site
	Actor  fleet.Actor
	Depots []models.Depot // that the person sees, by name
	Now    time.Time
}

// RequestOf finds out which depots the actor sees and how they read. It returns
// what is known of the request even where that fails.
func (s *Site) RequestOf(c echo.Context, actor fleet.Actor) (*Request, error) {
	r := &Request{Context: c, Site: s, Actor: actor, Now: s.Now()}
	return r, r.readsAs()
}

func (r *Request) Ctx() context.Context { return r.Request().Context() }

// may reports whether the person has a permission, to show or hide buttons;
// the use-cases decide.
func (r *Request) may(p access.Permission) bool { return access.Can(r.Actor.User.Role, p) }

func (r *Request) Records() bool { return r.may(access.Record) }

func (r *Request) Manages() bool { return r.may(access.Manage) }

func (r *Request) Administers() bool { return r.may(access.Administer) }

// Depot returns a depot that the person sees, or the zero Depot.
func (r *Request) Depot(id models.DepotID) models.Depot {
	for _, d := range r.Depots {
		if d.ID == id {
			return d
		}
	}
	return models.Depot{}
}

// MaxForm is the most that a form may send, in bytes.
const MaxForm = 1 << 20

// signedIn answers with h, or with the sign-in page for a stranger, or with a
// page that says what went wrong.
func (s *Site) signedIn(h Handler) echo.HandlerFunc { return s.SignedInWith(MaxForm, h) }

// SignedInWith is signedIn for a request of at most this many bytes.
func (s *Site) SignedInWith(most int64, h Handler) echo.HandlerFunc {
	return func(c echo.Context) error {
		c.Request().Body = http.MaxBytesReader(c.Response(), c.Request().Body, most)
		actor, err := s.Who(c)
		if models.KindOf(err) == models.Unauthenticated && err != nil {
			return s.askToSignIn(c)
		}

		if err != nil {
			return s.Failed(c, err)
		}

		r, err := s.RequestOf(c, actor)
		c.Set(signedInKey, r)
		if err != nil {
			return s.Failed(c, err)
		}
		if err := h(r); err != nil {
			return s.Failed(c, err)
		}

		return nil
	}
}
