package web_test

import (
	"fmt"
	"image"
	"image/png"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"rimledger/api"
	"rimledger/models"
	"rimledger/models/units"
)

// shop is the whole server, which can be stopped and started at its address.
type shop struct {
	t       testing.TB
	handler http.Handler
	address string
	stop    func()
}

func (y *testServer) open() *shop {
	y.t.Helper()
	s := &shop{
		t:       y.t,
		address: "127.0.0.1:0",
		handler: must(api.New(api.Deps{Fleet: y.fleet, Sessions: y.store.Sessions(), Version: "test"}))(y.t),
	}
	s.start()
	y.t.Cleanup(func() { s.stop() })
	return s
}

func (s *shop) start() {
	s.t.Helper()
	listener := must(net.Listen("tcp", s.address))(s.t)
	s.address = listener.Addr().String()
	server := &http.Server{Handler: s.handler, ReadHeaderTimeout: time.Minute}
	done := make(chan struct{})
	go func() { defer close(done); _ = server.Serve(listener) }()
	s.stop = func() { _ = server.Close(); <-done }
}

func (s *shop) url(path string) string { return "http://" + s.address + path }

// phone is a browser on a 360 px touch screen, whose taps are counted.
type phone struct {
	*browser
	t    *testing.T
	taps int
}

func hold(t *testing.T, b *browser) *phone {
	t.Helper()
	b.run(t, "phone", chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch))
	return &phone{browser: b, t: t}
}

// until waits for a condition on the page, also across a change of pages.
func (p *phone) until(condition string) {
	p.t.Helper()

	limit := time.Now().Add(30 * time.Second)
	for {
		_, err := chromedp.Run(
			p,
			chromedp.Poll[bool](
				condition,
				chromedp.WithPollingTimeout(time.Until(limit)),
				chromedp.WithPollingInterval(10*time.Millisecond),
			),
		)
		if err == nil {
			return
		}

		if time.Now().After(limit) || p.Err() != nil {
			page, _ := chromedp.Run(p, chromedp.Evaluate[string](`location.href + "\n" + document.body.innerText`))
			p.t.Fatalf("waiting for %s: %v\n%s", condition, err, page)
		}
	}
}

func (p *phone) shows(text string) {
	p.t.Helper()
	p.until(`document.body.innerText.replaceAll("\u00a0", " ").includes(` + quote(text) + ")")
}

func quote(s string) string { return "`" + s + "`" }

// module is a promise of a module of ours, the one that the page itself has.
func module(name string) string {
	return "import(new URL(" + quote(name) + ", document.querySelector('script[type=module]').src))"
}

func (p *phone) to(url string) {
	p.t.Helper()
	p.run(p.t, "open "+url, chromedp.Navigate(url), chromedp.WaitVisible(chromedp.CSS("h1")))
}

// tap touches the middle of the button with this text (or this selector, if it
// begins with #) and waits until the page took the tap.
func (p *phone) tap(name string) {
	p.t.Helper()
	find := "[...document.querySelectorAll('#yard button, #yard a')].find((b) => b.offsetParent && " +
		"(b.textContent.replace(/\\s+/g, '') === " + quote(
		strings.ReplaceAll(name, " ", ""),
	) + " || b.getAttribute('aria-label') === " + quote(
		name,
	) + "))"

	if strings.HasPrefix(name, "#") {
		find = "document.querySelector(" + quote(name) + ")"
	}

	type point struct{ X, Y float64 }
	at, err := chromedp.Run(p, chromedp.Poll[point](`(() => { const b = `+find+`; if (!b || b.disabled) return false;
		b.scrollIntoView({ block: "center" }); window.tapped = false; addEventListener("click", (e) => { window.tapped = b.contains(e.target) || e.target.outerHTML; }, { once: true, capture: true });
		const r = b.getBoundingClientRect(); return { X: r.x + r.width / 2, Y: r.y + r.height / 2 }; })()`, chromedp.WithPollingTimeout(30*time.Second)))
	if err != nil {
		page, _ := chromedp.Run(p, chromedp.Evaluate[string](`location.href + "\n" + document.body.innerText`))
		p.t.Fatalf("find %s: %v\n%s", name, err, page)
	}

	// On a busy machine a touch can last so long that the browser takes it for a
	// long press, which is no tap.
	for range 3 {
		p.run(p.t, "tap "+name, chromedp.TapXY(at.X, at.Y))

		_, _ = chromedp.Run(
			p,
			chromedp.Poll[bool](
				"window.tapped !== false",
				chromedp.WithPollingTimeout(5*time.Second),
				chromedp.WithPollingInterval(10*time.Millisecond),
			),
		)

		if pending, err := chromedp.Run(p, chromedp.Evaluate[bool]("window.tapped === false")); err != nil || !pending {
			break
		}
	}

	if hit, err := chromedp.Run(p, chromedp.Evaluate[any]("window.tapped")); err == nil && fmt.Sprint(hit) != "true" &&
		hit != nil {
		p.t.Fatalf("the tap on %s went to %v", name, hit)
	}

	p.taps++
}

