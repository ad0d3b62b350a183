// Package web is the pages that people use: sign-in, the attention list,
// vehicles with their tread bars, inspection entry, work forms, tires, the due
// list, the digest preview, settings and help.
//
// Pages are rendered on the server from embedded templates, work without a
// script, and load nothing from another host. The package shapes input and
// output only: what is allowed and believed is decided by package fleet, and
// every number that is computed comes from the packages under models.
package web

import (
	"context"
	"html/template"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"rimledger/api/auth"
	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/fleet"
)

// Deps is what the pages need.
type Deps struct {
	Fleet     *fleet.Service
	Auth      *auth.Auth
	Now       func() time.Time
	Version   string
	PublicURL string       // under which phones reach the pages; empty: as each request was sent
	Log       *slog.Logger // for faults of ours; nil: slog.Default()
	// DigestPreview writes the digest of a depot as it would be mailed now.
	DigestPreview func(ctx context.Context, a fleet.Actor, depot models.DepotID) (subject, text, html string, err error)
	// DigestToMe mails that to the person; nil where no mail can be sent.
	DigestToMe func(ctx context.Context, a fleet.Actor, depot models.DepotID) error
	// DigestNext is when a depot's digest is due next after an instant, false where none is.
	DigestNext func(d models.Depot, after time.Time) (time.Time, bool)
}

// site answers the pages.
type site struct {
	Deps
	echo   *echo.Echo
	layout *template.Template
	pages  pages
	works  []workLink // that the page of a vehicle offers
}

// Mount adds the pages to e. failed answers with a page about what went wrong outside
// of any page. It fails only if an embedded template is broken.
func Mount(e *echo.Echo, d Deps) (failed func(http.ResponseWriter, *http.Request, error), err error) {
	if d.Now == nil {
		d.Now = time.Now
	}
	if d.Log == nil {
		d.Log = slog.Default()
	}
	parsed, err := parsePages()
	if err != nil {
		return nil, err
	}
	s := &site{Deps: d, echo: e, pages: parsed, works: vehicleWorks()}
	e.GET("/static/*", static)
	s.mountSession(e)

	s.get("/", s.attention)
	s.post("/", s.bookIn)
	s.get("/changed", s.changed)
	s.get("/findings/:id", s.finding)
	s.post("/findings/:id/acknowledge", s.acknowledge)
	s.get("/vehicles", s.vehicles)
	s.get("/vehicles/:id", s.vehicle)
	s.get("/vehicles/:id/at/:position", s.place)
	s.get("/vehicles/:id/compare", s.compare)
	s.get("/vehicles/:id/inspect", s.inspect)
	s.post("/vehicles/:id/inspect", s.inspected)
	s.get("/vehicles/:id/do/:kind", s.workForm)
	s.post("/vehicles/:id/do/:kind", s.workDone)
	s.get("/labels", s.labels)
	s.get("/tires", s.tires)
	s.get("/tires/:id", s.tire)
	s.get("/due", s.due)
	s.get("/order", s.order)
	s.get("/due/calendar", s.month)
	s.post("/settings/calendar", s.addFeed)
	e.GET("/calendar.ics", s.feed)
	s.get("/digest", s.digest)
	s.post("/digest", s.digestToMe)
	s.get("/help", s.help)
	s.mountYard()
	s.get("/sheets", s.sheets)
	s.get("/sheets/file", s.takeAway)
	e.POST("/sheets", s.signedInWith(maxSheet+maxForm, s.takeIn))
	s.mountAssets()
	s.mountBench()
	s.mountSettings()
	e.RouteNotFound("/*", func(c echo.Context) error {
		if strings.HasPrefix(c.Request().URL.Path, "/api/") {
			return echo.ErrNotFound // the API answers in its own form
		}
		secure(c)
		if actor, err := s.who(c); err == nil {
			if r, err := s.requestOf(c, actor); err == nil {
				c.Set(signedInKey, r)
			}
		}
		return s.failed(c, models.Errorf(models.NotFound, "no page has the address %.80s", c.Request().URL.Path))
	})
	return func(w http.ResponseWriter, r *http.Request, err error) { s.fault(e.NewContext(r, w), err) }, nil
}

// get answers a path with h for people who are signed in.
func (s *site) get(path string, h handler) { s.echo.GET(path, s.signedIn(h)) }

// post takes a form at a path, as get.
func (s *site) post(path string, h handler) { s.echo.POST(path, s.signedIn(h)) }

// handler answers one page for a person who is signed in.
type handler func(*request) error

// request is one request by a person who is signed in.
type request struct {
	echo.Context
	site   *site
	actor  fleet.Actor
	depots []models.Depot // that the person sees, by name
	now    time.Time
}

// requestOf finds out which depots the actor sees and how they read. It returns
// what is known of the request even where that fails.
func (s *site) requestOf(c echo.Context, actor fleet.Actor) (*request, error) {
	r := &request{Context: c, site: s, actor: actor, now: s.Now()}
	return r, r.readsAs()
}

func (r *request) ctx() context.Context { return r.Request().Context() }

// may reports whether the person has a permission, to show or hide buttons;
// the use-cases decide.
func (r *request) may(p access.Permission) bool { return access.Can(r.actor.User.Role, p) }

func (r *request) records() bool { return r.may(access.Record) }

func (r *request) manages() bool { return r.may(access.Manage) }

func (r *request) administers() bool { return r.may(access.Administer) }

// depot returns a depot that the person sees, or the zero Depot.
func (r *request) depot(id models.DepotID) models.Depot {
	for _, d := range r.depots {
		if d.ID == id {
			return d
		}
	}
	return models.Depot{}
}

// maxForm is the most that a form may send, in bytes.
const maxForm = 1 << 20

// signedIn answers with h, or with the sign-in page for a stranger, or with a
// page that says what went wrong.
func (s *site) signedIn(h handler) echo.HandlerFunc { return s.signedInWith(maxForm, h) }

// signedInWith is signedIn for a request of at most this many bytes.
func (s *site) signedInWith(most int64, h handler) echo.HandlerFunc {
	return func(c echo.Context) error {
		secure(c)
		c.Request().Body = http.MaxBytesReader(c.Response(), c.Request().Body, most)
		actor, err := s.who(c)
		if models.KindOf(err) == models.Unauthenticated && err != nil {
			return s.askToSignIn(c)
		}
		if err != nil {
			return s.failed(c, err)
		}
		r, err := s.requestOf(c, actor)
		c.Set(signedInKey, r)
		if err != nil {
			return s.failed(c, err)
		}
		if err := h(r); err != nil {
			return s.failed(c, err)
		}
		return nil
	}
}
