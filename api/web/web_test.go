package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"rimledger/models"
)

// inspection is a filled form of the yard's tractor, as the page would send it.
func (y *testServer) inspection(depth string) url.Values {
	f := url.Values{
		"id":       {newID[string]()},
		"made":     {time.Now().UTC().Format(time.RFC3339Nano)},
		"stations": {"1"},
		"odometer": {"205,000"},
	}

	for p := range y.tires {
		for _, g := range []string{"0", "1", "2"} {
			f.Set("p."+string(p)+".d"+g+".0", depth)
		}
		f.Set("p."+string(p)+".pressure", "100")
	}

	return f
}

func TestStrangerIsAskedToSignIn(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.addPerson("mara@fleet.example")

	p := y.stranger()
	for _, path := range []string{"/", "/vehicles", "/vehicles/" + string(y.vehicle.ID), "/tires", "/due", "/digest", "/settings", "/settings/people", "/settings/audit", "/help"} {
		a := p.get(path)
		a.wants(t, http.StatusUnauthorized, "Sign in", `name="to" value="`+path+`"`)
		if strings.Contains(a.Body, "T-101") {
			t.Errorf("%s shows the fleet to a stranger", path)
		}
	}

	p.post("/sign-in", url.Values{"email": {"mara@fleet.example"}, "password": {"wrong"}}).
		wants(t, http.StatusUnauthorized, "wrong", "mara@fleet.example")

	a := p.post(
		"/sign-in",
		url.Values{"email": {"mara@fleet.example"}, "password": {password}, "to": {"//elsewhere.example/x"}},
	)
	if a.Location != "/" {
		t.Errorf("sign in leads to %q, want our own start page", a.Location)
	}
}

func TestEveryPage(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	tech := y.signedIn("odd@fleet.example")
	v := "/vehicles/" + string(y.vehicle.ID)
	if a := tech.post(v+"/inspect", y.inspection("9")); a.Status != http.StatusSeeOther {
		a.wants(t, http.StatusSeeOther)
	}

	paths := map[string]string{
		"/": "Attention list", "/vehicles": "T-101", "/vehicles?q=a1l": "T-101", "/vehicles?q=zz": "No vehicle matches", v: "front at the top", v + "?kind=fit": "Tires fitted",
		v + "/inspect": "Record the inspection", v + "/inspect?stations=3": "at 120°", v + "/inspect?stations=8": "at 45°",
		"/tires": "A1L", "/tires?q=tyre+A1L": "A1L", "/tires/" + string(y.tires["1L"].ID): "Where it has been", "/due": "Due list", "/digest": "Nothing is off the road.",
		"/settings": "API tokens", "/settings/people": "odd@fleet.example", "/settings/people/new": "New person", "/settings/rules": "393.75",
		"/settings/audit": "Audit trail", "/settings/depots/new": "New depot", "/settings/depots/" + string(y.depot.ID): "America/Chicago",
		"/settings/depots/" + string(y.depot.ID) + "/policy/tractor": "Pull point, steer axle", "/help": "cupping", "/?depot=" + string(y.depot.ID) + "&urgency=plan&class=bus": "Nothing matches",
	}

	for _, kind := range []string{"fit", "remove", "rotate", "repair", "alignment", "retorque", "service", "odometer", "vibration", "clearance", "wheel-check", "withdraw"} {
		paths[v+"/do/"+kind] = "When and who"
	}

	inline := regexp.MustCompile(`\s(style|on[a-z]+)="|<style|<script>|https?://`)
	for path, text := range paths {
		a := p.get(path)
		a.wants(t, http.StatusOK, text, "</html>")
		if bad := inline.FindString(a.Body); bad != "" {
			t.Errorf("%s holds %q, which the content security policy forbids or which leaves the host", path, bad)
		}
		if csp := a.Header.Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'none'") ||
			strings.Contains(csp, "unsafe") {
			t.Errorf("%s: content security policy %q", path, csp)
		}

		for _, w := range faultsOf(t, a.Body) {
			t.Errorf("%s: %s", path, w)
		}

		if strings.Contains(a.Body, "ZgotmplZ") {
			t.Errorf("%s holds a value that the template refused", path)
		}
	}

	p.get("/digest?as=html").wants(t, http.StatusOK, "<p style")
}

