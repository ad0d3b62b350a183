package web_test

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"rimledger/models"
	"rimledger/models/demo"
	"rimledger/models/fleet"
)

// browser is a real browser that notes what goes wrong in it.
type browser struct {
	context.Context
	mu       sync.Mutex
	problems []string
	hosts    map[string]bool
}

// listen notes complaints and which hosts are asked.
func (b *browser) listen(ev any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch ev := ev.(type) {
	case *runtime.EventExceptionThrown:
		b.problems = append(b.problems, "exception: "+ev.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		if ev.Type == runtime.ConsoleAPICalledTypeError || ev.Type == runtime.ConsoleAPICalledTypeWarning {
			b.problems = append(b.problems, "console: "+ev.Type.String())
		}
	case *log.EventEntryAdded:
		if ev.Entry.Level == log.EntryLevelError {
			b.problems = append(b.problems, "log: "+ev.Entry.Text+" "+ev.Entry.URL)
		}
	case *network.EventRequestWillBeSent:
		if u, err := url.Parse(ev.Request.URL); err == nil && u.Host != "" {
			b.hosts[u.Host] = true
		}
	}
}

// newBrowser starts Chromium for at most limit, or skips the test where there is none.
func newBrowser(t *testing.T, limit time.Duration) *browser {
	t.Helper()
	const chromium = "/usr/bin/chromium"
	if _, err := os.Stat(chromium); err != nil {
		if os.Getenv("RIMLEDGER_TEST_REQUIRE_ALL") == "1" {
			t.Fatal("no browser:", err)
		}
		t.Skip("no browser:", err)
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium), chromedp.UserDataDir(t.TempDir()), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.NoFirstRun, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	limited, cancel := context.WithTimeout(context.WithoutCancel(t.Context()), limit)
	t.Cleanup(cancel)
	alloc, stop := chromedp.NewExecAllocator(limited, options...)
	t.Cleanup(stop)
	b := &browser{hosts: map[string]bool{}}
	ctx, end := chromedp.NewContext(alloc)
	t.Cleanup(end)
	b.Context = ctx
	b.run(t, "start", chromedp.Navigate("about:blank"))
	if err := chromedp.Listen(ctx, b.listen); err != nil {
		t.Fatal(err)
	}
	must(chromedp.Call(ctx, network.Enable, network.EnableParams{}))(t)
	must(chromedp.Call(ctx, log.Enable, cdp.Empty{}))(t)
	return b
}

func (b *browser) run(t *testing.T, what string, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(b, actions...); err != nil {
		t.Fatalf("%s: %v", what, err)
	}
}

// ask runs an action that answers.
func ask[T any](t *testing.T, b *browser, what string, a chromedp.Action[T]) T {
	t.Helper()
	v, err := chromedp.Run(b, a)
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	return v
}

func (b *browser) signIn(t *testing.T, base, email, password string) {
	t.Helper()
	b.run(t, "sign in", chromedp.Navigate(base+"/sign-in"), chromedp.SendKeys(chromedp.CSS("input[name=email]"), email),
		chromedp.SendKeys(chromedp.CSS("input[name=password]"), password), chromedp.Click(chromedp.CSS("button.primary")), chromedp.WaitVisible(chromedp.CSS("nav")))
}

// TestYardDay is an inspection on a 360 px phone, from signing in to the
// finding that appears.
func TestYardDay(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.addPerson("odd@fleet.example")
	b := newBrowser(t, 2*time.Minute)
	base := y.server.URL
	b.run(t, "phone", chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch))
	b.signIn(t, base, "odd@fleet.example", password)
	b.run(t, "open", chromedp.Navigate(base+"/vehicles/"+string(y.vehicle.ID)+"/inspect"), chromedp.WaitVisible(chromedp.ID("entry")))
	if wide := ask(t, b, "width", chromedp.Evaluate[int](`document.documentElement.scrollWidth`)); wide > 360 {
		t.Errorf("the form is %d px wide on a screen of 360", wide)
	}
	field := func(name string) chromedp.CSS { return chromedp.CSS(`[name="` + name + `"]`) }
	b.run(t, "odometer", chromedp.SendKeys(field("odometer"), "204000"))
	for p := range y.tires {
		for g, depth := range []string{"12", "12", "12"} {
			if p == "1L" && g == 2 {
				depth = "3"
			}
			b.run(t, "type", chromedp.SendKeys(field(fmt.Sprintf("p.%s.d%d.0", p, g)), depth))
		}
		b.run(t, "type", chromedp.SendKeys(field(fmt.Sprintf("p.%s.pressure", p)), "101"))
	}
	if hint := ask(t, b, "hint", chromedp.Evaluate[string](`document.getElementById("p.1L").querySelector(".hint").textContent`)); !strings.Contains(hint, "Below the legal minimum") {
		t.Errorf("3/32 in on the steer axle gets the hint %q", hint)
	}
	// The browser dies in the middle of it: what was typed is still there.
	b.run(t, "reload", chromedp.Reload(), chromedp.WaitVisible(chromedp.ID("kept")))
	if kept := ask(t, b, "kept", chromedp.Value(field("p.1L.d2.0"))); kept != "3" {
		t.Errorf("after a reload the field holds %q, want 3", kept)
	}
	b.run(t, "send", chromedp.Click(chromedp.CSS("button.big")), chromedp.WaitVisible(chromedp.CSS(".notice")))
	b.reads(t, "Inspection recorded", "off the road", "3/32")
	b.run(t, "list", chromedp.Navigate(base+"/"))
	b.reads(t, "T-101", "off the road")
	b.check(t, base)
}