// cut takes the network from the pages and from the worker.
func (p *phone) cut(offline bool) {
	p.t.Helper()

	must(
		chromedp.Call(
			p,
			network.EmulateNetworkConditionsByRule,
			network.EmulateNetworkConditionsByRuleParams{EmulateOfflineServiceWorker: &offline,
				MatchedNetworkConditions: []*network.Conditions{
					{Offline: offline, DownloadThroughput: -1, UploadThroughput: -1},
				}},
		),
	)(
		p.t,
	)

	must(
		chromedp.Call(
			p,
			network.OverrideNetworkState,
			network.OverrideNetworkStateParams{Offline: offline, DownloadThroughput: -1, UploadThroughput: -1},
		),
	)(
		p.t,
	)
}

// ready waits until the phone keeps what it needs to work without a network.
func (p *phone) ready(s *shop) {
	p.t.Helper()
	p.to(s.url("/yard"))
	p.until("document.querySelectorAll('.yard-rows li').length > 0")
	p.until("navigator.serviceWorker.controller !== null")
	p.until("caches.open('rimledger-person').then((c) => c.match('/yard')).then(Boolean)")
}

func (y *testServer) inspections(v models.VehicleID) []models.Event {
	y.t.Helper()
	list, _, err := y.fleet.Events(
		y.t.Context(),
		y.system,
		models.EventFilter{VehicleID: v, Kinds: []models.EventKind{models.KindInspection}},
		models.Page{Limit: 50},
	)
	if err != nil {
		y.t.Fatal(err)
	}
	return list
}

// TestTaps inspects a vehicle with ten wheels at one place around each tire, on a
// 360 px touch screen, with at most 90 taps: in mm, which take more than 32nds.
func TestTaps(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.addPerson("odd@fleet.example")

	metric := must(
		y.fleet.CreateDepot(
			t.Context(),
			y.system,
			models.Depot{ID: newID[models.DepotID](), Name: "Birch Yard", TimeZone: "Europe/Oslo",
				Jurisdiction: "EU", Units: units.Metric, Currency: "EUR"},
		),
	)(
		t,
	)

	bar := must(models.ParsePressure("800 kPa", units.BareNone))(t)
	v := must(
		y.fleet.CreateVehicle(
			t.Context(),
			y.system,
			models.Vehicle{ID: newID[models.VehicleID](), DepotID: metric.ID, Number: "B-10", Class: models.RigidTruck,
				ParkingRow: "2", MaxMassKG: 26_000, Axles: []models.Axle{{Steered: true, Pressure: bar}, {Driven: true, Dual: true, Pressure: bar}, {Driven: true, Dual: true, Pressure: bar}}},
		),
	)(
		t,
	)

	y.mount(v, "B")
	s := y.open()
	p := hold(t, newBrowser(t, time.Minute))
	p.signIn(t, s.url(""), "odd@fleet.example", password)
	p.to(s.url("/vehicles/" + string(v.ID) + "/inspect"))

	for _, key := range []string{"3 km", "2 km", "2 km", "5 km", "0 km", "0 km", "OK"} {
		p.tap(key)
	}

	for i := range v.WalkingOrder() {
		for range 3 {
			p.tap("11 mm")
			p.tap([]string{"11.4 mm", "11.2 mm"}[i%2])
		}

		p.tap("790 kPa")
		if wide := ask(t, p.browser, "width", chromedp.Evaluate[int](`document.documentElement.scrollWidth`)); wide > 360 {
			t.Fatalf("place %d is %d px wide on a screen of 360", i, wide)
		}

		p.tap("#yard .next")
	}

	p.shows("Summary")
	p.tap("#send")
	p.shows("Inspection recorded")
	t.Logf("%d taps", p.taps)

	if p.taps > 90 {
		t.Errorf("%d taps for ten wheels, want at most 90", p.taps)
	}

	got := y.inspections(v.ID)
	if len(got) != 1 || len(got[0].(*models.Inspection).Readings) != 10 {
		t.Fatalf("recorded %d inspections, want one with ten readings: %v", len(got), got)
	}

	p.check(t, s.url(""))
}

// picture writes a picture of this size, and returns where it is.
func picture(t *testing.T, width, height int) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "tread.png")
	f := must(os.Create(name))(t)
	defer f.Close()
	if err := png.Encode(f, image.NewGray(image.Rect(0, 0, width, height))); err != nil {
		t.Fatal(err)
	}
	return name
}

