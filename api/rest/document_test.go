package rest_test

import (
	"bytes"
	"errors"
	"flag"
	"io"
	"net/http"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"
)

const keptDocument = "../../testdata/openapi.json"

var update = flag.Bool("update", false, "rewrite the kept OpenAPI document")

// document reads the kept document with a library that checks answers against it.
var document = sync.OnceValues(func() (validator.Validator, error) {
	b, err := os.ReadFile(keptDocument)
	if err != nil {
		return nil, err
	}
	d, err := libopenapi.NewDocument(b)
	if err != nil {
		return nil, err
	}
	v, errs := validator.NewValidator(d)
	return v, errors.Join(errs...)
})

// conforms checks an answer against the kept document.
func (c *client) conforms(req *http.Request, res *http.Response, body []byte) {
	c.t.Helper()
	if *update || res.StatusCode == http.StatusMethodNotAllowed || strings.Contains(string(body), "there is nothing "+
		"at this address") ||
		!strings.HasSuffix(res.Header.Get("Content-Type"), "json") ||
		strings.HasSuffix(req.URL.Path, "openapi.json") {
		return
	}

	v, err := document()
	if err != nil {
		c.t.Fatal(err)
	}

	res.Body = io.NopCloser(bytes.NewReader(body))
	if ok, faults := v.ValidateHttpResponse(req, res); !ok {
		for _, f := range faults {
			c.t.Errorf(
				"%s %s answers against its document: %s: %s %v",
				req.Method,
				req.URL.Path,
				f.Message,
				f.Reason,
				f.SchemaValidationErrors,
			)
		}
	}
}

func TestDocument(t *testing.T) {
	t.Parallel()
	c := serve(t)
	c.secret = "" // anybody may read it
	a := c.do("GET", "/openapi.json", nil).want(200)
	if a.at("openapi") != "3.1.0" {
		t.Errorf("OpenAPI version %s", a.at("openapi"))
	}

	if *update {
		if err := os.WriteFile(keptDocument, a.raw, 0o644); err != nil {
			t.Fatal(err)
		}
	}

	want, err := os.ReadFile(keptDocument)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.raw, bytes.ReplaceAll(want, []byte("\r\n"), []byte("\n"))) {
		t.Error("the document differs from the kept one; run this test with -update and look at what changed")
	}
	if y := c.do("GET", "/openapi.yaml", nil).want(200); !strings.Contains(string(y.raw), "openapi: 3.1.0") {
		t.Errorf("YAML: %.200s", y.raw)
	}
}

// TestReferencePage checks that the page needs nothing from another host and
// leads to every operation.
func TestReferencePage(t *testing.T) {
	t.Parallel()
	c := serve(t)
	c.secret = ""

	page := string(c.do("GET", "/docs", nil).want(200).raw)
	for _, link := range regexp.MustCompile(`(?:src|href)="([^"]*)"`).FindAllStringSubmatch(page, -1) {
		if !strings.HasPrefix(link[1], "#") && !strings.HasPrefix(link[1], "/api/v1/") {
			t.Errorf("link to %s", link[1])
		}
		if id, ok := strings.CutPrefix(link[1], "#"); ok && !strings.Contains(page, `id="`+id+`"`) {
			t.Errorf("link to #%s, which is not there", id)
		}
	}

	if strings.Contains(page, "<script") || strings.Contains(page, "style=") {
		t.Error("scripts or inline styles")
	}

	for _, want := range []string{"POST /api/v1/inspections", "GET /api/v1/attention", "PUT /api/v1/vehicles/{id}"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %s", want)
		}
	}

	css := c.do("GET", "/docs.css", nil).want(http.StatusOK)
	if strings.Contains(string(css.raw), "url(") {
		t.Error("the style loads something")
	}
}
