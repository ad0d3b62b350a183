// Package web puts the pages that people use under their addresses. It only
// mounts the rooms; what they share lies below them:
//
//	say     words: names, dates, descriptions of events; plain values, no request
//	form    a form as it was sent, its fields as they are shown, its faults
//	draw    drawings and forecasts of one tire's tread
//	static  scripts, styles and pictures as they are served
//	site    who asks, the frame around every page, sessions, lists, refusals
//
// A room is a package with its handlers, its page structs and its templates:
// yard (inspections on a phone, labels), work (forms for what was done to a
// vehicle), bench (balancing), desk (attention, due, digest, help), record
// (vehicles, tires and wheels with their history), settings, sheets (import and
// export). No room imports another one.
//
// Cut on 2026-11-30, when the pages were one package of 14,000 lines. Vehicles,
// tires and wheels are a room apart from the desk, since the two together were
// close to 4,000 lines and share no page struct; sheets are one since they are
// the only pages that import reports/sheet. Scripts stay in one folder: modules
// import each other by relative names, on the disk as in the browser.
//
// Pages are rendered on the server from embedded templates, work without a
// script, and load nothing from another host. They shape input and output only:
// what is allowed and believed is decided by package fleet, and every number
// that is computed comes from the packages under models.
package web

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"rimledger/api/web/bench"
	"rimledger/api/web/desk"
	"rimledger/api/web/record"
	"rimledger/api/web/settings"
	"rimledger/api/web/sheets"
	"rimledger/api/web/site"
	"rimledger/api/web/static"
	"rimledger/api/web/work"
	"rimledger/api/web/yard"
)

// Deps is what the pages need, and Mail how they are given a digest.
type (
	Deps = site.Deps
	Mail = site.Mail
)

// Mount adds the pages to e. failed answers with a page about what went wrong outside
// of any page. It fails only if an embedded template is broken.
func Mount(e *echo.Echo, d Deps) (failed func(http.ResponseWriter, *http.Request, error), err error) {
	s, err := site.New(e, d, static.Funcs)
	if err != nil {
		return nil, err
	}

	e.GET("/static/*", static.Answer)
	e.GET("/worker.js", static.Worker)
	e.GET("/app.webmanifest", static.Manifest)

	rooms := []func(*site.Site) error{
		yard.Mount, work.Mount, bench.Mount, desk.Mount, record.Mount, settings.Mount, sheets.Mount,
	}

	for _, mount := range rooms {
		if err := mount(s); err != nil {
			return nil, err
		}
	}

	return func(w http.ResponseWriter, r *http.Request, err error) { s.Fault(e.NewContext(r, w), err) }, nil
}

// WantsPage reports whether r comes from a person's browser that goes to a page.
func WantsPage(r *http.Request) bool {
	return !strings.HasPrefix(r.URL.Path, "/api/") && strings.Contains(r.Header.Get("Accept"), "text/html")
}
