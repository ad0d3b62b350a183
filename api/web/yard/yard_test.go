package yard_test

import (
	"image"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/units"
)

// TestTaps inspects a vehicle with ten wheels at one place around each tire, on a
// 360 px touch screen, with at most 90 taps: in mm, which take more than 32nds.
func TestTaps(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")

	metric := modeltest.Must(
		y.Fleet.CreateDepot(
			t.Context(),
			y.System,
			models.Depot{ID: modeltest.NewID[models.DepotID](), Name: "Birch Yard", TimeZone: "Europe/Oslo",
				Jurisdiction: "EU", Units: units.Metric, Currency: "EUR"},
		),
	)(
		t,
	)

	bar := modeltest.Must(models.ParsePressure("800 kPa", units.BareNone))(t)
	v := modeltest.Must(
		y.Fleet.CreateVehicle(
			t.Context(),
			y.System,
			models.Vehicle{
				ID:         modeltest.NewID[models.VehicleID](),
				DepotID:    metric.ID,
				Number:     "B-10",
				Class:      models.RigidTruck,
				ParkingRow: "2",
				MaxMassKG:  26_000,
				Axles: []models.Axle{
					{Steered: true, Pressure: bar},
					{Driven: true, Dual: true, Pressure: bar},
					{Driven: true, Dual: true, Pressure: bar},
				},
			},
		),
	)(
		t,
	)

	y.Mount(v, "B")
	s := y.Open()
	p := ownPhone(t, time.Minute)
	p.SignIn(t, s.URL(""), "odd@fleet.example", webtest.Password)
	p.To(s.URL("/vehicles/" + string(v.ID) + "/inspect"))

	for _, key := range []string{"3 km", "2 km", "2 km", "5 km", "0 km", "0 km", "OK"} {
		p.Tap(key)
	}

	for i := range v.WalkingOrder() {
		for range 3 {
			p.Tap("11 mm")
			p.Tap([]string{"11.4 mm", "11.2 mm"}[i%2])
		}

		p.Tap("790 kPa")
		if wide := webtest.Ask(t, p.Browser, "width", chromedp.Evaluate[int](`document.documentElement.scrollWidth`)); wide > 360 {
			t.Fatalf("place %d is %d px wide on a screen of 360", i, wide)
		}

		p.Tap("#yard .next")
	}

	p.Shows("Summary")
	p.Tap("#send")
	p.Shows("Inspection recorded")
	t.Logf("%d taps", p.Taps)

	if p.Taps > 90 {
		t.Errorf("%d taps for ten wheels, want at most 90", p.Taps)
	}

	got := y.Inspections(v.ID)
	if len(got) != 1 || len(got[0].(*models.Inspection).Readings) != 10 {
		t.Fatalf("recorded %d inspections, want one with ten readings: %v", len(got), got)
	}

	p.Check(t, s.URL(""))
}

// picture writes a picture of this size, and returns where it is.
func picture(t *testing.T, width, height int) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "tread.png")
	f := modeltest.Must(os.Create(name))(t)
	defer f.Close()
	if err := png.Encode(f, image.NewGray(image.Rect(0, 0, width, height))); err != nil {
		t.Fatal(err)
	}
	return name
}

// ownPhone is a phone with a browser of its own, whose network can be cut.
func ownPhone(t *testing.T, limit time.Duration) *webtest.Phone {
	t.Helper()
	b, _ := webtest.NewBrowserIn(t, limit, t.TempDir())
	return webtest.Hold(t, b)
}

