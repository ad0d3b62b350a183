package yard_test

import (
	"fmt"
	"math"
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/pattern"
)

// wave32 is the depth in whole 32nds at an angle: n cups, 4/32 in from crest to dip.
func wave32(n int, deg float64) string {
	return fmt.Sprint(10 + math.Round(2*math.Cos(float64(n)*deg*math.Pi/180)))
}

// Where cups are felt the phone asks for their number first and offers unequal places, by
// angle, by the clock and by tape; what it sends names them.
func TestUnequalPlacesOnThePhone(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")
	s := y.Open()
	p := webtest.Hold(t, webtest.NewBrowser(t, 2*time.Minute))
	p.SignIn(t, s.URL(""), "odd@fleet.example", webtest.Password)
	p.To(s.URL("/vehicles/" + string(y.Vehicle.ID) + "/inspect"))

	p.Tap("Odometer unknown")
	p.Tap("cups")
	p.Shows("Count the cups all around by hand.")
	p.Shows("Then measure 8 unequal places")
	p.Tap("8 places")
	p.Shows("8 evenly spaced places cannot tell 1 cup from 7 or 9")
	p.Tap("8 unequal places")
	p.Shows("320° 10:40")
	p.Until(`!document.body.innerText.includes("evenly spaced places cannot tell")`)

	// On a tread of 3240 mm a degree is 9 mm long.
	p.Until(`(() => { const tape = document.querySelector('[name="1L tape"]'); tape.value = "3240";
		tape.dispatchEvent(new Event("change")); return true; })()`)
	p.Shows("2880 mm")
	const width = `document.documentElement.scrollWidth`
	if wide := webtest.Ask(t, p.Browser, "width", chromedp.Evaluate[int](width)); wide > 360 {
		t.Errorf("the page is %d px wide on a screen of 360", wide)
	}
	p.Shot(t, "unequal-places")

	for _, deg := range pattern.UnequalStations() {
		for range 3 {
			p.Tap(wave32(9, deg) + "/32")
		}
	}
	p.Tap("Summary")
	p.Tap("#send")
	p.Shows("Inspection recorded")

	sent := y.Inspections(y.Vehicle.ID)[0].(*models.Inspection).Readings[0]
	if len(sent.Stations) != 8 || sent.Stations[6].Deg != 320 || sent.Stations[6].Text != "320°" {
		t.Errorf("the record holds places %+v", sent.Stations)
	}
}

// What the phone proposes is what the analysis was searched for.
func TestPhoneProposesTheSamePlaces(t *testing.T) {
	t.Parallel()

	var places []string
	for _, deg := range pattern.UnequalStations() {
		places = append(places, fmt.Sprint(deg))
	}

	script := modeltest.Must(os.ReadFile("../static/around.js"))(t)
	if want := "UNEQUAL = [" + strings.Join(places, ", ") + "]"; !strings.Contains(string(script), want) {
		t.Errorf("around.js lacks %s", want)
	}
}

// Nine cups on eight even places look like one side worn more: the question to count them
// stands on the place's page and goes to the phone. Unequal places on the plain form tell.
func TestCountIsAskedFor(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	vehicle := "/vehicles/" + string(y.Vehicle.ID)

	fill := func(stations, others string, degrees []float64) {
		form := y.Inspection(others)
		form.Set("stations", stations)
		for g := range 3 {
			for k, deg := range degrees {
				form.Set(fmt.Sprintf("p.1L.d%d.%d", g, k), wave32(9, deg))
			}
		}
		p.Post(vehicle+"/inspect", form).Wants(t, http.StatusSeeOther)
	}

	fill("8", "10", []float64{0, 45, 90, 135, 180, 225, 270, 315})
	const ask = "1, 7 or 9 dips look alike at these 8 places: count the dips around the tire by hand"
	p.Get(vehicle+"/at/1L").Wants(t, http.StatusOK, ask)
	p.Get("/yard/sheet?vehicle="+string(y.Vehicle.ID)).Wants(t, http.StatusOK, ask)

	p.Get(vehicle+"/inspect?plain=1&stations=unequal").Wants(t, http.StatusOK, "at 320°", `value="unequal"`)
	fill("unequal", "9", pattern.UnequalStations())
	p.Get(vehicle+"/at/1L").Wants(t, http.StatusOK, "9 dips around the tire", "330°")
	p.Get(vehicle).Wants(t, http.StatusOK, "read at 0°, 20°, 80°, 100°, 200°, 290°, 320°, 330°")
}
