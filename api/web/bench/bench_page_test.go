package bench_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/units"
)

// bench fills in a bench form: a steer wheel with both flanges measured.
func benchSheet(with ...string) url.Values {
	v := url.Values{"id": {modeltest.NewID[string]()}, "made": {webtest.Now().Format(time.RFC3339Nano)}}

	with = append(
		[]string{
			"why", "complaint", "mode", "two_plane", "planes", "flanges", "weights_off", "1",
			"geometry.outer_radius", "285", "geometry.inner_radius", "285", "geometry.inner_offset", "210",
			"clips", "25 g 50 g 75 g 100 g", "segments", "25 g", "shown.outer.mass", "85 g",
			"shown.outer.angle", "230", "shown.inner.mass", "120 g", "shown.inner.angle", "45",
		},
		with...)

	for i := 0; i < len(with); i += 2 {
		v.Set(with[i], with[i+1])
	}
	return v
}

// TestBenchRefusals: what is wrong is said beside its field, with what would be
// right, and nothing is recorded.
func TestBenchRefusals(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")

	path := "/vehicles/" + string(y.Vehicle.ID) + "/bench/1L"
	for _, row := range []struct {
		name, field, text, do string
		with                  []string
	}{
		{"zero radius", "geometry.outer_radius", "zero: measure", "work", []string{"geometry.outer_radius", "0"}},
		{"planes that coincide", "geometry.inner_offset", "no distance between the planes", "work", []string{"geometry.inner_offset", "0"}},
		{"a mass beyond any wheel's", "shown.outer.mass", "no wheel takes more than 2000 g", "work", []string{"shown.outer.mass", "2500 g"}},
		{"a mass beyond any wheel's, recorded", "shown.outer.mass", "0 to 2000 g", "save", []string{"shown.outer.mass", "2500 g", "fitted.0.mass", "25 g", "fitted.0.plane", "outer", "fitted.0.angle", "0"}},
		{"an empty box", "clips", "the box is empty", "work", []string{"clips", "", "segments", ""}},
		{"a box without clips", "clips", "holds nothing that fits", "work", []string{"clips", ""}},
		{"all around blocked", "geometry.blocked", "no place allowed", "work", []string{"geometry.blocked", "0-360"}},
		{"hidden without spokes", "geometry.spokes", "no place allowed", "work", []string{"mode", "hidden", "planes", "band_and_flange", "geometry.adhesive_radius", "270", "geometry.adhesive_offset", "60"}},
		{"a place that was not measured", "geometry.adhesive_radius", "weights may go on the adhesive band; measure", "work", []string{"places", "band"}},
		{"a band at no depth", "geometry.adhesive_offset", "how far inward", "work", []string{"places", "band", "geometry.adhesive_radius", "190"}},
		{"hidden, but not on the band", "places", "tick it", "work", []string{"mode", "hidden", "places", "inner_flange", "geometry.spokes", "0 72"}},
		{"blocked where it goes alone", "geometry.blocked", "no place allowed", "work", []string{"places", "outer_flange", "geometry.blocked.outer_flange", "0-360"}},
		{"fitted where nothing was measured", "geometry.back_radius", "zero radius", "work", []string{"fitted.0.mass", "25 g", "fitted.0.plane", "back_band"}},
		{"no number", "shown.outer.angle", "degrees clockwise from the valve", "save", []string{"shown.outer.angle", "north"}},
		{"no reason", "why", "must be one of", "save", []string{"why", "", "fitted.0.mass", "25 g", "fitted.0.plane", "outer", "fitted.0.angle", "0"}},
		{"nothing fitted", "fitted.0.mass", "say what was fitted", "save", nil},
	} {
		sheet := benchSheet(append(row.with, "do", row.do)...)
		a := p.Post(path, sheet)
		if !strings.Contains(a.Body, `href="#`+row.field+`"`) || !strings.Contains(a.Body, row.text) {
			t.Errorf("%s: the page (%d) does not name %s with %q", row.name, a.Status, row.field, row.text)
		}
	}

	events, _, err := y.Fleet.Events(
		t.Context(),
		y.System,
		models.EventFilter{VehicleID: y.Vehicle.ID, Kinds: []models.EventKind{models.KindBalance}},
		models.Page{},
	)
	if err != nil || len(events) > 0 {
		t.Errorf("%d jobs recorded, %v", len(events), err)
	}
}