func TestMissingAndForbidden(t *testing.T) {
	t.Parallel()
	y := newYard(t)

	viewer := y.signedIn("vic@fleet.example")
	for _, path := range []string{"/vehicles/" + newID[string](), "/vehicles/none", "/tires/" + newID[string](), "/findings/" + newID[string](), "/vehicles/" + string(y.vehicle.ID) + "/do/nothing",
		"/settings/depots/" + newID[string](), "/settings/depots/" + string(y.depot.ID) + "/policy/sled"} {
		viewer.get(path).wants(t, http.StatusNotFound, "There is nothing here")
	}

	viewer.get("/nowhere").wants(t, http.StatusNotFound, "There is nothing here")
	viewer.get("/settings/people").wants(t, http.StatusForbidden, "Ask a manager")
	viewer.get("/settings/audit").wants(t, http.StatusForbidden, "Ask a manager")
	viewer.post("/vehicles/"+string(y.vehicle.ID)+"/inspect", y.inspection("9")).wants(t, http.StatusForbidden, "role")

	big := url.Values{"note": {strings.Repeat("x", 2<<20)}}
	y.signedIn("odd@fleet.example").
		post("/vehicles/"+string(y.vehicle.ID)+"/inspect", big).
		wants(t, http.StatusRequestEntityTooLarge, "at most 1 MB", "send less at a time")
}

// 4/32 in on the steer axle: 49 CFR 393.75(b), read in public texts.
func TestInspectionMakesFinding(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("odd@fleet.example")
	v := "/vehicles/" + string(y.vehicle.ID)
	f := y.inspection("12")
	f.Set("p.1L.d0.0", "3")
	a := p.post(v+"/inspect", f)
	a.wants(t, http.StatusSeeOther)
	p.get(a.Location).wants(t, http.StatusOK, "Inspection recorded", "off the road", "3/32", "393.75")
	p.get("/").wants(t, http.StatusOK, "T-101", "off the road")

	if again := p.post(v+"/inspect", f); again.Location != v+"?said=repeated" {
		t.Errorf("the same form again leads to %q, want it told as a repetition", again.Location)
	}

	f.Set("p.1L.d0.0", "2")
	changed := p.post(v+"/inspect", f)
	changed.wants(t, http.StatusUnprocessableEntity, "already recorded", `value="2"`)
	if strings.Contains(changed.Body, f.Get("id")) {
		t.Error("the changed form keeps the number of the recorded one and can never be sent")
	}

	events, _, err := y.fleet.Events(
		t.Context(),
		y.system,
		models.EventFilter{VehicleID: y.vehicle.ID, Kinds: []models.EventKind{models.KindInspection}},
		models.Page{Limit: 10},
	)
	if err != nil || len(events) != 1 {
		t.Errorf("%d inspections after a double submit, want 1 (%v)", len(events), err)
	}
}

// Flat spots are counted on the plain form as on the phone: several are another
// pattern than one.
func TestFlatSpotsAreCounted(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("odd@fleet.example")
	f := y.inspection("12")
	f.Add("p.1L.see", "flat_spot")
	f.Set("p.1L.cups", "3")
	a := p.post("/vehicles/"+string(y.vehicle.ID)+"/inspect", f)
	a.wants(t, http.StatusSeeOther)
	p.get(a.Location).wants(t, http.StatusOK, "3 flat spots counted by hand")
}

func TestRefusedInspectionKeepsWhatWasTyped(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("odd@fleet.example")
	v := "/vehicles/" + string(y.vehicle.ID)

	tests := []struct {
		name  string
		set   map[string]string
		texts []string
	}{
		{
			"no number",
			map[string]string{"p.1L.d0.0": "abc"},
			[]string{`value="abc"`, "not a number", "Not recorded yet"},
		},
		{
			"deeper than a gauge reads",
			map[string]string{"p.2RO.d1.0": "99"},
			[]string{`value="99"`, "deeper than any tread gauge reads"},
		},
		{"pressure and not reached", map[string]string{"p.2LI.notreached": "1"}, []string{"only one can be right"}},
		{"odometer in words", map[string]string{"odometer": "a lot"}, []string{`value="a lot"`, "not a number"}},
		{
			"a time that is none",
			map[string]string{"at": "yesterday"},
			[]string{`value="yesterday"`, "write the day and the time"},
		},
		{"in the future", map[string]string{"at": "2999-01-01T10:00"}, []string{"is in the future"}},
	}

	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f := y.inspection("11")
			for k, s := range tt.set {
				f.Set(k, s)
			}
			f.Set("note", "typed by hand <b>")
			p.post(v+"/inspect", f).
				wants(t, http.StatusUnprocessableEntity, append(tt.texts, "typed by hand &lt;b&gt;", `name="id" value="`+f.Get("id")+`"`)...)
		})
	}
}

