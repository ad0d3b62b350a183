package sheets_test

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

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
)

// upload sends a form with a file.
func upload(p *webtest.Person, path, name string, content []byte, form url.Values) webtest.Answer {
	p.World.T.Helper()
	var b bytes.Buffer

	w := multipart.NewWriter(&b)
	for k, v := range form {
		_ = w.WriteField(k, v[0])
	}

	if name != "" {
		f := modeltest.Must(w.CreateFormFile("sheet", name))(p.World.T)
		_, _ = f.Write(content)
	}

	_ = w.Close()
	r := modeltest.Must(
		http.NewRequestWithContext(p.World.T.Context(), http.MethodPost, p.World.Server.URL+path, &b),
	)(
		p.World.T,
	)
	r.Header.Set("Content-Type", w.FormDataContentType())
	return p.Do(r)
}

// Sheets go out as files that other programs read, and come in: tried first,
// then recorded, all rows or none.
func TestSheetsInAndOut(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	depot := string(y.Depot.ID)
	p.Get("/sheets").Wants(t, http.StatusOK, "Export", "new_depths")

	for _, kind := range []string{"vehicles", "tires", "inspections", "findings"} {
		a := p.Get("/sheets/file?as=csv&kind=" + kind + "&depot=" + depot)
		rows, err := csv.NewReader(strings.NewReader(a.Body)).ReadAll()
		if a.Status != http.StatusOK || err != nil ||
			!strings.Contains(a.Header.Get("Content-Disposition"), "Alder-Yard-"+kind) {
			t.Errorf("%s: %d, %v, %v", kind, a.Status, a.Header, err)
		}

		x := p.Get("/sheets/file?as=xlsx&kind=" + kind + "&depot=" + depot)
		book, err := excelize.OpenReader(strings.NewReader(x.Body))
		if err != nil {
			t.Fatalf("%s is no workbook: %v", kind, err)
		}
		if cells := modeltest.Must(book.GetRows(kind))(t); len(cells) != len(rows) {
			t.Errorf("%s: %d rows in the workbook, %d in the CSV", kind, len(cells), len(rows))
		}
	}

	p.Get("/sheets/file?as=pdf&kind=tires&depot="+depot).Wants(t, http.StatusUnprocessableEntity, "csv or xlsx")
	p.Get("/sheets/file?as=csv&kind=people&depot="+depot).Wants(t, http.StatusUnprocessableEntity, "only of vehicles")

	good := []byte("number,class,axles\nX-1,bus,S2 D4\nX-2,bus,S2 D4\n")
	form := url.Values{"depot": {depot}, "kind": {"vehicles"}, "dry_run": {"1"}}
	upload(p, "/sheets", "", nil, form).Wants(t, http.StatusUnprocessableEntity, "choose a file")
	upload(p, "/sheets", "bad.csv", []byte("number,class,axles\nX-1,bus,S2 D4\nX-2,bus,S9\n"), form).
		Wants(t, http.StatusUnprocessableEntity, "line 3", "S9", "nothing was imported")
	tried := upload(p, "/sheets", "buses.csv", good, form)
	tried.Wants(t, http.StatusOK, "nothing is recorded yet", "2 would be recorded")

	has := func() int {
		list, _, err := y.Fleet.Vehicles(
			t.Context(),
			y.System,
			models.VehicleFilter{Class: models.Bus},
			models.Page{Limit: 9},
		)
		return len(modeltest.Must(list, err)(t))
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

	upload(p, "/sheets", "", nil, form).Wants(t, http.StatusOK, "Recorded", "2 were recorded")
	upload(p, "/sheets", "", nil, form).Wants(t, http.StatusOK, "0 were recorded, 2 were there already")
	if n := has(); n != 2 {
		t.Errorf("%d buses, want 2", n)
	}

	tech := y.SignedIn("odd@fleet.example")
	upload(tech, "/sheets", "buses.csv", good, url.Values{"depot": {depot}, "kind": {"vehicles"}}).
		Wants(t, http.StatusForbidden, "ask a manager")
}