// TestBench works one wheel without a script: 400 degrees is taken openly, the
// proposal leaves what it says, a double submit makes one record, the geometry is
// proposed again.
func TestBench(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	path := "/vehicles/" + string(y.Vehicle.ID) + "/bench/1L"
	p.Get(path).
		Wants(t, http.StatusOK, "Seen from outside, valve on top", "Looked at", "never defeat a guard",
			"value=\"285.75 mm\"")
	p.Post(path, benchSheet("do", "work", "shown.inner.angle", "400")).
		Wants(t, http.StatusOK, "inner plane: 400° taken as 40°", "Proposed", "Simply rounded", "TMC RP 214C")

	// 285 mm and 210 mm between the planes: 120 g asked for takes 125 g or 100+25 g of this box.
	taken := p.Post(path, benchSheet("do", "take"))
	taken.Wants(t, http.StatusOK, "Your choice", "then still add: outer")

	// No weights that face each other for a gram less: 33 g and 18 g take no more than 25 g and one more each.
	small := p.Post(
		path,
		benchSheet(
			"do", "part", "shown.outer.mass", "33 g", "shown.outer.angle", "210", "shown.inner.mass", "18 g",
			"shown.inner.angle", "290", "clips", "25 g 50 g 75 g 100 g 150 g 200 g",
		),
	)

	if all := regexp.MustCompile(`in all</th><td>([0-9.]+) oz`).FindStringSubmatch(small.Body); all == nil ||
		all[1] > "3.53" ||
		len(all[1]) != 4 {
		t.Errorf("33 g and 18 g are cured by %q oz, want at most four clips of 25 g", all)
	}

	part := p.Post(path, benchSheet("do", "part"))
	if strings.Contains(part.Body, "<html") || !strings.Contains(part.Body, "Proposed") {
		t.Error("the part for the script is not the worked-out part alone")
	}

	sheet := benchSheet(
		"do", "save", "shown.inner.angle", "400", "fitted.0.mass", "125 g", "fitted.0.angle", "40",
		"fitted.0.plane", "inner", "fitted.1.mass", "75 g", "fitted.1.angle", "230", "fitted.1.plane", "outer",
		"after.outer.mass", "10 g", "after.outer.angle", "230", "after.inner.mass", "5 g",
		"after.inner.angle", "220", "machine", "bench 1 (invented)",
		"self_check", webtest.Now().AddDate(0, 0, -3).Format(time.DateOnly), "media.type", "beads (invented)",
		"media.dose", "8 oz", "media.in", "2026-01-05", "torque_nm", "600 N·m",
	)

	sheet["checks"] = []string{"clean", "seated"}
	a := p.Post(path, sheet)
	if a.Status != http.StatusSeeOther || !strings.HasPrefix(a.Location, "/balance-jobs/") {
		t.Fatalf("%d to %q: %s", a.Status, a.Location, a.Body)
	}
	if again := p.Post(path, sheet); again.Location != strings.Replace(a.Location, "said=done", "said=repeated", 1) {
		t.Errorf("sent twice: %d to %q", again.Status, again.Location)
	}

	p.Get(a.Location).
		Wants(t, http.StatusOK, "Within the limit", "shown, inner plane: 400° taken as 40°", "125 g",
			"8 oz by the maker", "beads seated all around", "443 lb·ft")
	p.Get(path).Wants(t, http.StatusOK, `value="210.0 mm"`, "Within the limit.")
	p.Get("/tires/"+string(y.Tires["1L"].ID)).Wants(t, http.StatusOK, "/balance-jobs/")

	modeltest.Must(
		y.Fleet.Record(
			t.Context(),
			y.System,
			&models.Repair{
				Meta: models.Meta{
					ID:        modeltest.NewID[models.EventID](),
					VehicleID: y.Vehicle.ID,
					At:        webtest.Now(),
				},
				Position:  "1R",
				What:      "plug and patch",
				Demounted: true,
			},
		),
	)(t)

	p.Get("/vehicles/"+string(y.Vehicle.ID)).Wants(t, http.StatusOK, "/bench/1R\">Open the bench</a>")
	p.Get("/vehicles/"+string(y.Vehicle.ID)+"/bench/1R").Wants(t, http.StatusOK, `<option value="fitted" selected>`)
}

