package yard_test

import (
	"net/http"
	"strings"
	"testing"

	"rimledger/api/web/webtest"
	"rimledger/models"
)

// 4/32 in on the steer axle: 49 CFR 393.75(b), read in public texts.
func TestInspectionMakesFinding(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	v := "/vehicles/" + string(y.Vehicle.ID)
	f := y.Inspection("12")
	f.Set("p.1L.d0.0", "3")
	a := p.Post(v+"/inspect", f)
	a.Wants(t, http.StatusSeeOther)
	p.Get(a.Location).Wants(t, http.StatusOK, "Inspection recorded", "off the road", "3/32", "393.75")
	p.Get("/").Wants(t, http.StatusOK, "T-101", "off the road")

	if again := p.Post(v+"/inspect", f); again.Location != v+"?said=repeated" {
		t.Errorf("the same form again leads to %q, want it told as a repetition", again.Location)
	}

	f.Set("p.1L.d0.0", "2")
	changed := p.Post(v+"/inspect", f)
	changed.Wants(t, http.StatusUnprocessableEntity, "already recorded", `value="2"`)
	if strings.Contains(changed.Body, f.Get("id")) {
		t.Error("the changed form keeps the number of the recorded one and can never be sent")
	}

	events, _, err := y.Fleet.Events(
		t.Context(),
		y.System,
		models.EventFilter{VehicleID: y.Vehicle.ID, Kinds: []models.EventKind{models.KindInspection}},
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
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	f := y.Inspection("12")
	f.Add("p.1L.see", "flat_spot")
	f.Set("p.1L.cups", "3")
	a := p.Post("/vehicles/"+string(y.Vehicle.ID)+"/inspect", f)
	a.Wants(t, http.StatusSeeOther)
	p.Get(a.Location).Wants(t, http.StatusOK, "3 flat spots counted by hand")
}

func TestRefusedInspectionKeepsWhatWasTyped(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	v := "/vehicles/" + string(y.Vehicle.ID)

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
			f := y.Inspection("11")
			for k, s := range tt.set {
				f.Set(k, s)
			}
			f.Set("note", "typed by hand <b>")
			p.Post(v+"/inspect", f).
				Wants(t, http.StatusUnprocessableEntity, append(tt.texts, "typed by hand &lt;b&gt;", `name="id" value="`+f.Get("id")+`"`)...)
		})
	}
}

func TestHeldValueIsConfirmed(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	v := "/vehicles/" + string(y.Vehicle.ID)
	p.Post(v+"/inspect", y.Inspection("8")).Wants(t, http.StatusSeeOther)
	f := y.Inspection("9")
	f.Set("odometer_unknown", "1")
	f.Set("p.1R.d0.0", "13")
	f.Set("p.1R.d1.0", "13")
	f.Set("p.1R.d2.0", "13")

	held := p.Post(v+"/inspect", f)
	held.Wants(
		t,
		http.StatusUnprocessableEntity,
		"Measure again, or confirm",
		"13/32",
		"8/32",
		`name="confirm" value="depth_rise:1R"`,
	)

	f["confirm"] = []string{"depth_rise:1R"}
	p.Post(v+"/inspect", f).Wants(t, http.StatusSeeOther)
}