// reads fails the test unless the page shows these texts.
func (b *browser) reads(t *testing.T, texts ...string) {
	t.Helper()
	page := ask(t, b, "read", chromedp.Text(chromedp.ID("main")))
	for _, s := range texts {
		if !strings.Contains(page, s) {
			t.Errorf("the page lacks %q:\n%s", s, page)
		}
	}
}

// check fails the test if the browser complained or another host was asked.
func (b *browser) check(t *testing.T, base string) {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, p := range b.problems {
		t.Error(p)
	}
	for h := range b.hosts {
		if h != strings.TrimPrefix(base, "http://") {
			t.Errorf("a page asked another host: %s", h)
		}
	}
}

// TestScreenshots looks at the pages of the demo fleet on a phone and a desk,
// light and dark: none complains, none is wider than its screen. With
// RIMLEDGER_TEST_SHOTS=FOLDER it writes the pictures there.
func TestScreenshots(t *testing.T) {
	folder := os.Getenv("RIMLEDGER_TEST_SHOTS")
	if folder == "" {
		t.Skip("set RIMLEDGER_TEST_SHOTS to a folder to have the pages of the demo fleet photographed")
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	st := openStore(t)
	if err := demo.Build(t.Context(), st, time.Now(), nil); err != nil {
		t.Fatal(err)
	}
	server := serve(t, st, newFleet(st))
	b := newBrowser(t, 9*time.Minute)
	b.signIn(t, server.URL, demo.People[0].Email, demo.People[0].Password)
	for _, screen := range []struct {
		name          string
		width, height int64
		scheme        string
	}{{"phone", 360, 740, "light"}, {"phone-dark", 360, 740, "dark"}, {"desk", 1280, 900, "light"}, {"desk-dark", 1280, 900, "dark"}} {
		for name, path := range shotPages(t, newFleet(st)) {
			must(chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: screen.scheme}}}))(t)
			b.run(t, name, chromedp.EmulateViewport(screen.width, screen.height), chromedp.Navigate(server.URL+path), chromedp.WaitVisible(chromedp.CSS("footer")))
			wide := ask(t, b, "width", chromedp.Evaluate[int64](`document.documentElement.scrollWidth`))
			picture := ask(t, b, "picture", chromedp.FullScreenshot(100))
			if wide > screen.width {
				t.Errorf("%s is %d px wide on a screen of %d", path, wide, screen.width)
			}
			if err := os.WriteFile(filepath.Join(folder, name+"-"+screen.name+".png"), picture, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	b.check(t, server.URL)
}

// shotPages are the pages to photograph: the vehicle and the tire are those
// with the most to see.
func shotPages(t *testing.T, f *fleet.Service) map[string]string {
	t.Helper()
	system := fleet.System(models.FromDemo)
	rows, _, err := f.Vehicles(t.Context(), system, models.VehicleFilter{Attention: true, Class: models.Tractor}, models.Page{Limit: 1})
	if err != nil || len(rows) == 0 {
		rows, _, err = f.Vehicles(t.Context(), system, models.VehicleFilter{Class: models.Tractor}, models.Page{Limit: 1})
	}
	if err != nil || len(rows) == 0 {
		t.Fatal("no vehicle to photograph", err)
	}
	v := must(f.Vehicle(t.Context(), system, rows[0].Vehicle.ID))(t)
	path := "/vehicles/" + string(v.Vehicle.ID)
	pages := map[string]string{"attention": "/", "vehicles": "/vehicles", "vehicle": path, "inspect": path + "/inspect", "inspect8": path + "/inspect?stations=8",
		"balance": path + "/do/balance", "rotate": path + "/do/rotate", "tires": "/tires", "due": "/due", "digest": "/digest", "settings": "/settings",
		"rules": "/settings/rules", "people": "/settings/people", "audit": "/settings/audit", "help": "/help",
		"policy": "/settings/depots/" + string(v.Depot.ID) + "/policy/tractor"}
	if len(v.Tires) > 0 {
		pages["tire"] = "/tires/" + string(v.Tires[0].Tire.ID)
	}
	if len(v.Findings) > 0 {
		pages["finding"] = "/findings/" + string(v.Findings[0].ID)
	}
	return pages
}