// TestComplaintToCure is a whole job in a browser: a complaint, check spins, the
// culprit, weights proposed, fitted and verified, and the finding closed.
func TestComplaintToCure(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")
	b := webtest.NewBrowser(t, 2*time.Minute)
	base := y.Server.URL
	vehicle := base + "/vehicles/" + string(y.Vehicle.ID)
	b.Run(t, "phone", chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile))
	b.SignIn(t, base, "odd@fleet.example", webtest.Password)

	set := func(name, value string) chromedp.Action[chromedp.Void] {
		return chromedp.SetValue(chromedp.CSS(`[name="`+name+`"]`), value)
	}

	press := func(what string) chromedp.Action[chromedp.Void] {
		return chromedp.Click(chromedp.CSS(`button[value="` + what + `"]:not(.hide)`))
	}

	b.Run(
		t,
		"complain",
		chromedp.Navigate(vehicle+"/do/vibration"),
		set("starts_kmh", "45"),
		set("worst_kmh", "60"),
		chromedp.Click(chromedp.CSS(`[name="felt_at"][value="steering_wheel"]`)),
		chromedp.Click(chromedp.CSS("button.big")),
		chromedp.WaitVisible(chromedp.CSS("#open")),
	)

	b.Run(t, "find", chromedp.Navigate(vehicle+"/find-wheel"), chromedp.WaitVisible(chromedp.CSS("a.big")))
	b.Text(t, "Check spin at 1L")
	b.Shot(t, "find-wheel")

	spin := func(outer string) {
		b.Run(
			t,
			"spin",
			chromedp.Click(chromedp.CSS("a.big")),
			chromedp.WaitVisible(chromedp.CSS("#entry")),
			set("shown.outer.mass", outer),
			set("shown.outer.angle", "120"),
			set("shown.inner.mass", "0"),
			set("shown.inner.angle", "0"),
			press("save"),
			chromedp.WaitVisible(chromedp.CSS(".jobcard")),
		)
	}

	spin("0")
	b.Text(t, "Within the limit")
	b.Run(t, "next", chromedp.Navigate(vehicle+"/find-wheel"), chromedp.WaitVisible(chromedp.CSS("a.big")))
	b.Text(t, "Check spin at 1R")
	spin("8")
	b.Text(t, "Over the limit")
	b.Run(t, "culprit", chromedp.Navigate(vehicle+"/find-wheel"), chromedp.WaitVisible(chromedp.CSS("a.big")))

	b.Text(t, "Balance 1R")

	b.Run(
		t,
		"open the bench",
		chromedp.Click(chromedp.CSS("a.big")),
		chromedp.WaitVisible(chromedp.CSS("#entry")),
		set("geometry.outer_radius", "285"),
		set("geometry.inner_radius", "285"),
		set("geometry.inner_offset", "210"),
		chromedp.Click(chromedp.CSS("#weights_off")),
		set("shown.outer.mass", "8"),
		set("shown.outer.angle", "120"),
		set("shown.inner.mass", "3"),
		chromedp.SendKeys(chromedp.CSS(`[name="shown.inner.angle"]`), "300"),
	)

	b.Run(t, "worked out by the script", chromedp.WaitVisible(chromedp.CSS("#benchresult table.sets")))
	b.Shot(t, "bench-phone")
	b.View(t, "bench-phone-1")
	b.Run(t, "take", press("take"), chromedp.WaitVisible(chromedp.CSS(`[name="fitted.0.mass"]:not([value=""])`)))
	b.Text(t, "Your choice")

	mass := chromedp.Evaluate[string](`document.querySelector('[name="fitted.0.mass"]').value`)
	if v := webtest.Ask(t, b, "taken", mass); v == "" {
		t.Error("the proposal was not taken over")
	}

	b.Run(t, "desk", chromedp.EmulateViewport(1280, 900))
	b.Shot(t, "bench-desk")

	b.Run(
		t,
		"record",
		set("after.outer.mass", "0"),
		set("after.outer.angle", "0"),
		set("after.inner.mass", "0"),
		set("after.inner.angle", "0"),
		press("save"),
		chromedp.WaitVisible(chromedp.CSS(".jobcard")),
	)

	b.Text(t, "Within the limit")
	b.Shot(t, "job-card")

	for name, media := range map[string]emulation.SetEmulatedMediaParams{"job-card-print": {Media: "print"},
		"job-card-dark": {Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}}}} {
		modeltest.Must(chromedp.Call(b, emulation.SetEmulatedMedia, media))(t)
		b.Shot(t, name)
	}

	modeltest.Must(chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{}))(t)
	b.Run(t, "drive", chromedp.Navigate(vehicle+"/find-wheel"), chromedp.WaitVisible(chromedp.CSS("table")))
	b.Text(t, "was over and is balanced now")

	b.Run(
		t,
		"settle",
		chromedp.Navigate(vehicle+"/find-wheel"),
		chromedp.Click(chromedp.CSS(`a[href*="settles="]`)),
		chromedp.WaitVisible(chromedp.CSS("#entry")),
		chromedp.Click(chromedp.CSS("button.big")),
		chromedp.WaitVisible(chromedp.CSS("#open")),
	)

	v := modeltest.Must(y.Fleet.Vehicle(t.Context(), y.System, y.Vehicle.ID))(t)
	for _, f := range v.Findings {
		if f.Code == models.VibrationOpen || f.Code == models.BalanceOverLimit {
			t.Errorf("still open: %s", f.Title)
		}
	}

	b.Check(t, base)
}

