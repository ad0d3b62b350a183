package yard_test

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/units"
)

// TestPhoneAsksAsTheServerDoes types the same values on the phone and into the
// record, on both sides of each threshold: both ask about the same ones.
func TestPhoneAsksAsTheServerDoes(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.SignedIn("mara@fleet.example").
		Post("/vehicles/"+string(y.Vehicle.ID)+"/inspect", y.Inspection("10")).
		Wants(t, http.StatusSeeOther)
	s := y.Open()
	b := webtest.NewBrowser(t, time.Minute)
	b.SignIn(t, s.URL(""), "mara@fleet.example", webtest.Password)
	p := webtest.Hold(t, b)
	p.To(s.URL("/vehicles/" + string(y.Vehicle.ID) + "/inspect"))
	p.Shows("Places around each tire")

	// Last time 10/32 in everywhere, new 18/32 in, target 105 psi.
	for _, tt := range []struct{ depth, pressure string }{
		{"10", "105"}, {"11.99", "105"}, {"12", "105"}, {"18", "100"}, {"18.01", ""}, {"4", ""}, {"3.9", ""}, {"0", ""},
		{"10 mm", ""}, {"9.2 mm", ""}, {"9 mm", ""}, {"8.5mm", ""}, {"7.9 mm", ""}, {"14.3 mm", ""}, {"", "7.2"}, {"", "42"}, {"", "43"}, {"", "209"}, {"", "211"}, {"", "7.2 bar"}, {"", "105 kPa"}, {"5", "0"},
	} {
		got := webtest.Ask(t, b, "check", chromedp.Evaluate[string](fmt.Sprintf(`(async () => {
			const keep = await `+webtest.Module("keep.js")+`, check = await `+webtest.Module("check.js")+`;
			const me = await keep.person(), v = await keep.get("vehicles", %q);
			const d = %q, typed = { d: d ? { "0.0": d, "1.0": d, "2.0": d } : {}, p: %q };
			return check.place(v.places.find((a) => a.at === "1L"), typed, me.depots[0].units, []).filter((s) => s.code !== "below_legal").map((s) => s.code).sort().join();
		})()`, y.Vehicle.ID, tt.depth, tt.pressure), chromedp.EvalAwaitPromise))
		if want := asks(y, tt.depth, tt.pressure); got != want {
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
func asks(y *webtest.World, depth, pressure string) string {
	y.T.Helper()
	row := func(text string) [][]*models.Depth {
		d := modeltest.Must(models.ParseDepth(text, units.In32))(y.T)
		return [][]*models.Depth{{&d}, {&d}, {&d}}
	}
	r := models.Reading{Position: "1L", NotReached: true}
	if depth != "" {
		r.Depths = row(depth)
	}

	if pressure != "" {
		v := modeltest.Must(models.ParsePressure(pressure, units.Psi))(y.T)
		r.Pressure, r.NotReached = &v, false
	}
	e := &models.Inspection{
		Meta:     models.Meta{ID: modeltest.NewID[models.EventID](), VehicleID: y.Vehicle.ID, At: webtest.Now()},
		Readings: []models.Reading{r, {Position: "1R", Depths: row("17")}},
	}
	_, err := y.Fleet.Record(y.T.Context(), y.System, e)

	var held *models.Error
	if !errors.As(err, &held) || held.Kind != models.Held {
		y.T.Fatalf("depth %q, pressure %q: %v", depth, pressure, err)
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
