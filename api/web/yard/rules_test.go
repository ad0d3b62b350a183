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

	// Last time 10/32 in everywhere and not long ago, new 18/32 in, target 105 psi.
	for _, tt := range []struct{ depths, pressure string }{
		{"10 10 10", "105"}, {"11 11 11", "105"}, {"12 12 12", "105"}, {"13 13 13", "105"}, {"14 14 14", ""},
		{"9 9 9", ""}, {"8 8 8", ""}, {"7 7 7", ""}, {"6 6 6", ""}, {"3 3 3", ""}, {"0 0 0", ""}, {"10 7 10", ""},
		{"10 6 10", ""}, {"10 13 10", ""}, {"10 14 10", ""}, {"8 8 5", ""}, {"20 20 20", ""}, {"20.01 20 20", ""},
		{"10mm 10mm 10mm", ""}, {"8mm 8mm 8mm", ""}, {"7.9mm 8mm 8mm", ""}, {"14.3mm 14.3mm 14.3mm", ""},
		{"7.9 7.8 8.1", ""}, {"8 8", ""}, {"14 8", ""}, {"10 10 10 | 10 10 10", ""}, {"10 5 10 | 10 10 10", ""},
		{"10 10 5 | 10 10 10 | 10 10 10", ""}, {"10 5 5 | 10 5 5 | 10 5 5", ""},
		{"", "7.2"}, {"", "42"}, {"", "43"}, {"", "209"}, {"", "211"}, {"", "7.2 bar"}, {"", "105 kPa"}, {"5 5 5", "0"},
	} {
		got := webtest.Ask(t, b, "check", chromedp.Evaluate[string](fmt.Sprintf(`(async () => {
			const keep = await `+webtest.Module("keep.js")+`, check = await `+webtest.Module("check.js")+`;
			const me = await keep.person(), v = await keep.get("vehicles", %q);
			const { units } = me.depots[0];
			const visit = { units, looks: [], hold: me.hold, use: v.use, time: Date.now(), km: null };
			const typed = { d: {}, p: %q };
			%q.split("|").forEach((row, g) => row.split(" ").filter(Boolean).forEach((text, k) => {
				typed.d[%q ? g + "." + k : k + ".0"] = text;
				typed.around = %q ? Math.max(typed.around || 1, k + 1) : 1;
			}));
			const place = v.places.find((a) => a.at === "1L");
			const isAsked = (s) => !["below_legal", "count_dips"].includes(s.code);
			const remarks = check.place(place, typed, visit).filter(isAsked);
			return remarks.map((s) => s.code).sort().join();
		})()`, y.Vehicle.ID, tt.pressure, tt.depths, around(tt.depths), around(tt.depths)), chromedp.EvalAwaitPromise))
		if want := asks(y, tt.depths, tt.pressure); got != want {
			t.Errorf("depths %q, pressure %q: the phone asks about %q, the server about %q",
				tt.depths, tt.pressure, got, want)
		}
	}
}

// around tells whether depths are written by grooves with several stations each, parted by |.
func around(depths string) string {
	if strings.Contains(depths, "|") {
		return "yes"
	}
	return ""
}

// grid reads depths of three grooves by space, or of grooves parted by | with their
// stations by space. What is missing of three grooves was not read.
func grid(y *webtest.World, depths string) [][]*models.Depth {
	var out [][]*models.Depth
	read := func(text string) *models.Depth {
		d := modeltest.Must(models.ParseDepth(text, units.In32))(y.T)
		return &d
	}

	rows := strings.Split(depths, "|")
	if around(depths) == "" {
		rows = strings.Fields(depths)
	}
	stations := 1
	for _, row := range rows {
		var cells []*models.Depth
		for _, text := range strings.Fields(row) {
			cells = append(cells, read(text))
		}
		out, stations = append(out, cells), max(stations, len(cells))
	}
	for len(out) < 3 {
		out = append(out, make([]*models.Depth, stations))
	}
	return out
}

// asks returns what the server asks about at 1L. Another wheel is always asked
// about, so that nothing is recorded.
func asks(y *webtest.World, depth, pressure string) string {
	y.T.Helper()
	r := models.Reading{Position: "1L", NotReached: true}
	if depth != "" {
		r.Depths = grid(y, depth)
	}

	if pressure != "" {
		v := modeltest.Must(models.ParsePressure(pressure, units.Psi))(y.T)
		r.Pressure, r.NotReached = &v, false
	}
	e := &models.Inspection{
		Meta:     models.Meta{ID: modeltest.NewID[models.EventID](), VehicleID: y.Vehicle.ID, At: webtest.Now()},
		Readings: []models.Reading{r, {Position: "1R", Depths: grid(y, "17 17 17")}},
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