// TestBenchSums: half the difference and half the sum of two spins half a turn
// apart (three-run method of textbooks); cosine readings have the harmonic they
// were made of; 60 g lost at 120 degrees is cured there.
func TestBenchSums(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)

	p := y.SignedIn("odd@fleet.example")
	for path, text := range map[string]string{
		// 10 oz, then 4 oz opposite: tire (10+4)/2 = 7 oz, wheel 10-7 = 3 oz; turned against each other 4 oz.
		"/bench?sum=index&radius=285&apart=200&turn=180&first.outer.mass=10+oz&first.outer.angle=0&first.inner.mass=0&second.outer.mass=4+oz&second.outer.angle=180&second.inner.mass=0": "then ask for 4.00 oz (113 g)",
		// By hand: tire 2 mm peak to peak at the valve and wheel 1 mm at 90 degrees make sqrt(5) = 2.24 mm.
		"/bench?sum=readings&assembly=1+1.061+0.5+-0.354+-1+-1.061+-0.5+0.354&wheel=0+0.354+0.5+0.354+0+-0.354+-0.5+-0.354": "Turn the tire 270 degrees clockwise on the wheel: it runs out by 2.24 mm now, and by 1.00 mm then",
		"/bench?sum=readings&assembly=1+2&wheel=1":                       "fewer than eight",
		"/bench?sum=marks&high=70&low=200":                               "Turn the tire 130° clockwise",
		"/bench?sum=marks&high=70":                                       "maker&#39;s key",
		"/bench?sum=half&from=tire_mark&first=20&second=25&outside=510":  "the tire is at fault",
		"/bench?sum=half&from=tire_mark&first=20&second=205&outside=510": "the wheel is at fault",
		"/bench?sum=half&from=valve&first=20&second=25&outside=510":      "the wheel is at fault",
		"/bench?sum=half&from=valve&first=20&second=205&outside=510":     "the tire is at fault",
		"/bench?sum=half&first=20&second=25&outside=510":                 "the answer turns around with it",
		"/bench?sum=half&from=valve&first=20&second=25&outside=0":        "zero radius",
		"/bench?sum=lost&rim=285&lost=60+g&at=480":                       "(60 g) at 120°",
		"/bench?sum=lost&rim=0&lost=60+g&at=10":                          "measure from the axle",
		// By hand: 100 g at depth 0 weighs as 150 g at depth 50 and -50 g at depth 150 (sum 100, first moment 150*50 - 50*150 = 0).
		"/bench?sum=planes&from.outer.radius=200&from.inner.radius=200&from.inner.depth=200&to.outer.radius=200&to.outer.depth=50&to.inner.radius=200&to.inner.depth=150&outer.mass=100+g&outer.angle=0&inner.mass=0": "(150 g) at 0°, the inner for 1.76 oz (50 g) at 180°",
		"/bench?sum=planes&from.outer.radius=200&from.inner.radius=200&from.inner.depth=200&to.outer.radius=200&to.inner.radius=200&outer.mass=100+g&outer.angle=0":                                                   "no distance between the planes",
		"/bench?sum=planes&from.outer.radius=0&from.inner.radius=200&from.inner.depth=200&outer.mass=100+g&outer.angle=0":                                                                                             "zero radius",
		// 6 at 60 and with 50 g at 0 degrees 6 at 180: the weight does 10.39 at 210, so 50 * 6 / 10.39 = 28.9 g at 180 + 60 - 210 = 30.
		"/bench?sum=trial&asis.0.amount=6&asis.0.deg=60&run.0.mass=50+g&run.0.deg=0&run.0.0.amount=6&run.0.0.deg=180":                                                                                                                                                    "Plane 1: 1.02 oz (29 g) at 30°",
		"/bench?sum=trial&asis.0.amount=6&asis.0.deg=60&run.0.mass=50+g&run.0.deg=0&run.0.0.amount=6&run.0.0.deg=60":                                                                                                                                                     "trial weight with no effect",
		"/bench?sum=trial&asis.0.amount=6&asis.0.deg=0&asis.1.amount=5&asis.1.deg=0&run.0.mass=50+g&run.0.deg=0&run.0.0.amount=8&run.0.0.deg=0&run.0.1.amount=7&run.0.1.deg=0&run.1.mass=50+g&run.1.deg=0&run.1.0.amount=8&run.1.0.deg=0&run.1.1.amount=7&run.1.1.deg=0": "singular influence coefficients",
		// amplitude² = 5² + 3² + 2*5*3*cos d with the heavy side at 90: 30 g do 3, so 50 g at 270.
		"/bench?sum=positions&asis=5&mass=30+g&at.1=0&read.1=5.831&at.2=120&read.2=7.745&at.3=240&read.3=2.832": "(50 g) at 270°",
		"/bench?sum=positions&asis=5&mass=30+g&at.1=0&read.1=5&at.2=120&read.2=5&at.3=240&read.3=5":             "no effect",
		"/bench?sum=positions&asis=5&mass=30+g&at.1=0&read.1=5":                                                 "too few",
		"/bench?sum=trial&asis.0.amount=much":                                                                   "Not worked out",
		"/bench":                                                                                                "Half turn",
	} {
		if a := p.Get(path); a.Status != http.StatusOK || !strings.Contains(a.Body, text) {
			_, main, _ := strings.Cut(a.Body, "<main")
			t.Errorf("%s: %d, the page lacks %q: %.900s", path, a.Status, text, main)
		}
	}
}