func TestHeldValueIsConfirmed(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("odd@fleet.example")
	v := "/vehicles/" + string(y.vehicle.ID)
	p.post(v+"/inspect", y.inspection("8")).wants(t, http.StatusSeeOther)
	f := y.inspection("9")
	f.Set("odometer_unknown", "1")
	f.Set("p.1R.d0.0", "13")
	f.Set("p.1R.d1.0", "13")
	f.Set("p.1R.d2.0", "13")

	held := p.post(v+"/inspect", f)
	held.wants(
		t,
		http.StatusUnprocessableEntity,
		"Measure again, or confirm",
		"13/32",
		"8/32",
		`name="confirm" value="depth_rise:1R"`,
	)

	f["confirm"] = []string{"depth_rise:1R"}
	p.post(v+"/inspect", f).wants(t, http.StatusSeeOther)
}

func TestLostSessionKeepsTheEntry(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.addPerson("odd@fleet.example")
	p := y.stranger()
	v := "/vehicles/" + string(y.vehicle.ID) + "/inspect"
	f := y.inspection("10")
	f.Set("note", "rain")
	p.post(v, f).wants(t, http.StatusUnauthorized, "what you entered is kept", `name="kept.note" value="rain"`)

	in := url.Values{"email": {"odd@fleet.example"}, "password": {password}, "to": {v}}
	for k, s := range f {
		in["kept."+k] = s
	}

	p.post("/sign-in", in).wants(t, http.StatusOK, "Your entry was kept", `name="note" value="rain"`, `action="`+v+`"`)
	p.post(v, f).wants(t, http.StatusSeeOther)
}

func TestWorkForms(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("odd@fleet.example")
	v := "/vehicles/" + string(y.vehicle.ID)

	form := func(pairs ...string) url.Values {
		f := url.Values{"id": {newID[string]()}, "made": {time.Now().UTC().Format(time.RFC3339Nano)}}
		for i := 0; i < len(pairs); i += 2 {
			f.Add(pairs[i], pairs[i+1])
		}
		return f
	}

	tests := []struct {
		name, kind string
		form       url.Values
		status     int
		text       string // on the form if refused, else on the vehicle
	}{
		{"odometer", "odometer", form("odometer", "206,000"), 303, "206,000 mi"},
		{"half a rotation", "rotate", form("goes.1L", "1R"), 422, "at least two"},
		{"a rotation into a taken place", "rotate", form("goes.1L", "1R", "goes.2LO", "2LI"), 422, "permutation"},
		{
			"a rotation",
			"rotate",
			form("goes.1L", "1R", "goes.1R", "1L", "torque_nm", "600 N·m"),
			303,
			"1L to 1R, 1R to 1L",
		},
		{"a repair of nothing", "repair", form("position", "1L"), 422, "must say what was repaired"},
		{
			"a repair",
			"repair",
			form("position", "1L", "what", "plug and patch", "demounted", "1", "cost", "45.50"),
			303,
			"plug and patch",
		},
		{
			"an alignment",
			"alignment",
			form("axles", "1", "found", "toe in 5 mm", "set", "toe in 1 mm"),
			303,
			"toe in 5 mm",
		},
		{
			"a re-torque",
			"retorque",
			form("positions", "1L", "positions", "1R", "torque_nm", "600 N·m"),
			303,
			"443 lb·ft",
		},
		{"new dampers", "service", form("what", "dampers", "axle", "1"), 303, "dampers, axle 1"},
		{"a shake", "vibration", form("starts_kmh", "50", "worst_kmh", "60", "felt_at", "seat"), 303, "starts 50 mph"},
		{
			"bead gap and run-out",
			"wheel-check",
			form(
				"position",
				"1R",
				"bead_gap.outer",
				"3/32 in",
				"bead_gap.outer.high",
				"120",
				"tire_radial.center",
				"0.060 in",
			),
			303,
			"bead gap, flange to bead line: 3/32 in, outer, highest at 120°",
		},
		{"a gap without a unit", "wheel-check", form("position", "1R", "bead_gap.inner", "3"), 422, "bead_gap.inner"},
		{"a check of nothing", "wheel-check", form("position", "1R"), 422, "at least one measure"},
		{"a check of no place", "wheel-check", form("bead_gap.inner", "1 mm"), 422, "choose the assembly"},
		{
			"a high spot beyond a turn",
			"wheel-check",
			form("position", "1R", "bead_gap.inner", "1 mm", "bead_gap.inner.high", "360"),
			422,
			"0 up to 360 degrees",
		},
		{"a shake only under the brake", "vibration", form("worst_kmh", "60", "braking", "only"), 303, "braking: only"},
		{"a shake at no speed", "vibration", form("starts_kmh", "fast"), 422, "write a number in mph"},
		{
			"a removal",
			"remove",
			form("reason.2LO", "cut_snag", "to.2LO", "scrapped", "depth.2LO", "7"),
			303,
			"cut snag, to scrapped",
		},
		{"a fit with nothing in it", "fit", form(), 422, "at least one tire"},
		{"a clearance of nothing", "clearance", form(), 422, "tick what is cleared"},
	}

	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tt.form.Set("made", time.Now().UTC().Format(time.RFC3339Nano))
			a := p.post(v+"/do/"+tt.kind, tt.form)
			a.wants(t, tt.status)
			if tt.status == http.StatusSeeOther {
				a = p.get(a.Location)
			}
			a.wants(t, a.Status, tt.text)
		})
	}

	p.get("/tires/"+string(y.tires["1L"].ID)).
		wants(t, http.StatusOK, "<h3>Bead seat and run-out", "3/32 in, outer, highest at 120°")
	// rotated to 1R before
}

