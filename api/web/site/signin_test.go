package site_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"rimledger/api/web/webtest"
)

func TestStrangerIsAskedToSignIn(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("mara@fleet.example")

	p := y.Stranger()
	for _, path := range []string{"/", "/vehicles", "/vehicles/" + string(y.Vehicle.ID), "/tires", "/due", "/digest", "/settings", "/settings/people", "/settings/audit", "/help"} {
		a := p.Get(path)
		a.Wants(t, http.StatusUnauthorized, "Sign in", `name="to" value="`+path+`"`)
		if strings.Contains(a.Body, "T-101") {
			t.Errorf("%s shows the fleet to a stranger", path)
		}
	}

	p.Post("/sign-in", url.Values{"email": {"mara@fleet.example"}, "password": {"wrong"}}).
		Wants(t, http.StatusUnauthorized, "wrong", "mara@fleet.example")

	a := p.Post(
		"/sign-in",
		url.Values{"email": {"mara@fleet.example"}, "password": {webtest.Password}, "to": {"//elsewhere.example/x"}},
	)
	if a.Location != "/" {
		t.Errorf("sign in leads to %q, want our own start page", a.Location)
	}
}

func TestLostSessionKeepsTheEntry(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")
	p := y.Stranger()
	v := "/vehicles/" + string(y.Vehicle.ID) + "/inspect"
	f := y.Inspection("10")
	f.Set("note", "rain")
	p.Post(v, f).Wants(t, http.StatusUnauthorized, "what you entered is kept", `name="kept.note" value="rain"`)

	in := url.Values{"email": {"odd@fleet.example"}, "password": {webtest.Password}, "to": {v}}
	for k, s := range f {
		in["kept."+k] = s
	}

	p.Post("/sign-in", in).Wants(t, http.StatusOK, "Your entry was kept", `name="note" value="rain"`, `action="`+v+`"`)
	p.Post(v, f).Wants(t, http.StatusSeeOther)
}

func TestFirstManager(t *testing.T) {
	t.Parallel()
	p := webtest.EmptyWorld(t).Stranger()
	p.Get("/first?key=guessed").Wants(t, http.StatusNotFound)
	p.Get("/first?key=first-key").Wants(t, http.StatusOK, "The first manager")
	first := func(password string) url.Values {
		return url.Values{"key": {"first-key"}, "name": {"Mara"}, "email": {"mara@fleet.example"},
			"password": {password}}
	}
	p.Post("/first", first("short")).
		Wants(t, http.StatusUnprocessableEntity, "Mara", "10 to 200")
	p.Post("/first", first(webtest.Password)).
		Wants(t, http.StatusSeeOther)
	p.Get("/").Wants(t, http.StatusOK, "No vehicle is in the record yet", "Open a depot")
	p.Get("/digest").Wants(t, http.StatusOK, "There is no depot yet")
	p.Post("/sign-out", nil).Wants(t, http.StatusSeeOther)
	p.Get("/").Wants(t, http.StatusUnauthorized)
}