// TestLooseBench: a tire on a wheel, not on a vehicle.
func TestLooseBench(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")

	tire := modeltest.Must(
		y.Fleet.CreateTire(
			t.Context(),
			y.System,
			models.Tire{
				ID:        modeltest.NewID[models.TireID](),
				DepotID:   y.Depot.ID,
				Number:    "L1",
				Size:      "205/55R16 91V",
				NewDepths: []units.Length{8 * units.Millimetre},
			},
		),
	)(t)

	path := "/tires/" + string(tire.ID) + "/bench"
	p.Get(path).Wants(t, http.StatusOK, "loose assembly")

	// Hidden behind two spokes 120 degrees apart: more than 100 warns.
	p.Post(path, benchSheet(
		"do", "work", "mode", "hidden", "planes", "band_and_flange", "geometry.adhesive_radius", "190",
		"geometry.adhesive_offset", "60", "geometry.inner_radius", "203", "geometry.inner_offset", "190",
		"geometry.spokes", "0 120 240", "segments", "5 g", "clips", "5 g 10 g 15 g 20 g 25 g 30 g",
		"shown.outer.mass", "40 g", "shown.outer.angle", "30", "shown.inner.mass", "20 g",
	)).Wants(t, http.StatusOK, "In the open it would be", "hiding costs", "there is no spot for 120 deg",
		"0.25 oz", "spoke 1")

	// Strips are as long in the technician's choice as in the proposal that it takes over.
	taken := p.Post(
		path,
		benchSheet(
			"do", "take", "mode", "hidden", "planes", "band_and_flange", "geometry.adhesive_radius", "190",
			"geometry.adhesive_offset", "60", "geometry.inner_radius", "203", "geometry.inner_offset", "190",
			"geometry.spokes", "0 72 144 216 288", "segments", "5 g", "clips", "5 g 20 g",
			"shown.outer.mass", "90 g", "shown.outer.angle", "30", "shown.inner.mass", "20 g",
		),
	)

	leftRow := regexp.MustCompile(`<th scope="row">left</th><td>(.*?)</td><td>(.*?)</td>`)
	if left := leftRow.FindStringSubmatch(taken.Body); left == nil ||
		left[1] != left[2] ||
		!strings.Contains(left[1], "outer 0.") {
		t.Errorf("the proposal leaves, and taken over it leaves: %q", left)
	}

	a := p.Post(
		path,
		benchSheet(
			"do", "save", "why", "fitted", "fitted.0.mass", "75 g", "fitted.0.plane", "outer",
			"fitted.0.angle", "230", "fitted.1.mass", "120 g", "fitted.1.plane", "inner",
			"fitted.1.angle", "45", "after.outer.mass", "12 g", "after.outer.angle", "230",
			"after.inner.mass", "0",
		),
	)

	if a.Status != http.StatusSeeOther {
		t.Fatalf("%d: %.900s", a.Status, a.Body)
	}

	p.Get(a.Location).Wants(t, http.StatusOK, "Over the limit", "remount, check bead seat", "loose assembly")
}

