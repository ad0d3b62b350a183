package api

import (
	"crypto/rand"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"runtime/debug"
	"time"

	"github.com/labstack/echo/v4"

	"rimledger/api/problem"
	"rimledger/models"
)

// numbered gives each request a number, which a problem quotes and the log
// keeps, and logs how the request went. Neither query nor body is logged: they
// may contain secrets.
func (d Deps) numbered(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		id, began := rand.Text(), time.Now()
		ctx := problem.WithRequestID(r.Context(), id)
		w.Header().Set("X-Request-Id", id)
		seen := &watched{ResponseWriter: w, status: http.StatusOK}
		next.ServeHTTP(seen, r.WithContext(ctx))
		d.Log.InfoContext(ctx, "request", "request", id, "method", r.Method, "path", r.URL.Path, "status", seen.status,
			"bytes", seen.bytes, "took", time.Since(began))
	})
}

// watched notes what is answered.
type watched struct {
	http.ResponseWriter
	status int
	bytes  int
}

func (w *watched) WriteHeader(status int) {
	w.status = status
	w.ResponseWriter.WriteHeader(status)
}

func (w *watched) Write(b []byte) (int, error) {
	n, err := w.ResponseWriter.Write(b)
	w.bytes += n
	return n, err
}

// Unwrap lets http.ResponseController reach the connection.
func (w *watched) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// clientAddress returns what says from where a request came: the connection, or if
// that is from one of the proxies, the last address in X-Forwarded-For that is
// none of theirs. Whatever else is in that header anybody can have written.
func clientAddress(proxies []netip.Prefix) echo.IPExtractor {
	if len(proxies) == 0 {
		return echo.ExtractIPDirect()
	}

	trust := []echo.TrustOption{echo.TrustLoopback(false), echo.TrustLinkLocal(false), echo.TrustPrivateNet(false)}
	for _, p := range proxies {
		trust = append(trust, echo.TrustIPRange(&net.IPNet{
			IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())}))
	}
	return echo.ExtractIPFromXFFHeader(trust...)
}

// contentPolicy is the only one: it fits pages, their service worker and documents.
// Scripts, styles, data and pictures come from this host alone (blob: are pictures
// that a person has just taken); nothing runs or is styled inline, nobody frames it.
const contentPolicy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' blob:; " +
	"connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; frame-ancestors 'none'; " +
	"base-uri 'none'"

// headers sets what every answer carries: where its content may come from, and that
// no browser or proxy keeps it. A handler may allow its answer to be kept.
func headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", contentPolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// sameOrigin refuses writes that a browser sends from a page of another origin.
func sameOrigin(next http.Handler, failed func(http.ResponseWriter, *http.Request, error)) http.Handler {
	p := http.NewCrossOriginProtection()
	p.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		failed(
			w,
			r,
			models.Errorf(
				models.Forbidden,
				"this came from a page of another origin; send it from our own pages, or by a program with a token",
			),
		)
	}))
	return p.Handler(next)
}

// recovered turns a panic into an error, with the stack in the log.
func (d Deps) recovered(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) (err error) {
		defer func() {
			switch r := recover(); r {
			case nil:
			case http.ErrAbortHandler:
				panic(r)
			default:
				d.Log.ErrorContext(
					c.Request().Context(),
					"panic",
					"request",
					problem.RequestID(c.Request().Context()),
					"panic",
					r,
					"stack",
					string(debug.Stack()),
				)

				err = fmt.Errorf("panic: %v", r)
			}
		}()

		return next(c)
	}
}
