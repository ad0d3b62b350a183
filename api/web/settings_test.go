package web_test

import (
	"maps"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"rimledger/models"
	"rimledger/models/units"
)

// A depot's own minimum is set on a page, and only if it asks for more than the
// law. 49 CFR 393.75(b) and (c): 4/32 in on the steering axle of a truck
// tractor, 2/32 in elsewhere.
func TestOwnMinimum(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	path := "/settings/depots/" + string(y.depot.ID)

	form := url.Values{
		"version":         {"1"},
		"name":            {"Alder Yard"},
		"time_zone":       {"America/Chicago"},
		"jurisdiction":    {"US"},
		"currency":        {"USD"},
		"depth":           {"32nd"},
		"pressure":        {"psi"},
		"distance":        {"mi"},
		"mass":            {"oz"},
		"own.0.min_depth": {"4"},
		"own.0.class":     {"tractor"},
		"own.0.role":      {"steer"},
		"own.0.reason":    {"rain"},
	}

	p.post(path, form).wants(t, http.StatusUnprocessableEntity, "write a larger depth", "4/32", `value="rain"`)
	form.Set("own.0.min_depth", "deep")
	p.post(path, form).wants(t, http.StatusUnprocessableEntity, `value="deep"`, "deep")
	form.Set("own.0.min_depth", "6")
	p.post(path, form).wants(t, http.StatusSeeOther)
	p.get(path).wants(t, http.StatusOK, `value="6/32"`, `value="rain"`)

	d := must(y.fleet.Depot(t.Context(), y.system, y.depot.ID))(t)
	if len(d.OwnRules) != 1 || d.OwnRules[0].MinDepth.Value != 6*units.ThirtySecond ||
		d.OwnRules[0].Class != models.Tractor {
		t.Errorf("own rules %+v", d.OwnRules)
	}

	// One that tightens only some of its axles is no weaker one.
	every := maps.Clone(form)
	every.Set("version", "2")
	every.Set("own.1.min_depth", "3")
	p.post(path, every).wants(t, http.StatusSeeOther)
}

// A new password ends the person's sessions elsewhere, and keeps this one.
func TestNewPasswordEndsOtherSessions(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	here := y.signedIn("mara@fleet.example")
	there := y.stranger()
	there.post("/sign-in", url.Values{"email": {"mara@fleet.example"}, "password": {password}}).
		wants(t, http.StatusSeeOther)
	there.get("/due").wants(t, http.StatusOK)
	a := here.post("/settings/password", url.Values{"old_password": {password}, "password": {"another long word"}})
	a.wants(t, http.StatusSeeOther)
	here.get(a.Location).wants(t, http.StatusOK, "signed out everywhere else")
	there.get("/due").wants(t, http.StatusUnauthorized, "Sign in")

	// A manager who sets somebody's password ends that person's sessions.
	odd := y.signedIn("odd@fleet.example")

	list := must(y.fleet.Users(t.Context(), y.system))(t)
	for _, u := range list {
		if u.Email == "odd@fleet.example" {
			here.post("/settings/people/"+string(u.ID)+"/password", url.Values{"password": {"a third long word"}}).
				wants(t, http.StatusSeeOther)
		}
	}

	odd.get("/due").wants(t, http.StatusUnauthorized, "Sign in")
	here.get("/due").wants(t, http.StatusOK)
}

// "Send me one now" mails to the person, and says so if the mail server is away
// without telling its words.
func TestDigestToMe(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	p.get("/digest").wants(t, http.StatusOK, "Send me one now", "to mara@fleet.example only")
	ask := func(id string) url.Values { return url.Values{"id": {id}, "depot": {string(y.depot.ID)}} }

	id := newID[string]()
	for n, want := range []string{"on its way to your own mail address", "mailed once only"} {
		a := p.post("/digest", ask(id))
		a.wants(t, http.StatusSeeOther)
		p.get(a.Location).wants(t, http.StatusOK, want)
		if got := mailsTo(y.user("mara@fleet.example")); got != 1 {
			t.Errorf("pressed %d times, %d mails went out, want 1", n+1, got)
		}
	}

	p.post("/digest", ask(newID[string]())).wants(t, http.StatusSeeOther)
	if got := mailsTo(y.user("mara@fleet.example")); got != 2 {
		t.Errorf("asked for anew, %d mails have gone out, want 2", got)
	}

	p.post("/digest", ask("")).wants(t, http.StatusUnprocessableEntity, "open the digest again")
	p.post("/digest", url.Values{"id": {newID[string]()}, "depot": {newID[string]()}}).wants(t, http.StatusNotFound)
	away := y.signedIn("odd@fleet.example").post("/digest", ask(newID[string]()))
	away.wants(t, http.StatusServiceUnavailable, "did not take it")
	if strings.Contains(away.Body, "mail.internal") {
		t.Error("the page tells the mail server's words")
	}
}

// user returns the id of a person.
func (y *testServer) user(email string) models.UserID {
	y.t.Helper()
	for _, u := range must(y.fleet.Users(y.t.Context(), y.system))(y.t) {
		if u.Email == email {
			return u.ID
		}
	}
	y.t.Fatalf("nobody has the address %s", email)
	return ""
}