// TestWeightsGoElsewhere: the machine shows the flanges, the weights go on the bands.
// By hand: 100 g at depth 0 weighs as 150 g at depth 50 and -50 g at depth 150 (sum
// 100, first moment 150*50 - 50*150 = 0). What is blocked on one place alone is free
// on the others, the wheel keeps it, and the job says where each weight sits.
func TestWeightsGoElsewhere(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	path := "/vehicles/" + string(y.Vehicle.ID) + "/bench/1L"

	bands := func(with ...string) url.Values {
		v := benchSheet(
			append(
				[]string{
					"geometry.outer_radius", "200", "geometry.inner_radius", "200",
					"geometry.inner_offset", "200", "geometry.adhesive_radius", "200",
					"geometry.adhesive_offset", "50", "geometry.back_radius", "200",
					"geometry.back_offset", "150", "clips", "", "segments", "50 g 150 g",
					"shown.outer.mass", "100 g", "shown.outer.angle", "0", "shown.inner.mass", "0",
					"shown.inner.angle", "0",
				},
				with...)...)

		v["places"] = []string{"band", "back_band"}
		return v
	}

	fit := func(a webtest.Answer) string {
		row := regexp.MustCompile(`(?s)<tr class="fit">.*?</td>`).FindString(a.Body)
		return strings.Join(strings.Fields(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(row, " ")), " ")
	}

	open := p.Post(path, bands("do", "work"))
	open.Wants(t, http.StatusOK, "weights on adhesive band, back band", "Adhesive weights hold on")
	if got, want := fit(open), "fit 0° 5.29 oz adhesive band 180° 1.76 oz back band"; got != want {
		t.Errorf("proposed: %q, want %q", got, want)
	}
	free := fit(p.Post(path, bands("do", "work", "geometry.blocked.outer_flange", "350-10")))
	if got := free; got != "fit 0° 5.29 oz adhesive band 180° 1.76 oz back band" {
		t.Errorf("with the outer flange blocked: %q", got)
	}

	for field, gone := range map[string]string{"geometry.blocked.band": " 0° 5.29 oz adhesive band", "geometry.blocked.back_band": "180° 1.76 oz back band", "geometry.blocked": " 0° 5.29 oz adhesive band"} {
		arc := "350-10"
		if field == "geometry.blocked.back_band" {
			arc = "170-190"
		}
		if got := fit(p.Post(path, bands("do", "work", field, arc))); got == "" || strings.Contains(got, gone) {
			t.Errorf("%s at %s: %q", field, arc, got)
		}
	}

	taken := p.Post(path, bands("do", "take"))
	if _, own, _ := strings.Cut(taken.Body, `id="step3"`); strings.Count(own, `<option value="band" selected>`) != 1 ||
		strings.Count(own, `<option value="back_band" selected>`) != 1 {
		t.Error("the proposal is not taken over with its places")
	}

	a := p.Post(
		path,
		bands(
			"do", "save", "geometry.blocked.band", "350-10", "geometry.spoke_width", "40",
			"fitted.0.mass", "150 g", "fitted.0.plane", "band", "fitted.0.angle", "0", "fitted.1.mass", "50 g",
			"fitted.1.plane", "back_band", "fitted.1.angle", "180", "after.outer.mass", "0",
			"after.inner.mass", "0",
		),
	)

	if a.Status != http.StatusSeeOther {
		t.Fatalf("%d: %.900s", a.Status, a.Body)
	}

	p.Get(a.Location).Wants(t, http.StatusOK, "adhesive, adhesive band", "adhesive, back band")
	p.Get(path).
		Wants(t, http.StatusOK, `name="geometry.blocked.band" value="350-10"`,
			`name="geometry.spoke_width" value="40.0 mm"`, "nothing fits at 350-10° on the adhesive band")

	// Wide strips behind narrow spokes are not proposed: 12 segments of 16 mm are 192 mm long.
	hidden := benchSheet(
		"do", "work", "mode", "hidden", "geometry.adhesive_radius", "240", "geometry.adhesive_offset", "60",
		"geometry.spokes", "0 72 144 216 288", "segments", "25 g",
	)

	wide := p.Post(path, hidden)
	wide.Wants(t, http.StatusOK, "weights on adhesive band, inner flange", "spoke ")
	hidden.Set("geometry.spoke_width", "20")
	if got := fit(p.Post(path, hidden)); strings.Contains(fit(wide), "25 g spoke") || got == fit(wide) ||
		strings.Contains(got, "1.76 oz adhesive") {
		t.Errorf("a spoke 20 mm wide hides %q, a wide one %q", got, fit(wide))
	}
}

