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
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/labstack/echo/v4"

	"rimledger/api/auth"
	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/fleet"
	"rimledger/models/notation"
	"rimledger/models/units"
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
	e.GET("/static/:name", static)
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

// units returns the style in which the person reads and writes at depot d, or
// across depots if d is none.
func (r *request) units(d models.Depot) units.Style {
	if d.ID == "" && len(r.depots) > 0 {
		d = r.depots[0]
	}
	return r.actor.Style(d)
}

// unitless is the person's notation, for a form that says its own units.
func (r *request) unitless() units.Style { return units.Style{Notation: r.actor.Notation} }

// clock is the time of a depot as a person reads it.
type clock struct {
	*time.Location
	units.Style
}

// clock returns the time of depot d, or of the first one if d is none.
func (r *request) clock(d models.Depot) clock {
	if d.ID == "" && len(r.depots) > 0 {
		d = r.depots[0]
	}
	return clock{zone(d), r.units(d)}
}

func (z clock) date(t time.Time) string { return z.WriteDate(t.In(z.Location)) }

func (z clock) moment(t time.Time) string { return z.WriteMoment(t.In(z.Location)) }

// weekday writes a civil date such as 2026-12-03 with its day of the week.
func (z clock) weekday(civil string) string {
	t, err := time.Parse(time.DateOnly, civil)
	if err != nil {
		return civil
	}
	return z.WriteWeekday(t)
}

// readsAs finds out which depots the person sees and how the person reads.
func (r *request) readsAs() error {
	var err error
	if r.depots, err = r.site.Fleet.Depots(r.ctx(), r.actor); err != nil {
		return err
	}
	r.actor = r.actor.Knowing(r.depots)
	r.actor.Notation = notationOf(r)
	return nil
}

// notationOf returns how a person's country writes: as the person chose, else as
// the browser asks, else as is usual where the first depot is.
func notationOf(r *request) units.Notation {
	n, ok := notation.For(r.actor.User.Notation)
	if !ok {
		n = notation.Accepted(r.Request().Header.Get("Accept-Language"))
	}
	if n == nil && len(r.depots) > 0 {
		n = notation.OfPlace(r.depots[0].Jurisdiction)
	}
	if n == nil {
		return nil
	}
	return unbroken{n}
}

// notationTag names the notation for scripts; empty: that of machines.
func (r *request) notationTag() string {
	if n := r.actor.Notation; n != nil {
		return n.Tag()
	}
	return ""
}

// reads tells apart the ways in which the person's numbers are written: a phone
// that keeps some fetches them anew when it changes.
func (r *request) reads() string {
	parts := []string{r.notationTag()}
	for _, d := range r.depots {
		u := r.units(d)
		if set := fmt.Sprintf("%s %s %s", u.Depth, u.Pressure, u.Distance); set != parts[len(parts)-1] {
			parts = append(parts, set)
		}
	}
	return strings.Join(parts, ", ")
}

// unbroken writes dates that do not break at the end of a line.
type unbroken struct{ units.Notation }

var noBreak = strings.NewReplacer(" ", "\u00a0")

func (n unbroken) Date(t time.Time) string    { return noBreak.Replace(n.Notation.Date(t)) }
func (n unbroken) Weekday(t time.Time) string { return noBreak.Replace(n.Notation.Weekday(t)) }
func (n unbroken) Time(t time.Time) string    { return noBreak.Replace(n.Notation.Time(t)) }

// zone returns the time zone of depot d, UTC if it has none that is known here.
func zone(d models.Depot) *time.Location {
	if z, known := zones.Load(d.TimeZone); known {
		return z.(*time.Location)
	}
	z, err := time.LoadLocation(d.TimeZone)
	if err != nil {
		return time.UTC
	}
	zones.Store(d.TimeZone, z)
	return z
}

// zones are the clocks that were asked for, by name: reading one from the disk
// takes longer than a line of a list.
var zones sync.Map // string to *time.Location

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
