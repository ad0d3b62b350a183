package work_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
)

// shakeForm is a vibration report as its page sends it.
func shakeForm(pairs ...string) url.Values {
	f := url.Values{"id": {modeltest.NewID[string]()}, "made": {webtest.Now().Format(time.RFC3339Nano)}}
	for i := 0; i < len(pairs); i += 2 {
		f.Add(pairs[i], pairs[i+1])
	}
	return f
}

// The classic course of an order that meets a resonance: felt from 28 to 39 mph (45 to 62
// km/h), gone, back and stronger at 53 to 56 mph. It is entered on a 360 px phone, and the
// search for the wheel draws it.
func TestShakeComesBack(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")
	b := webtest.NewBrowser(t, 2*time.Minute)
	base := y.Server.URL
	vehicle := base + "/vehicles/" + string(y.Vehicle.ID)
	b.Run(t, "phone", chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch))
	b.SignIn(t, base, "odd@fleet.example", webtest.Password)

	field := func(name string) chromedp.CSS { return chromedp.CSS(`[name="` + name + `"]`) }
	place := func(name string) chromedp.CSS { return chromedp.CSS(`[name="felt_at"][value="` + name + `"]`) }
	b.Run(t, "fill in", chromedp.Navigate(vehicle+"/do/vibration"), chromedp.WaitVisible(chromedp.ID("entry")),
		chromedp.SendKeys(field("starts_kmh"), "28"), chromedp.SendKeys(field("fades_kmh"), "39"),
		chromedp.SetValue(field("strength"), "light"),
		chromedp.SendKeys(field("starts_kmh.2"), "53"), chromedp.SendKeys(field("fades_kmh.2"), "56"),
		chromedp.SetValue(field("strength.2"), "strong"),
		chromedp.Click(place("steering_wheel")), chromedp.Click(place("dash")))
	if wide := webtest.Ask(t, b, "width", chromedp.Evaluate[int](`document.documentElement.scrollWidth`)); wide > 360 {
		t.Errorf("the form is %d px wide on a screen of 360", wide)
	}

	b.Run(t, "send", chromedp.Click(chromedp.CSS("button.big")), chromedp.WaitVisible(chromedp.CSS("#open")))
	b.Reads(t, "28 mph to 39 mph (light) and again 53 mph to 56 mph (strong), felt at the steering wheel and dash",
		"two pushes a turn meet wheel hop", "one push a turn meets wheel hop")

	b.Run(t, "find", chromedp.Navigate(vehicle+"/find-wheel"), chromedp.WaitVisible(chromedp.CSS("svg .shake")))
	b.Reads(t, "starts 28 mph, fades 39 mph", "starts 53 mph, fades 56 mph", "two pushes a turn", "one push a turn")
	if n := webtest.Ask(t, b, "bands", chromedp.Evaluate[int](`document.querySelectorAll("svg .shake").length`)); n != 2 {
		t.Errorf("%d bands are drawn, want 2", n)
	}
	if wide := webtest.Ask(t, b, "width", chromedp.Evaluate[int](`document.documentElement.scrollWidth`)); wide > 360 {
		t.Errorf("the search is %d px wide on a screen of 360", wide)
	}
	b.Shot(t, "find-wheel-course")
	b.Check(t, base)
}

// What cannot be is told beside its field, and what was typed stays.
func TestShakeRefused(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	path := "/vehicles/" + string(y.Vehicle.ID) + "/do/vibration"

	for _, c := range []struct {
		name  string
		form  url.Values
		field string
		want  string
	}{
		{"bands that overlap", shakeForm("starts_kmh", "28", "fades_kmh", "39", "starts_kmh.2", "38"), "starts_kmh.2",
			"overlaps another band"},
		{"worst above the end", shakeForm("starts_kmh.2", "50", "worst_kmh.2", "60", "fades_kmh.2", "55"),
			"fades_kmh.2", "is below where it starts or is worst"},
		{"worst below the start", shakeForm("starts_kmh", "50", "worst_kmh", "40"), "worst_kmh",
			"is below where it starts, 50 mph"},
		{"a strength without a speed", shakeForm("strength.3", "strong"), "starts_kmh.3", "has a speed"},
		{"a place that is none", shakeForm("felt_at", "roof"), "felt_at", "must be one of"},
		{"faster than any truck", shakeForm("worst_kmh", "200"), "worst_kmh", "to 250 km/h"},
	} {
		a := p.Post(path, c.form)
		a.Wants(t, http.StatusUnprocessableEntity, c.want, `id="`+c.field+`"`)
		for name, typed := range c.form {
			if strings.Contains(name, "kmh") && !strings.Contains(a.Body, `name="`+name+`" value="`+typed[0]+`"`) {
				t.Errorf("%s: %s lost %q", c.name, name, typed[0])
			}
		}
	}
}

// A report stored before there were bands reads as one with a list of one.
func TestShakeOfOneBandIsDrawn(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	modeltest.Must(y.Fleet.Record(t.Context(), y.System, &models.Vibration{
		Meta:      models.Meta{ID: modeltest.NewID[models.EventID](), VehicleID: y.Vehicle.ID, At: webtest.Now()},
		StartsKMH: 80.4672, WorstKMH: 96.56064, FeltAt: "seat"}))(t)

	vehicle := "/vehicles/" + string(y.Vehicle.ID)
	p.Get(vehicle).Wants(t, http.StatusOK, "starts 50 mph, worst 60 mph, felt in the seat")
	p.Get(vehicle+"/find-wheel").Wants(t, http.StatusOK, "starts 50 mph, worst 60 mph", `class="shake open"`,
		"Worst at 60 mph, felt at the seat")
}