// TestLooseJobIsWithdrawn: a job of a loose assembly is withdrawn with a reason
// from its card, from the tire and by its own form, as one on a vehicle is; also
// when the tire was fitted since.
func TestLooseJobIsWithdrawn(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")

	tire := modeltest.Must(
		y.Fleet.CreateTire(
			t.Context(),
			y.System,
			models.Tire{
				ID:        modeltest.NewID[models.TireID](),
				DepotID:   y.Depot.ID,
				Number:    "L1",
				Size:      "295/75R22.5",
				NewDepths: []units.Length{18 * units.Millimetre},
			},
		),
	)(t)

	page := "/tires/" + string(tire.ID)
	job := func() (card string) {
		a := p.Post(
			page+"/bench",
			benchSheet(
				"do", "save", "check_spin", "1", "weights_off", "", "shown.outer.mass", "0",
				"shown.inner.mass", "0",
			),
		)
		if a.Status != http.StatusSeeOther {
			t.Fatalf("%d: %.900s", a.Status, a.Body)
		}

		card, _, _ = strings.Cut(a.Location, "?")
		return card
	}

	card := job()
	id := strings.TrimPrefix(card, "/balance-jobs/")
	form := page + "/withdraw?supersedes=" + id
	p.Get(card).Wants(t, http.StatusOK, form)
	p.Get(page).Wants(t, http.StatusOK, form)
	p.Get(form).Wants(t, http.StatusOK, "Balance job, check spin", `value="`+id+`" selected`)

	sent := url.Values{
		"id":         {string(modeltest.NewID[models.EventID]())},
		"made":       {webtest.Now().Format(time.RFC3339Nano)},
		"supersedes": {id},
	}
	p.Post(page+"/withdraw", sent).Wants(t, http.StatusUnprocessableEntity, "say why", `value="`+id+`" selected`)
	sent.Set("reason", "spun the wrong wheel")

	if a := y.SignedIn("vic@fleet.example"); strings.Contains(a.Get(card).Body, "/withdraw") ||
		a.Post(page+"/withdraw", sent).Status != http.StatusForbidden {
		t.Error("who may only look is offered to withdraw, or may")
	}

	p.Post(page+"/withdraw", sent).Wants(t, http.StatusSeeOther)
	said := " by Odd Fennimore: spun the wrong wheel"
	p.Get(card).Wants(t, http.StatusOK, "This entry no longer counts: withdrawn ", said)
	p.Get(page).Wants(t, http.StatusOK, said, "No balance job is in the record.")

	if strings.Contains(p.Get(card).Body, "/withdraw?") {
		t.Error("a withdrawn job can be withdrawn again")
	}

	sent.Set("id", string(modeltest.NewID[models.EventID]()))
	p.Post(page+"/withdraw", sent).Wants(t, http.StatusUnprocessableEntity, "was already superseded")

	second := strings.TrimPrefix(job(), "/balance-jobs/")

	modeltest.Must(
		y.Fleet.Record(
			t.Context(),
			y.System,
			&models.Fit{
				Meta: models.Meta{
					ID:        modeltest.NewID[models.EventID](),
					VehicleID: y.Vehicle.ID,
					At:        webtest.Now(),
				},
				Fittings: []models.Fitting{{TireID: tire.ID, Position: "SP1"}},
			},
		),
	)(t)

	sent.Set("id", string(modeltest.NewID[models.EventID]()))
	sent.Set("supersedes", second)
	p.Post(page+"/withdraw", sent).Wants(t, http.StatusSeeOther)

	if got := modeltest.Must(y.Fleet.Tire(t.Context(), y.System, tire.ID))(t).State; got.Balance != nil ||
		got.Position != "SP1" {
		t.Errorf("withdrawn after it was fitted: %+v", got)
	}
}

