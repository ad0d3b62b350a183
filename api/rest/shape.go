package rest

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"rimledger/api/problem"
	"rimledger/models"
)

// checkShape refuses what no operation takes: bodies above maxBody (maxSheet for a
// sheet), bodies that the server's read timeout ends, and NUL characters in
// JSON, which not every database can keep. It reads every body whole, since
// no read timeout applies once an operation runs; see register.
func checkShape(c echo.Context) error {
	r := c.Request()
	if strings.IndexByte(r.URL.Path, 0) >= 0 || strings.Contains(r.URL.RawQuery, "%00") {
		return nulError("address")
	}
	if r.Body == nil || r.Body == http.NoBody {
		return nil
	}

	isSheet := takesSheet(r)

	most := int64(maxBody)
	if isSheet {
		most = maxSheet
	}
	body, err := readBody(c, most)
	if err != nil {
		return err
	}

	r.Body = io.NopCloser(bytes.NewReader(body))

	if isSheet { // the reader of sheets has its own rules for text
		return nil
	}

	if bytes.IndexByte(body, 0) >= 0 || bytes.Contains(body, []byte(`\u0000`)) {
		if where, found := findNUL(body); found {
			return nulError(where)
		}
	}

	return nil
}

// readBody returns the whole body of a request, of at most so many bytes.
func readBody(c echo.Context, most int64) ([]byte, error) {
	body, err := io.ReadAll(http.MaxBytesReader(c.Response(), c.Request().Body, most))

	var tooBig *http.MaxBytesError
	switch {
	case errors.Is(err, os.ErrDeadlineExceeded):
		err = problem.WithStatus(http.StatusRequestTimeout, models.Invalid,
			"the body did not arrive in time and nothing was recorded; send the same again")
	case err != nil && !errors.As(err, &tooBig):
		err = problem.WithStatus(http.StatusBadRequest, models.Invalid,
			"the body was cut off on the way and nothing was recorded; send the same again")
	}
	return body, err
}

func nulError(where string) error {
	return problem.New(models.Invalid, "NUL characters are not text",
		problem.Field{Field: where, Remedy: "must not contain NUL characters"})
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
