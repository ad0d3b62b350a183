package webtest

import (
	"bytes"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strconv"
	"time"
)

// begin is when the clock of the tests starts, always: a Monday morning in
// Chicago, far from a change of the clocks.
var begin = time.Date(2026, time.June, 15, 15, 0, 0, 0, time.UTC)

var started = time.Now()

// Now is the time in tests, for servers and browsers alike. It starts at the same
// moment on every day and runs as fast as the real time, so that what is later is
// later in tests, too.
func Now() time.Time { return begin.Add(time.Since(started)) }

// clockScript sets the clock of a page or a worker to that of the tests.
func clockScript() string {
	return fmt.Sprintf(`{
		const real = Date, ahead = %d;
		globalThis.Date = class extends real {
			constructor(...at) { super(...(at.length ? at : [real.now() + ahead])); }
			static now() { return real.now() + ahead; }
		};
	}`, begin.Sub(started).Milliseconds())
}

// onClock serves h, whose worker goes by the clock of the tests. A browser sets
// that of its pages itself; it cannot for a worker.
func onClock(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/worker.js" {
			h.ServeHTTP(w, r)
			return
		}

		r = r.Clone(r.Context())
		r.Header.Del("Accept-Encoding")
		worker := httptest.NewRecorder()
		h.ServeHTTP(worker, r)
		if worker.Code == http.StatusOK {
			worker.Body = bytes.NewBufferString(worker.Body.String() + "\n" + clockScript() + "\n")
			worker.Header().Set("Content-Length", strconv.Itoa(worker.Body.Len()))
		}

		for name, values := range worker.Header() {
			w.Header()[name] = values
		}
		w.WriteHeader(worker.Code)
		_, _ = w.Write(worker.Body.Bytes())
	})
}
