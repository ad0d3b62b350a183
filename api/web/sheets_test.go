package web_test

import (
	"bytes"
	"encoding/csv"
	"html"
	"mime/multipart"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"rimledger/models"
)

// upload sends a form with a file.
func (p *person) upload(path, name string, content []byte, form url.Values) answer {
	p.y.t.Helper()
	var b bytes.Buffer

	w := multipart.NewWriter(&b)
	for k, v := range form {
		_ = w.WriteField(k, v[0])
	}

	if name != "" {
		f := must(w.CreateFormFile("sheet", name))(p.y.t)
		_, _ = f.Write(content)
	}

	_ = w.Close()
	r := must(http.NewRequestWithContext(p.y.t.Context(), http.MethodPost, p.y.server.URL+path, &b))(p.y.t)
	r.Header.Set("Content-Type", w.FormDataContentType())
	return p.do(r)
}

// Sheets go out as files that other programs read, and come in: tried first,
// then recorded, all rows or none.
func TestSheetsInAndOut(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	depot := string(y.depot.ID)
	p.get("/sheets").wants(t, http.StatusOK, "Export", "new_depths")

	for _, kind := range []string{"vehicles", "tires", "inspections", "findings"} {
		a := p.get("/sheets/file?as=csv&kind=" + kind + "&depot=" + depot)
		rows, err := csv.NewReader(strings.NewReader(a.Body)).ReadAll()
		if a.Status != http.StatusOK || err != nil ||
			!strings.Contains(a.Header.Get("Content-Disposition"), "Alder-Yard-"+kind) {
			t.Errorf("%s: %d, %v, %v", kind, a.Status, a.Header, err)
		}

		x := p.get("/sheets/file?as=xlsx&kind=" + kind + "&depot=" + depot)
		book, err := excelize.OpenReader(strings.NewReader(x.Body))
		if err != nil {
			t.Fatalf("%s is no workbook: %v", kind, err)
		}
		if cells := must(book.GetRows(kind))(t); len(cells) != len(rows) {
			t.Errorf("%s: %d rows in the workbook, %d in the CSV", kind, len(cells), len(rows))
		}
	}

	p.get("/sheets/file?as=pdf&kind=tires&depot="+depot).wants(t, http.StatusUnprocessableEntity, "csv or xlsx")
	p.get("/sheets/file?as=csv&kind=people&depot="+depot).wants(t, http.StatusUnprocessableEntity, "only of vehicles")

	good := []byte("number,class,axles\nX-1,bus,S2 D4\nX-2,bus,S2 D4\n")
	form := url.Values{"depot": {depot}, "kind": {"vehicles"}, "dry_run": {"1"}}
	p.upload("/sheets", "", nil, form).wants(t, http.StatusUnprocessableEntity, "choose a file")
	p.upload("/sheets", "bad.csv", []byte("number,class,axles\nX-1,bus,S2 D4\nX-2,bus,S9\n"), form).
		wants(t, http.StatusUnprocessableEntity, "line 3", "S9", "nothing was imported")
	tried := p.upload("/sheets", "buses.csv", good, form)
	tried.wants(t, http.StatusOK, "nothing is recorded yet", "2 would be recorded")

	has := func() int {
		list, _, err := y.fleet.Vehicles(
			t.Context(),
			y.system,
			models.VehicleFilter{Class: models.Bus},
			models.Page{Limit: 9},
		)
		return len(must(list, err)(t))
	}

	if n := has(); n != 0 {
		t.Errorf("a dry run recorded %d vehicles", n)
	}

	carried := regexp.MustCompile(`name="carried" value="([^"]*)"`).FindStringSubmatch(tried.Body)
	if carried == nil {
		t.Fatal("the sheet is not handed back for recording")
	}

	form = url.Values{
		"depot":   {depot},
		"kind":    {"vehicles"},
		"name":    {"buses.csv"},
		"carried": {html.UnescapeString(carried[1])},
	}

	p.upload("/sheets", "", nil, form).wants(t, http.StatusOK, "Recorded", "2 were recorded")
	p.upload("/sheets", "", nil, form).wants(t, http.StatusOK, "0 were recorded, 2 were there already")
	if n := has(); n != 2 {
		t.Errorf("%d buses, want 2", n)
	}

	tech := y.signedIn("odd@fleet.example")
	tech.upload("/sheets", "buses.csv", good, url.Values{"depot": {depot}, "kind": {"vehicles"}}).
		wants(t, http.StatusForbidden, "ask a manager")
}
