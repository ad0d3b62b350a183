package work_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"rimledger/api/web/webtest"
	"rimledger/models/modeltest"
)

func TestWorkForms(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	v := "/vehicles/" + string(y.Vehicle.ID)

	form := func(pairs ...string) url.Values {
		f := url.Values{"id": {modeltest.NewID[string]()}, "made": {webtest.Now().Format(time.RFC3339Nano)}}
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
			tt.form.Set("made", webtest.Now().Format(time.RFC3339Nano))
			a := p.Post(v+"/do/"+tt.kind, tt.form)
			a.Wants(t, tt.status)
			if tt.status == http.StatusSeeOther {
				a = p.Get(a.Location)
			}
			a.Wants(t, a.Status, tt.text)
		})
	}

	p.Get("/tires/"+string(y.Tires["1L"].ID)).
		Wants(t, http.StatusOK, "<h3>Bead seat and run-out", "3/32 in, outer, highest at 120°")
	// rotated to 1R before
}
