package settings_test

import (
	"maps"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/units"
)

// A depot's own minimum is set on a page, and only if it asks for more than the
// law. 49 CFR 393.75(b) and (c): 4/32 in on the steering axle of a truck
// tractor, 2/32 in elsewhere.
func TestOwnMinimum(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	path := "/settings/depots/" + string(y.Depot.ID)

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

	p.Post(path, form).Wants(t, http.StatusUnprocessableEntity, "write a larger depth", "4/32", `value="rain"`)
	form.Set("own.0.min_depth", "deep")
	p.Post(path, form).Wants(t, http.StatusUnprocessableEntity, `value="deep"`, "deep")
	form.Set("own.0.min_depth", "6")
	p.Post(path, form).Wants(t, http.StatusSeeOther)
	p.Get(path).Wants(t, http.StatusOK, `value="6/32"`, `value="rain"`)

	d := modeltest.Must(y.Fleet.Depot(t.Context(), y.System, y.Depot.ID))(t)
	if len(d.OwnRules) != 1 || d.OwnRules[0].MinDepth.Value != 6*units.ThirtySecond ||
		d.OwnRules[0].Class != models.Tractor {
		t.Errorf("own rules %+v", d.OwnRules)
	}

	// One that tightens only some of its axles is no weaker one.
	every := maps.Clone(form)
	every.Set("version", "2")
	every.Set("own.1.min_depth", "3")
	p.Post(path, every).Wants(t, http.StatusSeeOther)
}

// A new password ends the person's sessions elsewhere, and keeps this one.
func TestNewPasswordEndsOtherSessions(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	here := y.SignedIn("mara@fleet.example")
	there := y.Stranger()
	there.Post("/sign-in", url.Values{"email": {"mara@fleet.example"}, "password": {webtest.Password}}).
		Wants(t, http.StatusSeeOther)
	there.Get("/due").Wants(t, http.StatusOK)
	a := here.Post(
		"/settings/password",
		url.Values{"old_password": {webtest.Password}, "password": {"another long word"}},
	)
	a.Wants(t, http.StatusSeeOther)
	here.Get(a.Location).Wants(t, http.StatusOK, "signed out everywhere else")
	there.Get("/due").Wants(t, http.StatusUnauthorized, "Sign in")

	// A manager who sets somebody's password ends that person's sessions.
	odd := y.SignedIn("odd@fleet.example")

	list := modeltest.Must(y.Fleet.Users(t.Context(), y.System))(t)
	for _, u := range list {
		if u.Email == "odd@fleet.example" {
			here.Post("/settings/people/"+string(u.ID)+"/password", url.Values{"password": {"a third long word"}}).
				Wants(t, http.StatusSeeOther)
		}
	}

	odd.Get("/due").Wants(t, http.StatusUnauthorized, "Sign in")
	here.Get("/due").Wants(t, http.StatusOK)
}

// "Send me one now" mails to the person, and says so if the mail server is away
// without telling its words.
func TestDigestToMe(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	p.Get("/digest").Wants(t, http.StatusOK, "Send me one now", "to mara@fleet.example only")
	ask := func(id string) url.Values { return url.Values{"id": {id}, "depot": {string(y.Depot.ID)}} }

	id := modeltest.NewID[string]()
	for n, want := range []string{"on its way to your own mail address", "mailed once only"} {
		a := p.Post("/digest", ask(id))
		a.Wants(t, http.StatusSeeOther)
		p.Get(a.Location).Wants(t, http.StatusOK, want)
		if got := webtest.MailsTo(y.User("mara@fleet.example")); got != 1 {
			t.Errorf("pressed %d times, %d mails went out, want 1", n+1, got)
		}
	}

	p.Post("/digest", ask(modeltest.NewID[string]())).Wants(t, http.StatusSeeOther)
	if got := webtest.MailsTo(y.User("mara@fleet.example")); got != 2 {
		t.Errorf("asked for anew, %d mails have gone out, want 2", got)
	}

	p.Post("/digest", ask("")).Wants(t, http.StatusUnprocessableEntity, "open the digest again")
	p.Post("/digest", url.Values{"id": {modeltest.NewID[string]()}, "depot": {modeltest.NewID[string]()}}).
		Wants(t, http.StatusNotFound)
	away := y.SignedIn("odd@fleet.example").Post("/digest", ask(modeltest.NewID[string]()))
	away.Wants(t, http.StatusServiceUnavailable, "did not take it")
	if strings.Contains(away.Body, "mail.internal") {
		t.Error("the page tells the mail server's words")
	}
}

