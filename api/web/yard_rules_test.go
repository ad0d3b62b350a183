package web_test

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/models"
	"rimledger/models/units"
)

// TestPhoneAsksAsTheServerDoes types the same values on the phone and into the
// record, on both sides of each threshold: both ask about the same ones.
func TestPhoneAsksAsTheServerDoes(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.signedIn("mara@fleet.example").
		post("/vehicles/"+string(y.vehicle.ID)+"/inspect", y.inspection("10")).
		wants(t, http.StatusSeeOther)
	s := y.open()
	b := newBrowser(t, time.Minute)
	b.signIn(t, s.url(""), "mara@fleet.example", password)
	p := hold(t, b)
	p.to(s.url("/vehicles/" + string(y.vehicle.ID) + "/inspect"))
	p.shows("Places around each tire")

	// Last time 10/32 in everywhere, new 18/32 in, target 105 psi.
	for _, tt := range []struct{ depth, pressure string }{
		{"10", "105"}, {"11.99", "105"}, {"12", "105"}, {"18", "100"}, {"18.01", ""}, {"4", ""}, {"3.9", ""}, {"0", ""},
		{"10 mm", ""}, {"9.2 mm", ""}, {"9 mm", ""}, {"8.5mm", ""}, {"7.9 mm", ""}, {"14.3 mm", ""}, {"", "7.2"}, {"", "42"}, {"", "43"}, {"", "209"}, {"", "211"}, {"", "7.2 bar"}, {"", "105 kPa"}, {"5", "0"},
	} {
		got := ask(t, b, "check", chromedp.Evaluate[string](fmt.Sprintf(`(async () => {
			const keep = await `+module("keep.js")+`, check = await `+module("check.js")+`;
			const me = await keep.person(), v = await keep.get("vehicles", %q);
			const d = %q, typed = { d: d ? { "0.0": d, "1.0": d, "2.0": d } : {}, p: %q };
			return check.place(v.places.find((a) => a.at === "1L"), typed, me.depots[0].units, []).filter((s) => s.code !== "below_legal").map((s) => s.code).sort().join();
		})()`, y.vehicle.ID, tt.depth, tt.pressure), chromedp.EvalAwaitPromise))
		if want := y.asks(tt.depth, tt.pressure); got != want {
			t.Errorf(
				"depth %q, pressure %q: the phone asks about %q, the server about %q",
				tt.depth,
				tt.pressure,
				got,
				want,
			)
		}
	}
}

// asks returns what the server asks about at 1L. Another wheel is always asked
// about, so that nothing is recorded.
func (y *testServer) asks(depth, pressure string) string {
	y.t.Helper()
	row := func(text string) [][]*models.Depth {
		d := must(models.ParseDepth(text, units.In32))(y.t)
		return [][]*models.Depth{{&d}, {&d}, {&d}}
	}
	r := models.Reading{Position: "1L", NotReached: true}
	if depth != "" {
		r.Depths = row(depth)
	}

	if pressure != "" {
		v := must(models.ParsePressure(pressure, units.Psi))(y.t)
		r.Pressure, r.NotReached = &v, false
	}
	e := &models.Inspection{Meta: models.Meta{ID: newID[models.EventID](), VehicleID: y.vehicle.ID, At: time.Now()},
		Readings: []models.Reading{r, {Position: "1R", Depths: row("17")}}}
	_, err := y.fleet.Record(y.t.Context(), y.system, e)

	var held *models.Error
	if !errors.As(err, &held) || held.Kind != models.Held {
		y.t.Fatalf("depth %q, pressure %q: %v", depth, pressure, err)
	}

	var codes []string
	for _, f := range held.Fields {
		if code, at, _ := strings.Cut(f.Code, ":"); at == "1L" && !slices.Contains(codes, code) {
			codes = append(codes, code)
		}
	}

	slices.Sort(codes)
	return strings.Join(codes, ",")
}