// TestYardWithoutNetwork is an inspection where there is no signal: the network
// is cut, the server stopped, the browser killed in the middle of an entry and
// started again; then it is sent, and what is refused is settled.
func TestYardWithoutNetwork(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")
	y.SignedIn("mara@fleet.example").
		Post("/vehicles/"+string(y.Vehicle.ID)+"/inspect", y.Inspection("10")).
		Wants(t, http.StatusSeeOther)
	s := y.Open()

	profile := t.TempDir()
	b, kill := webtest.NewBrowserIn(t, 2*time.Minute, profile)
	p := webtest.Hold(t, b)
	p.SignIn(t, s.URL(""), "odd@fleet.example", webtest.Password)
	p.Ready(s)
	walk := s.URL("/vehicles/" + string(y.Vehicle.ID) + "/inspect")

	p.Cut(true)
	p.To(walk)
	p.Shows("Last 20")

	for _, digit := range "205000" {
		p.Tap(string(digit) + " mi")
	}

	p.Tap("OK")
	p.Tap("12/32")
	p.Tap("12/32")
	s.Stop()
	kill()

	b, kill = webtest.NewBrowserIn(t, 2*time.Minute, profile)
	p = webtest.Hold(t, b)
	p.To(walk)
	p.Shows("is still here")

	// Of what was tapped, at most the field that was being entered is lost.
	kept := webtest.Ask(
		t,
		b,
		"kept",
		chromedp.Evaluate[string](`[...document.querySelectorAll(".readout input")].map((i) => i.value).join()`),
	)
	if kept != "12,12,," && kept != "12,,," {
		t.Errorf("after the kill the fields of the first wheel hold %q, want 12,12 and two empty ones", kept)
	}

	for range strings.Count(kept, ",,") + strings.Count(kept, ",,,") {
		p.Tap("12/32")
	}

	p.Tap("101 psi")
	p.Run(t, "photo", chromedp.SetUploadFiles(chromedp.CSS("#yard input[type=file]"), []string{picture(t, 2400, 1200)}))
	p.Shows("Photo (1)")
	p.Tap("#yard .next")

	for _, at := range y.Vehicle.WalkingOrder()[1:] {
		if !at.IsSpare() {
			p.Tap("9/32")
			p.Tap("9/32")
			p.Tap("9/32")
			p.Tap("101 psi")
		}
		p.Tap("#yard .next")
	}

	p.Shows("tread does not grow. Measure again")
	p.Tap("#send")
	p.Shows("Kept on this phone")
	p.To(s.URL("/yard"))
	p.Until("document.getElementById('waiting').textContent === '1 waiting'")
	p.Tap("#yard .yard-rows a")
	p.Shows("Places around each tire")

	// The session is lost too: signing in again keeps everything.
	s.Start()
	modeltest.Must(chromedp.Call(p, network.ClearBrowserCookies, cdp.Empty{}))(t)
	p.To(s.URL("/yard/waiting"))
	p.Shows("Sign in")
	p.SignIn(t, s.URL(""), "odd@fleet.example", webtest.Password)
	p.Until("document.getElementById('waiting').textContent === '1 to settle'")

	p.To(s.URL("/yard/waiting"))
	p.Shows("measure again, or confirm")
	p.Shows("tread does not grow")

	if n := len(y.Inspections(y.Vehicle.ID)); n != 1 {
		t.Fatalf("%d inspections are recorded before anything is settled, want 1", n)
	}

	p.Run(
		t,
		"tick",
		chromedp.Evaluate[chromedp.Void](
			`document.querySelectorAll("#yard input[type=checkbox]").forEach((c) => c.click())`,
		),
	)

	p.Tap("Send with what is ticked")
	p.Shows("Nothing waits")
	list := y.Inspections(y.Vehicle.ID)
	if len(list) != 2 {
		t.Fatalf("%d inspections are recorded, want 2", len(list))
	}

	first := list[0].(*models.Inspection).Readings[0]
	if len(first.Photos) != 1 || first.Position != "1L" {
		t.Fatalf("the reading at %s has %d photos, want one at 1L", first.Position, len(first.Photos))
	}
	if photo := modeltest.Must(y.Fleet.Photo(t.Context(), y.System, first.Photos[0]))(t); photo.Width != 1600 ||
		photo.Height != 800 {
		t.Errorf("the photo is kept at %d by %d pixels, want 1600 by 800", photo.Width, photo.Height)
	}

	p.To(s.URL("/vehicles/" + string(y.Vehicle.ID)))
	p.Until(
		"document.querySelector('.photos img')?.naturalWidth === 1600 || (document.querySelector('.photos " +
			"img')?.scrollIntoView(), false)",
	)

	// Who signs out takes the vehicles along.
	p.Run(t, "sign out", chromedp.Click(chromedp.CSS("#sign-out button")))
	p.Until("document.querySelector('input[name=password]') !== null")
	p.Until("caches.has('rimledger-person').then((has) => !has)")

	p.Until(
		"new Promise((done) => { const asked = indexedDB.open('rimledger'); asked.onsuccess = () => { const all = " +
			"asked.result.transaction('vehicles').objectStore('vehicles').count(); all.onsuccess = () => { " +
			"asked.result.close(); done(all.result === 0); }; }; })",
	)

	kill()
}