func TestAcknowledge(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.signedIn("odd@fleet.example").
		post("/vehicles/"+string(y.vehicle.ID)+"/inspect", y.inspection("5")).
		wants(t, http.StatusSeeOther)

	found, _, err := y.fleet.Findings(
		t.Context(),
		y.system,
		models.FindingFilter{VehicleID: y.vehicle.ID},
		models.Page{Limit: 50},
	)

	i := slices.IndexFunc(found, func(f models.Finding) bool { return f.Urgency != models.OffTheRoad })
	if err != nil || i < 0 {
		t.Fatalf("no finding to acknowledge: %v %v", found, err)
	}
	path := "/findings/" + string(found[i].ID)
	p := y.signedIn("mara@fleet.example")
	p.get(path).wants(t, http.StatusOK, "Acknowledge", "What this means")
	p.post(path+"/acknowledge", url.Values{"until": {"soon"}, "why": {"booked in"}}).
		wants(t, http.StatusUnprocessableEntity, "write the day", "booked in")
	p.post(path+"/acknowledge", url.Values{"until": {"2999-01-01"}, "why": {"booked in"}}).
		wants(t, http.StatusUnprocessableEntity, "at most 180 days", `value="2999-01-01"`)

	a := p.post(
		path+"/acknowledge",
		url.Values{"until": {time.Now().AddDate(0, 0, 9).Format(time.DateOnly)}, "why": {"booked in for Thursday"}},
	)
	a.wants(t, http.StatusSeeOther)
	p.get(a.Location).wants(t, http.StatusOK, "booked in for Thursday", "by Mara Quill")

	y.signedIn("vic@fleet.example").
		post(path+"/acknowledge", url.Values{"withdraw": {"1"}}).
		wants(t, http.StatusForbidden)

	p.post(path+"/acknowledge", url.Values{"withdraw": {"1"}}).wants(t, http.StatusSeeOther)
}

