package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// A page about an error says what to do next and keeps the way around for a person who
// is signed in; it never shows words of the machine.
func TestErrorPagesSayWhatToDo(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	viewer, boss := y.signedIn("vic@fleet.example"), y.signedIn("mara@fleet.example")
	path := "/vehicles/" + string(y.vehicle.ID)
	used := url.Values{"id": {newID[string]()}, "depot": {string(y.depot.ID)}}
	boss.post("/digest", used)

	for _, c := range []struct {
		what   string
		a      answer
		status int
		says   []string
	}{
		{"an address of nothing", viewer.get("/nowhere"), http.StatusNotFound, []string{"There is nothing here", "Search for the vehicle or the tire"}},
		{"a role that may not", viewer.get("/settings/people"), http.StatusForbidden, []string{"Nothing was changed", "Ask a manager"}},
		{"an address that cannot be read", viewer.get("/tires?status=lost"), http.StatusUnprocessableEntity, []string{"put right what is named here"}},
		{"the same number for something else", y.signedIn("odd@fleet.example").post("/digest", used), http.StatusConflict, []string{"Nothing was recorded", "go back"}},
		{"more than is taken", boss.post(path+"/inspect", url.Values{"note": {strings.Repeat("x", 2<<20)}}), http.StatusRequestEntityTooLarge, []string{"at most 1 MB", "Nothing was recorded"}},
	} {
		c.a.wants(t, c.status, append(c.says, `<nav aria-label="Main">`, `href="/vehicles"`)...)
		for _, w := range faultsOf(t, c.a.Body) {
			t.Errorf("%s: %s", c.what, w)
		}
	}

	if err := y.store.Close(); err != nil {
		t.Fatal(err)
	}

	r := must(http.NewRequestWithContext(t.Context(), http.MethodGet, y.server.URL+"/", nil))(t)
	r.Header.Set("Accept", "text/html,*/*;q=0.8") // as browsers do
	broken := boss.do(r)
	if broken.Status < 500 {
		t.Errorf("with the record closed: status %d", broken.Status)
	}
	broken.wants(t, broken.Status, "Nothing was", "tell whoever runs this server")

	if _, main, _ := strings.Cut(broken.Body, "<main"); strings.Contains(main, "sql") ||
		strings.Contains(main, "closed") {
		t.Errorf("the page tells the machine's words:\n%s", main)
	}
}

// A page with nothing on it says why, and what to do.
func TestEmptyPagesSayWhatToDo(t *testing.T) {
	t.Parallel()
	y := newYard(t)

	boss := y.signedIn("mara@fleet.example")
	boss.post(
		"/settings/depots/new",
		url.Values{
			"id":           {newID[string]()},
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
	for _, d := range must(y.fleet.Depots(t.Context(), y.system))(t) {
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
		"/order?depot=" + depot:              "it takes tread readings",
		"/wheels?depot=" + depot:             "No wheels are recorded",
		"/?view=print&q=zz":                  "Print everything that is open",
		"/due/calendar?day=2020-01-01":       "tells what comes next",
		"/tires/" + string(y.tires["1L"].ID): "It is read when the vehicle that it is on is inspected",
	} {
		a := boss.get(path)
		a.wants(t, http.StatusOK, says)
	}
}