// TestYardWithoutNetwork is an inspection where there is no signal: the network
// is cut, the server stopped, the browser killed in the middle of an entry and
// started again; then it is sent, and what is refused is settled.
func TestYardWithoutNetwork(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.addPerson("odd@fleet.example")
	y.signedIn("mara@fleet.example").
		post("/vehicles/"+string(y.vehicle.ID)+"/inspect", y.inspection("10")).
		wants(t, http.StatusSeeOther)
	s := y.open()

	profile := t.TempDir()
	b, kill := newBrowserIn(t, 2*time.Minute, profile)
	p := hold(t, b)
	p.signIn(t, s.url(""), "odd@fleet.example", password)
	p.ready(s)
	walk := s.url("/vehicles/" + string(y.vehicle.ID) + "/inspect")

	p.cut(true)
	p.to(walk)
	p.shows("Last 20")

	for _, digit := range "205000" {
		p.tap(string(digit) + " mi")
	}

	p.tap("OK")
	p.tap("12/32")
	p.tap("12/32")
	s.stop()
	kill()

	b, kill = newBrowserIn(t, 2*time.Minute, profile)
	p = hold(t, b)
	p.to(walk)
	p.shows("is still here")

	// Of what was tapped, at most the field that was being entered is lost.
	kept := ask(
		t,
		b,
		"kept",
		chromedp.Evaluate[string](`[...document.querySelectorAll(".readout input")].map((i) => i.value).join()`),
	)
	if kept != "12,12,," && kept != "12,,," {
		t.Errorf("after the kill the fields of the first wheel hold %q, want 12,12 and two empty ones", kept)
	}

	for range strings.Count(kept, ",,") + strings.Count(kept, ",,,") {
		p.tap("12/32")
	}

	p.tap("101 psi")
	p.run(t, "photo", chromedp.SetUploadFiles(chromedp.CSS("#yard input[type=file]"), []string{picture(t, 2400, 1200)}))
	p.shows("Photo (1)")
	p.tap("#yard .next")

	for _, at := range y.vehicle.WalkingOrder()[1:] {
		if !at.IsSpare() {
			p.tap("9/32")
			p.tap("9/32")
			p.tap("9/32")
			p.tap("101 psi")
		}
		p.tap("#yard .next")
	}

	p.shows("Tread does not grow: measure again")
	p.tap("#send")
	p.shows("Kept on this phone")
	p.to(s.url("/yard"))
	p.until("document.getElementById('waiting').textContent === '1 waiting'")
	p.tap("#yard .yard-rows a")
	p.shows("Places around each tire")

	// The session is lost too: signing in again keeps everything.
	s.start()
	must(chromedp.Call(p, network.ClearBrowserCookies, cdp.Empty{}))(t)
	p.to(s.url("/yard/waiting"))
	p.shows("Sign in")
	p.signIn(t, s.url(""), "odd@fleet.example", password)
	p.until("document.getElementById('waiting').textContent === '1 to settle'")

	p.to(s.url("/yard/waiting"))
	p.shows("measure again, or confirm")
	p.shows("tread does not grow")

	if n := len(y.inspections(y.vehicle.ID)); n != 1 {
		t.Fatalf("%d inspections are recorded before anything is settled, want 1", n)
	}

	p.run(
		t,
		"tick",
		chromedp.Evaluate[chromedp.Void](
			`document.querySelectorAll("#yard input[type=checkbox]").forEach((c) => c.click())`,
		),
	)

	p.tap("Send with what is ticked")
	p.shows("Nothing waits")
	list := y.inspections(y.vehicle.ID)
	if len(list) != 2 {
		t.Fatalf("%d inspections are recorded, want 2", len(list))
	}

	first := list[0].(*models.Inspection).Readings[0]
	if len(first.Photos) != 1 || first.Position != "1L" {
		t.Fatalf("the reading at %s has %d photos, want one at 1L", first.Position, len(first.Photos))
	}
	if photo := must(y.fleet.Photo(t.Context(), y.system, first.Photos[0]))(t); photo.Width != 1600 ||
		photo.Height != 800 {
		t.Errorf("the photo is kept at %d by %d pixels, want 1600 by 800", photo.Width, photo.Height)
	}

	p.to(s.url("/vehicles/" + string(y.vehicle.ID)))
	p.until(
		"document.querySelector('.photos img')?.naturalWidth === 1600 || (document.querySelector('.photos " +
			"img')?.scrollIntoView(), false)",
	)

	// Who signs out takes the vehicles along.
	p.run(t, "sign out", chromedp.Click(chromedp.CSS("#sign-out button")))
	p.until("document.querySelector('input[name=password]') !== null")
	p.until("caches.has('rimledger-person').then((has) => !has)")

	p.until(
		"new Promise((done) => { const asked = indexedDB.open('rimledger'); asked.onsuccess = () => { const all = " +
			"asked.result.transaction('vehicles').objectStore('vehicles').count(); all.onsuccess = () => { " +
			"asked.result.close(); done(all.result === 0); }; }; })",
	)

	kill()
}
