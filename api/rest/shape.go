package rest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"rimledger/api/problem"
	"rimledger/models"
)

// shape refuses what no operation takes: bodies above maxBody, and NUL
// characters, which not every database can keep.
func shape(c echo.Context) error {
	r := c.Request()
	if strings.IndexByte(r.URL.Path, 0) >= 0 || strings.Contains(r.URL.RawQuery, "%00") {
		return nul("address")
	}
	if r.Body == nil || r.Body == http.NoBody {
		return nil
	}
	if takesSheet(r) { // it is read by its own rules
		r.Body = http.MaxBytesReader(c.Response(), r.Body, maxSheet)
		return nil
	}
	body, err := io.ReadAll(http.MaxBytesReader(c.Response(), r.Body, maxBody))
	if err != nil {
		return err
	}
	if bytes.IndexByte(body, 0) >= 0 || bytes.Contains(body, []byte(`\u0000`)) {
		if where, found := findNUL(body); found {
			return nul(where)
		}
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	return nil
}

func nul(where string) error {
	return problem.New(models.Invalid, "NUL characters are not text", problem.Field{Field: where, Remedy: "must not contain NUL characters"})
}

// findNUL returns the place of the first text with a NUL character in a JSON
// body. A body that is not JSON but contains one is refused as a whole.
func findNUL(body []byte) (where string, found bool) {
	var v any
	if err := json.Unmarshal(body, &v); err != nil {
		return "body", bytes.IndexByte(body, 0) >= 0
	}
	return nulIn(v, "")
}

func nulIn(v any, at string) (string, bool) {
	switch v := v.(type) {
	case string:
		return at, strings.ContainsRune(v, 0)
	case []any:
		for i, item := range v {
			if where, found := nulIn(item, fmt.Sprintf("%s[%d]", at, i)); found {
				return where, true
			}
		}
	case map[string]any:
		names := make([]string, 0, len(v))
		for name := range v {
			names = append(names, name)
		}
		slices.Sort(names)
		for _, name := range names {
			if strings.ContainsRune(name, 0) {
				return at, true
			}
			if where, found := nulIn(v[name], strings.TrimPrefix(at+"."+name, ".")); found {
				return where, true
			}
		}
	}
	return "", false
}