func TestTwoEditOnePolicy(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	path := "/settings/depots/" + string(y.Depot.ID) + "/policy/tractor"
	p.Post(path, url.Values{"version": {"0"}, "InspectDays": {"20"}, "PullSteer": {"7"}}).Wants(t, http.StatusSeeOther)
	p.Get(path).Wants(t, http.StatusOK, `value="20"`, `value="7/32 in"`, `name="version" value="1"`)

	second := p.Post(path, url.Values{"version": {"0"}, "InspectDays": {"40"}})
	second.Wants(
		t,
		http.StatusConflict,
		`value="40"`,
		"saved meanwhile: 20",
		"saved meanwhile: 7/32 in",
		`name="version" value="1"`,
	)

	p.Post(path, url.Values{"version": {"1"}, "InspectDays": {"40"}}).Wants(t, http.StatusSeeOther)
	p.Post(path, url.Values{"version": {"2"}, "InspectDays": {"often"}}).
		Wants(t, http.StatusUnprocessableEntity, `value="often"`, "whole number")
	p.Post(path, url.Values{"version": {"2"}, "LowPercent": {"300"}}).
		Wants(t, http.StatusUnprocessableEntity, `value="300"`, "must be 0 (off) to 100")
}

func TestSettings(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")

	p.Post("/settings/units", url.Values{"depth": {"mm"}, "pressure": {"bar"}, "distance": {"km"}, "mass": {"g"}}).
		Wants(t, http.StatusSeeOther)
	p.Get("/vehicles/"+string(y.Vehicle.ID)+"/inspect").
		Wants(t, http.StatusOK, "<small>mm</small>", "Odometer, km", "bar, target 7.2 bar")
	p.Post("/settings/units", url.Values{"depth": {"mm"}}).Wants(t, http.StatusUnprocessableEntity, "must be depth")

	p.Post("/settings/tokens", url.Values{"name": {"telematics"}, "days": {"30"}}).
		Wants(t, http.StatusOK, "shown this once", "rl_", "telematics")
	p.Post("/settings/tokens", url.Values{"name": {""}, "days": {"9999"}}).
		Wants(t, http.StatusUnprocessableEntity, "say what the token is for", "within two years")
	p.Post("/settings/password", url.Values{"old_password": {"wrong"}, "password": {"another long word"}}).
		Wants(t, http.StatusUnprocessableEntity, "not your present password")
	p.Post("/settings/password", url.Values{"old_password": {webtest.Password}, "password": {"short"}}).
		Wants(t, http.StatusUnprocessableEntity, "10 to 200")

	lee := func(mail string) url.Values {
		return url.Values{"id": {modeltest.NewID[string]()}, "name": {"Lee Marsh"}, "email": {mail},
			"role": {"viewer"}, "password": {webtest.Password}}
	}
	p.Post("/settings/people/new", lee("not an address")).
		Wants(t, http.StatusUnprocessableEntity, "plain mail address", "Lee Marsh")
	p.Post("/settings/people/new", lee("lee@fleet.example")).
		Wants(t, http.StatusSeeOther)
	p.Get("/settings/people").Wants(t, http.StatusOK, "lee@fleet.example")

	depot := "/settings/depots/" + string(y.Depot.ID)
	p.Post(depot, url.Values{"version": {"1"}, "name": {"Alder Yard"}, "time_zone": {"Mars/Base"}}).
		Wants(t, http.StatusUnprocessableEntity, `value="Mars/Base"`, "IANA time zone")
	p.Get("/settings/audit").Wants(t, http.StatusOK, "Mara Quill", "person")
}
