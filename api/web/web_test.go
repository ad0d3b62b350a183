package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"rimledger/api/web/webtest"
	"rimledger/models/modeltest"
)

func TestEveryPage(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	tech := y.SignedIn("odd@fleet.example")
	v := "/vehicles/" + string(y.Vehicle.ID)
	if a := tech.Post(v+"/inspect", y.Inspection("9")); a.Status != http.StatusSeeOther {
		a.Wants(t, http.StatusSeeOther)
	}

	paths := map[string]string{
		"/": "Attention list", "/vehicles": "T-101", "/vehicles?q=a1l": "T-101", "/vehicles?q=zz": "No vehicle matches", v: "front at the top", v + "?kind=fit": "Tires fitted",
		v + "/inspect": "Record the inspection", v + "/inspect?stations=3": "at 120°", v + "/inspect?stations=8": "at 45°",
		"/tires": "A1L", "/tires?q=tyre+A1L": "A1L", "/tires/" + string(y.Tires["1L"].ID): "Where it has been", "/due": "Due list", "/digest": "Nothing is off the road.",
		"/settings": "API tokens", "/settings/people": "odd@fleet.example", "/settings/people/new": "New person", "/settings/rules": "393.75",
		"/settings/audit": "Audit trail", "/settings/depots/new": "New depot", "/settings/depots/" + string(y.Depot.ID): "America/Chicago",
		"/settings/depots/" + string(y.Depot.ID) + "/policy/tractor": "Pull point, steer axle", "/help": "cupping", "/?depot=" + string(y.Depot.ID) + "&urgency=plan&class=bus": "Nothing matches",
	}

	for _, kind := range []string{"fit", "remove", "rotate", "repair", "alignment", "retorque", "service", "odometer", "vibration", "clearance", "wheel-check", "withdraw"} {
		paths[v+"/do/"+kind] = "When and who"
	}

	inline := regexp.MustCompile(`\s(style|on[a-z]+)="|<style|<script>|https?://`)
	for path, text := range paths {
		a := p.Get(path)
		a.Wants(t, http.StatusOK, text, "</html>")
		if bad := inline.FindString(a.Body); bad != "" {
			t.Errorf("%s holds %q, which the content security policy forbids or which leaves the host", path, bad)
		}
		if csp := a.Header.Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'none'") ||
			strings.Contains(csp, "unsafe") {
			t.Errorf("%s: content security policy %q", path, csp)
		}

		for _, w := range webtest.FaultsOf(t, a.Body) {
			t.Errorf("%s: %s", path, w)
		}

		if strings.Contains(a.Body, "ZgotmplZ") {
			t.Errorf("%s holds a value that the template refused", path)
		}
	}

	p.Get("/digest?as=html").Wants(t, http.StatusOK, "<p style")
}

func TestMissingAndForbidden(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)

	viewer := y.SignedIn("vic@fleet.example")
	for _, path := range []string{"/vehicles/" + modeltest.NewID[string](), "/vehicles/none", "/tires/" + modeltest.NewID[string](), "/findings/" + modeltest.NewID[string](), "/vehicles/" + string(y.Vehicle.ID) + "/do/nothing",
		"/settings/depots/" + modeltest.NewID[string](), "/settings/depots/" + string(y.Depot.ID) + "/policy/sled"} {
		viewer.Get(path).Wants(t, http.StatusNotFound, "There is nothing here")
	}

	viewer.Get("/nowhere").Wants(t, http.StatusNotFound, "There is nothing here")
	viewer.Get("/settings/people").Wants(t, http.StatusForbidden, "Ask a manager")
	viewer.Get("/settings/audit").Wants(t, http.StatusForbidden, "Ask a manager")
	viewer.Post("/vehicles/"+string(y.Vehicle.ID)+"/inspect", y.Inspection("9")).Wants(t, http.StatusForbidden, "role")

	big := url.Values{"note": {strings.Repeat("x", 2<<20)}}
	y.SignedIn("odd@fleet.example").
		Post("/vehicles/"+string(y.Vehicle.ID)+"/inspect", big).
		Wants(t, http.StatusRequestEntityTooLarge, "at most 1 MB", "send less at a time")
}
