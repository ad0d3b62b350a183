package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"rimledger/api/web/webtest"
	"rimledger/models/modeltest"
)

// A page about an error says what to do next and keeps the way around for a person who
// is signed in; it never shows words of the machine.
func TestErrorPagesSayWhatToDo(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	viewer, boss := y.SignedIn("vic@fleet.example"), y.SignedIn("mara@fleet.example")
	path := "/vehicles/" + string(y.Vehicle.ID)
	used := url.Values{"id": {modeltest.NewID[string]()}, "depot": {string(y.Depot.ID)}}
	boss.Post("/digest", used)

	for _, c := range []struct {
		what   string
		a      webtest.Answer
		status int
		says   []string
	}{
		{"an address of nothing", viewer.Get("/nowhere"), http.StatusNotFound, []string{"There is nothing here", "Search for the vehicle or the tire"}},
		{"a role that may not", viewer.Get("/settings/people"), http.StatusForbidden, []string{"Nothing was changed", "Ask a manager"}},
		{"an address that cannot be read", viewer.Get("/tires?status=lost"), http.StatusUnprocessableEntity, []string{"put right what is named here"}},
		{"the same number for something else", y.SignedIn("odd@fleet.example").Post("/digest", used), http.StatusConflict, []string{"Nothing was recorded", "go back"}},
		{"more than is taken", boss.Post(path+"/inspect", url.Values{"note": {strings.Repeat("x", 2<<20)}}), http.StatusRequestEntityTooLarge, []string{"at most 1 MB", "Nothing was recorded"}},
	} {
		c.a.Wants(t, c.status, append(c.says, `<nav aria-label="Main">`, `href="/vehicles"`)...)
		for _, w := range webtest.FaultsOf(t, c.a.Body) {
			t.Errorf("%s: %s", c.what, w)
		}
	}

	if err := y.Store.Close(); err != nil {
		t.Fatal(err)
	}

	r := modeltest.Must(http.NewRequestWithContext(t.Context(), http.MethodGet, y.Server.URL+"/", nil))(t)
	r.Header.Set("Accept", "text/html,*/*;q=0.8") // as browsers do
	broken := boss.Do(r)
	if broken.Status < 500 {
		t.Errorf("with the record closed: status %d", broken.Status)
	}
	broken.Wants(t, broken.Status, "Nothing was", "tell whoever runs this server")

	if _, main, _ := strings.Cut(broken.Body, "<main"); strings.Contains(main, "sql") ||
		strings.Contains(main, "closed") {
		t.Errorf("the page tells the machine's words:\n%s", main)
	}
}

// A page with nothing on it says why, and what to do.
func TestEmptyPagesSayWhatToDo(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)

	boss := y.SignedIn("mara@fleet.example")
	boss.Post(
		"/settings/depots/new",
		url.Values{
			"id":           {modeltest.NewID[string]()},
			"name":         {"Empty Yard"},
			"time_zone":    {"America/Chicago"},
			"jurisdiction": {"US"},
			"currency":     {"USD"},
			"depth":        {"32nd"},
			"pressure":     {"psi"},
			"distance":     {"mi"},
			"mass":         {"oz"},
		},
	)

	depot := ""
	for _, d := range modeltest.Must(y.Fleet.Depots(t.Context(), y.System))(t) {
		if d.Name == "Empty Yard" {
			depot = string(d.ID)
		}
	}

	for path, says := range map[string]string{
		"/?q=zz":                             "Nothing matches this filter",
		"/?sort=pull":                        "No date to a pull point is known",
		"/vehicles?q=zz":                     "All vehicles",
		"/tires?q=zz":                        "All tires",
		"/due?depot=" + depot:                "looks further ahead",
		"/changed?depot=" + depot:            "A finding closes by itself",
		"/labels?depot=" + depot:             "no vehicle yet",
		"/order?depot=" + depot:              "this needs tread readings",
		"/wheels?depot=" + depot:             "No wheels are recorded",
		"/?view=print&q=zz":                  "Print everything that is open",
		"/due/calendar?day=2020-01-01":       "tells what comes next",
		"/tires/" + string(y.Tires["1L"].ID): "It is read when the vehicle that it is on is inspected",
	} {
		a := boss.Get(path)
		a.Wants(t, http.StatusOK, says)
	}
}