func TestTwoEditOnePolicy(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	path := "/settings/depots/" + string(y.depot.ID) + "/policy/tractor"
	p.post(path, url.Values{"version": {"0"}, "InspectDays": {"20"}, "PullSteer": {"7"}}).wants(t, http.StatusSeeOther)
	p.get(path).wants(t, http.StatusOK, `value="20"`, `value="7/32 in"`, `name="version" value="1"`)

	second := p.post(path, url.Values{"version": {"0"}, "InspectDays": {"40"}})
	second.wants(
		t,
		http.StatusConflict,
		`value="40"`,
		"saved meanwhile: 20",
		"saved meanwhile: 7/32 in",
		`name="version" value="1"`,
	)

	p.post(path, url.Values{"version": {"1"}, "InspectDays": {"40"}}).wants(t, http.StatusSeeOther)
	p.post(path, url.Values{"version": {"2"}, "InspectDays": {"often"}}).
		wants(t, http.StatusUnprocessableEntity, `value="often"`, "whole number")
	p.post(path, url.Values{"version": {"2"}, "LowPercent": {"300"}}).
		wants(t, http.StatusUnprocessableEntity, `value="300"`, "must be 0 (off) to 100")
}

func TestSettings(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	p.post("/settings/units", url.Values{"depth": {"mm"}, "pressure": {"bar"}, "distance": {"km"}, "mass": {"g"}}).
		wants(t, http.StatusSeeOther)
	p.get("/vehicles/"+string(y.vehicle.ID)+"/inspect").
		wants(t, http.StatusOK, "<small>mm</small>", "Odometer, km", "bar, target 7.2 bar")
	p.post("/settings/units", url.Values{"depth": {"mm"}}).wants(t, http.StatusUnprocessableEntity, "must be depth")
	p.post("/settings/tokens", url.Values{"name": {"telematics"}, "days": {"30"}}).
		wants(t, http.StatusOK, "shown this once", "rl_", "telematics")
	p.post("/settings/tokens", url.Values{"name": {""}, "days": {"9999"}}).
		wants(t, http.StatusUnprocessableEntity, "say what the token is for", "within two years")
	p.post("/settings/password", url.Values{"old_password": {"wrong"}, "password": {"another long word"}}).
		wants(t, http.StatusUnprocessableEntity, "not your present password")
	p.post("/settings/password", url.Values{"old_password": {password}, "password": {"short"}}).
		wants(t, http.StatusUnprocessableEntity, "10 to 200")
	p.post("/settings/people/new", url.Values{"id": {newID[string]()}, "name": {"Lee Marsh"}, "email": {"not an address"}, "role": {"viewer"}}).
		wants(t, http.StatusUnprocessableEntity, "plain mail address", "Lee Marsh")
	p.post("/settings/people/new", url.Values{"id": {newID[string]()}, "name": {"Lee Marsh"}, "email": {"lee@fleet.example"}, "role": {"viewer"}, "password": {password}}).
		wants(t, http.StatusSeeOther)
	p.get("/settings/people").wants(t, http.StatusOK, "lee@fleet.example")
	depot := "/settings/depots/" + string(y.depot.ID)
	p.post(depot, url.Values{"version": {"1"}, "name": {"Alder Yard"}, "time_zone": {"Mars/Base"}}).
		wants(t, http.StatusUnprocessableEntity, `value="Mars/Base"`, "IANA time zone")
	p.get("/settings/audit").wants(t, http.StatusOK, "Mara Quill", "person")
}

func TestFirstManager(t *testing.T) {
	t.Parallel()
	y := &testServer{t: t}
	st := openStore(t)
	y.fleet = newFleet(st)
	y.server = serve(t, st, y.fleet)
	p := y.stranger()
	p.get("/first?key=guessed").wants(t, http.StatusNotFound)
	p.get("/first?key=first-key").wants(t, http.StatusOK, "The first manager")
	p.post("/first", url.Values{"key": {"first-key"}, "name": {"Mara"}, "email": {"mara@fleet.example"}, "password": {"short"}}).
		wants(t, http.StatusUnprocessableEntity, "Mara", "10 to 200")
	p.post("/first", url.Values{"key": {"first-key"}, "name": {"Mara"}, "email": {"mara@fleet.example"}, "password": {password}}).
		wants(t, http.StatusSeeOther)
	p.get("/").wants(t, http.StatusOK, "No vehicle is in the record yet", "Open a depot")
	p.get("/digest").wants(t, http.StatusOK, "There is no depot yet")
	p.post("/sign-out", nil).wants(t, http.StatusSeeOther)
	p.get("/").wants(t, http.StatusUnauthorized)
}
