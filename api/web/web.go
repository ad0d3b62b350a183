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
	pages pages
	works map[string]work
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
	s := &site{Deps: d, pages: parsed, works: works()}
	e.GET("/static/*", static)
	s.mountSession(e)

	get := func(path string, h handler) { e.GET(path, s.signedIn(h)) }
	post := func(path string, h handler) { e.POST(path, s.signedIn(h)) }
	get("/", s.attention)
	post("/", s.bookIn)
	get("/changed", s.changed)
	get("/findings/:id", s.finding)
	post("/findings/:id/acknowledge", s.acknowledge)
	get("/vehicles", s.vehicles)
	get("/vehicles/:id", s.vehicle)
	get("/vehicles/:id/at/:position", s.place)
	get("/vehicles/:id/compare", s.compare)
	get("/vehicles/:id/inspect", s.inspect)
	post("/vehicles/:id/inspect", s.inspected)
	get("/vehicles/:id/do/:kind", s.workForm)
	post("/vehicles/:id/do/:kind", s.workDone)
	get("/labels", s.labels)
	get("/tires", s.tires)
	get("/tires/:id", s.tire)
	get("/due", s.due)
	get("/order", s.order)
	get("/due/calendar", s.month)
	post("/settings/calendar", s.addFeed)
	e.GET("/calendar.ics", s.feed)
	get("/digest", s.digest)
	post("/digest", s.digestToMe)
	get("/help", s.help)
	s.mountYard(e, get)
	get("/sheets", s.sheets)
	get("/sheets/file", s.takeAway)
	e.POST("/sheets", s.signedInWith(maxSheet+maxForm, s.takeIn))
	s.mountAssets(get, post)
	s.mountBench(get, post)
	s.mountSettings(get, post)
	e.RouteNotFound("/*", func(c echo.Context) error {
		if strings.HasPrefix(c.Request().URL.Path, "/api/") {
			return echo.ErrNotFound // the API answers in its own form
		}
		secure(c)
		if actor, err := s.who(c); err == nil {
			if r := (&request{Context: c, site: s, actor: actor, now: s.Now()}); r.readsAs() == nil {
				c.Set(signedInKey, r)
			}
		}
		return s.failed(c, models.Errorf(models.NotFound, "no page has the address %.80s", c.Request().URL.Path))
	})
	return func(w http.ResponseWriter, r *http.Request, err error) { s.fault(e.NewContext(r, w), err) }, nil
}

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

func (r *request) ctx() context.Context { return r.Request().Context() }

// may reports whether the person has a permission, to show or hide buttons;
// the use-cases decide.
func (r *request) may(p access.Permission) bool { return access.Can(r.actor.User.Role, p) }

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
		r := &request{Context: c, site: s, actor: actor, now: s.Now()}
		c.Set(signedInKey, r)
		if err := r.readsAs(); err != nil {
			return s.failed(c, err)
		}
		if err := h(r); err != nil {
			return s.failed(c, err)
		}
		return nil
	}
}
