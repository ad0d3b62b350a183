// Package api puts the HTTP server together: what every request passes
// through, the pages, the REST API, the health check and the metrics. It
// decides nothing about the record; timeouts of connections belong to whoever
// listens.
//
// # Answers are compressed in one place (2026-11-26)
//
// Choice: the middleware compressed, for every handler but the metrics. Rejected:
// handlers that compress by themselves, whose answers are then packed twice: a phone
// could not read its list of vehicles.
package api

import (
	"compress/gzip"
	"context"
	"log/slog"
	"net/http"
	"net/netip"
	"strings"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"

	"rimledger/api/auth"
	"rimledger/api/calc"
	"rimledger/api/problem"
	"rimledger/api/rest"
	"rimledger/api/web"
	"rimledger/models"
	"rimledger/models/fleet"
)

// Mail is a mail with the same content as text and as HTML.
type Mail = web.Mail

// Deps is what the server needs.
type Deps struct {
	Fleet       *fleet.Service
	Sessions    scs.CtxStore
	Log         *slog.Logger                // nil: nothing is logged
	Version     string                      // of the program
	PublicURL   string                      // what labels lead to, if it was set; empty: as each request was sent
	BaseURL     string                      // under which people reach the pages; https makes the cookie secure
	FirstKey    string                      // admits the first person; empty if there are people already
	Proxies     []netip.Prefix              // networks whose word is taken for where a request came from
	Now         func() time.Time            // nil: time.Now
	Calculators []calc.Calculator           // computations to ask for by themselves
	Ping        func(context.Context) error // whether the store can be reached; nil: not asked
	// DigestPreview writes the digest of a depot as it would be mailed now.
	DigestPreview func(ctx context.Context, a fleet.Actor, depot models.DepotID) (Mail, error)
	// DigestToMe mails that to the person; nil where no mail can be sent.
	DigestToMe func(ctx context.Context, a fleet.Actor, depot models.DepotID) error
	// DigestNext is when a depot's digest is due next after an instant, false where none is.
	DigestNext func(d models.Depot, after time.Time) (time.Time, bool)
}

// New returns the server.
func New(d Deps) (http.Handler, error) {
	if d.Log == nil {
		d.Log = slog.New(slog.DiscardHandler)
	}
	if d.Now == nil {
		d.Now = time.Now
	}

	signIn := auth.New(
		auth.Options{
			Fleet:    d.Fleet,
			Store:    d.Sessions,
			Secure:   strings.HasPrefix(d.BaseURL, "https://"),
			FirstKey: d.FirstKey,
			Now:      d.Now,
		},
	)

	e := echo.New()
	e.HideBanner, e.HidePort = true, true

	// Who slows down guessing must know where a request really came from.
	e.IPExtractor = clientAddress(d.Proxies)
	meter := newMeter()
	e.Use(meter.count, compressed, d.recovered)
	e.GET("/healthz", d.health)
	e.GET("/metrics", echo.WrapHandler(meter.handler))

	err := rest.Mount(e, rest.Deps{
		Fleet:       d.Fleet,
		Auth:        signIn,
		Log:         d.Log,
		Now:         d.Now,
		Version:     d.Version,
		Calculators: d.Calculators,
	})
	if err != nil {
		return nil, err
	}

	page, err := web.Mount(
		e,
		web.Deps{
			Fleet:         d.Fleet,
			Auth:          signIn,
			Now:           d.Now,
			Version:       d.Version,
			PublicURL:     d.PublicURL,
			Log:           d.Log,
			DigestPreview: d.DigestPreview,
			DigestToMe:    d.DigestToMe,
			DigestNext:    d.DigestNext,
		},
	)
	if err != nil {
		return nil, err
	}

	// The browser gets a page, a program gets a problem document.
	failed := func(w http.ResponseWriter, r *http.Request, err error) {
		if web.WantsPage(r) {
			page(w, r, err)
		} else {
			problem.Write(w, r, d.Log, err)
		}
	}

	e.HTTPErrorHandler = func(err error, c echo.Context) {
		if !c.Response().Committed {
			failed(c.Response(), c.Request(), err)
		}
	}

	// From the outside in: the number of the request, headers, origin, session, routes.
	return d.numbered(headers(sameOrigin(signIn.Sessions(e, failed), failed))), nil
}

// compressed sends answers of more than 4 kB, which one round trip no longer
// brings, as gzip to clients that accept it. The metrics handler compresses by itself.
var compressed = middleware.GzipWithConfig(
	middleware.GzipConfig{
		MinLength: 4096,
		Level:     gzip.BestSpeed,
		Skipper:   func(c echo.Context) bool { return c.Path() == "/metrics" },
	},
)

// health answers whether the store can be reached.
func (d Deps) health(c echo.Context) error {
	if d.Ping != nil {
		ctx, cancel := context.WithTimeout(c.Request().Context(), 5*time.Second)
		defer cancel()
		if err := d.Ping(ctx); err != nil {
			return &models.Error{Kind: models.Unavailable, Msg: "store", Err: err}
		}
	}
	return c.JSON(http.StatusOK, map[string]string{"status": "ok"})
}
