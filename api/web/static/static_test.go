package static

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"
)

// TestStaticVersions asks for files under their version, which a browser may keep
// for good, and under others, which send it on to what there is.
func TestStaticVersions(t *testing.T) {
	t.Parallel()
	e := echo.New()
	e.GET("/static/*", Answer)

	for _, tt := range []struct {
		path     string
		status   int
		kept     string
		location string
	}{
		{Asset("keep.js"), http.StatusOK, "immutable", ""},
		{"/static/0123456789abcdef/keep.js", http.StatusTemporaryRedirect, "no-store", Asset("keep.js")},
		{"/static/keep.js", http.StatusTemporaryRedirect, "no-store", Asset("keep.js")},
		{Asset("nothing.js"), http.StatusNotFound, "", ""},
		{Asset(""), http.StatusNotFound, "", ""},
		{Asset(".."), http.StatusNotFound, "", ""},
	} {
		w := httptest.NewRecorder()
		e.ServeHTTP(w, httptest.NewRequest(http.MethodGet, tt.path, nil))
		h := w.Header()
		if w.Code != tt.status || !strings.Contains(h.Get("Cache-Control"), tt.kept) ||
			h.Get("Location") != tt.location {
			t.Errorf("%s: status %d, headers %v", tt.path, w.Code, h)
		}
	}
}

// A browser runs a module only if it is sent as a script.
func TestModulesAreSentAsScripts(t *testing.T) {
	t.Parallel()
	e := echo.New()
	e.GET("/static/*", Answer)
	for _, name := range withImports("yard.js", "trend.js") {
		w := httptest.NewRecorder()
		e.ServeHTTP(w, httptest.NewRequest(http.MethodGet, Asset(name), nil))
		if kind := w.Header().Get("Content-Type"); !strings.HasPrefix(kind, "text/javascript") {
			t.Errorf("%s is sent as %q", name, kind)
		}
	}
}