// TestLooseAssemblyOnItsWheel: the wheels that fit the tire are offered, the chosen
// one brings its measures (rim width of 6.5 in is 165.1 mm) and keeps what the job
// measured, and the job is found again from the tire, the wheel and the bench.
func TestLooseAssemblyOnItsWheel(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")

	tire := modeltest.Must(
		y.Fleet.CreateTire(
			t.Context(),
			y.System,
			models.Tire{
				ID:        modeltest.NewID[models.TireID](),
				DepotID:   y.Depot.ID,
				Number:    "L1",
				Size:      "205/55R16 91V",
				NewDepths: []units.Length{8 * units.Millimetre},
			},
		),
	)(t)

	wheel := modeltest.Must(
		y.Fleet.CreateWheel(
			t.Context(),
			y.System,
			models.Wheel{
				ID:         modeltest.NewID[models.WheelID](),
				DepotID:    y.Depot.ID,
				Number:     "W-16",
				DiameterIn: 16,
				WidthIn:    6.5,
				Material:   "alloy",
			},
		),
	)(t)

	modeltest.Must(
		y.Fleet.CreateWheel(
			t.Context(),
			y.System,
			models.Wheel{
				ID:         modeltest.NewID[models.WheelID](),
				DepotID:    y.Depot.ID,
				Number:     "W-22",
				DiameterIn: 22.5,
				WidthIn:    8.25,
				Material:   "steel",
			},
		),
	)(t)

	path := "/tires/" + string(tire.ID) + "/bench"
	if a := p.Get(path); !strings.Contains(a.Body, "W-16, 16 × 6.5 in") || strings.Contains(a.Body, "W-22") {
		t.Error("the wheels that fit are not the ones on offer")
	}
	p.Post(path, benchSheet("do", "wheel", "wheel_id", string(wheel.ID))).
		Wants(t, http.StatusOK, "wheel W-16, alloy", `value="165.1 mm"`, `value="203.2 mm"`)

	nowhere := benchSheet("do", "save", "wheel_id", modeltest.NewID[string](), "fitted.0.mass", "25 g")
	if a := p.Post(path, nowhere); a.Status != http.StatusUnprocessableEntity ||
		!strings.Contains(a.Body, "is not a wheel in the record") {
		t.Errorf("a wheel that is not there: %d", a.Status)
	}

	a := p.Post(
		path,
		benchSheet(
			"do", "save", "wheel_id", string(wheel.ID), "geometry.inner_offset", "160", "check_spin", "1",
			"weights_off", "", "shown.outer.mass", "0", "shown.inner.mass", "0",
		),
	)

	if a.Status != http.StatusSeeOther {
		t.Fatalf("%d: %.900s", a.Status, a.Body)
	}

	card, _, _ := strings.Cut(a.Location, "?")
	p.Get(a.Location).Wants(t, http.StatusOK, "wheel W-16", "Within the limit")
	p.Get(path).Wants(t, http.StatusOK, "wheel W-16, alloy", `value="160.0 mm"`, card)
	p.Get("/tires/"+string(tire.ID)).Wants(t, http.StatusOK, card, "All balance jobs (1)")
	p.Get("/wheels?depot="+string(y.Depot.ID)).
		Wants(t, http.StatusOK, card, "balance job of", "/wheels/"+string(wheel.ID))

	// A second job finds 12 g more in the outer plane: by hand 12 - 0.
	again := func() webtest.Answer {
		return p.Post(
			path,
			benchSheet(
				"do", "save", "wheel_id", string(wheel.ID), "check_spin", "1", "weights_off", "",
				"shown.outer.mass", "12 g", "shown.inner.mass", "0",
			),
		)
	}

	// Its card draws what was shown, with nothing fitted or proposed.
	a = p.Get(again().Location)
	a.Wants(t, http.StatusOK, "outer plane: still add 0.42 oz (12 g) at 230°", "inner plane: nothing left")
	if strings.Contains(a.Body, "proposed 0") {
		t.Error("the card of a check spin proposes weights")
	}

	drift := "with the weights left on, what it asks for has changed: outer 0.42 oz at 230°, inner nothing"
	p.Get("/wheels/"+string(wheel.ID)).
		Wants(t, http.StatusOK, "Wheel W-16", card, "tire L1", "loose assembly", drift, "inner flange: radius 285.0 "+
			"mm, 210.0 mm inward", "It was not measured.")
	p.Get("/tires/"+string(tire.ID)).Wants(t, http.StatusOK, "All balance jobs (2)", drift)
	p.Get(again().Location).Wants(t, http.StatusOK, "what it asks for has not changed")
}

// TestBoxIsKept: the bench proposes from the depot's box, keeps another one for
// everybody, and says so where an old page would overwrite it.
func TestBoxIsKept(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	path := "/vehicles/" + string(y.Vehicle.ID) + "/bench/1L"

	box := func(clips string, version int64) url.Values {
		return benchSheet("do", "box", "clips", clips, "segments", "", "box_version", strconv.FormatInt(version, 10))
	}
	old := y.Depot.Version
	kept := p.Post(path, box("85 g; 120 g", old))
	kept.Wants(t, http.StatusOK, "clips 85 g to 120 g (2 sizes), no segments")
	p.Get(path).Wants(t, http.StatusOK, `value="85 g; 120 g"`, y.Depot.Name+"’s: clips 85 g to 120 g")

	p.Post(path, benchSheet("do", "work", "clips", "85 g; 120 g", "segments", "")).
		Wants(t, http.StatusOK, "left</th><td>outer nothing<br>inner nothing")
	p.Post(path, box("10 g", old)).
		Wants(t, http.StatusConflict, "someone saved the depot meanwhile", "clips 85 g to 120 g", `value="10 g"`)
	p.Post(path, box("3000 g", old+1)).
		Wants(t, http.StatusUnprocessableEntity, "at most 2000 g")

	many := benchSheet("do", "box", "clips", "many", "segments", "")
	if a := p.Post(path, many); a.Status != http.StatusUnprocessableEntity ||
		!strings.Contains(a.Body, `href="#clips"`) {
		t.Errorf("no mass: %d", a.Status)
	}

	y.SignedIn("mara@fleet.example").
		Get("/settings/depots/"+string(y.Depot.ID)).
		Wants(t, http.StatusOK, "Box of balance weights", `value="85 g; 120 g"`)
}
