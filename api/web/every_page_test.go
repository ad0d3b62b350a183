package web_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"rimledger/api/web/webtest"
	"rimledger/models/demo"
	"rimledger/models/modeltest"
)

// The most that a page may weigh as it is sent, with everything it loads.
const (
	maxWeight       = 150_000
	maxWeightCharts = 600_000
)

// TestPagesInABrowser visits every page: axe-core (an accessibility checker by
// rules of WCAG 2.2 and good practice) finds nothing, on a phone and a desk,
// light and dark; the page can be used by keyboard alone; it is light; the
// browser does not complain.
func TestPagesInABrowser(t *testing.T) {
	t.Parallel()
	b := webtest.NewBrowser(t, 12*time.Minute)
	f, server := webtest.DemoFleet(t)
	modeltest.Must(chromedp.Call(b, network.SetCacheDisabled, network.SetCacheDisabledParams{CacheDisabled: true}))(t)

	// What the worker answers is not counted as sent to the page.
	modeltest.Must(
		chromedp.Call(b, network.SetBypassServiceWorker, network.SetBypassServiceWorkerParams{Bypass: true}),
	)(
		t,
	)

	pages := everyPage(t, f)
	for _, strangers := range []bool{true, false} {
		if !strangers {
			b.SignIn(t, server.URL, demo.People[0].Email, demo.People[0].Password)
		}

		for _, p := range pages {
			if p.stranger == strangers {
				b.Look(t, webtest.Screens[2])
				weigh(b, t, server.URL, p)
				walk(b, t, p)
				b.Accessible(t, p.path)
			}
		}
	}

	b.Check(t, server.URL)
}

// weigh opens the page and adds up what was sent for it.
func weigh(b *webtest.Browser, t *testing.T, base string, p page) {
	t.Helper()
	b.Weigh()
	b.Run(
		t,
		p.name,
		chromedp.Navigate(base+p.path),
		chromedp.WaitVisible(chromedp.CSS("footer")),
		chromedp.WaitNotPresent(chromedp.CSS("[data-loading]")),
	)

	b.Loaded(t)
	most := maxWeight
	if p.charts {
		most = maxWeightCharts
	}

	weight := b.Received()
	t.Logf("%s weighs %d bytes as sent", p.path, weight)
	const least = 10_000 // the style sheet and the scripts of every page alone: less was not all counted
	if weight < least || weight > most {
		t.Errorf("%s weighs %d bytes as sent, want %d to %d", p.path, weight, least, most)
	}
}

// walkScript notes each thing that gets the focus, and what is wrong with it.
const walkScript = `(() => {
  const w = window.walked = { order: [], faults: [] };
  const start = document.createElement("span"); // the way begins at the top, also where a field has the focus
  start.tabIndex = -1;
  document.body.prepend(start);
  start.focus();
  start.remove();
  document.addEventListener("focusin", (ev) => {
    const e = ev.target, s = getComputedStyle(e), r = e.getBoundingClientRect();
    w.order.push(e);
    const name = e.outerHTML.slice(0, 90);
    if (s.outlineStyle === "none" || parseFloat(s.outlineWidth) < 1) w.faults.push("focus cannot be seen on " + name);
    if (r.width < 1 || r.height < 1 || r.right < 0) w.faults.push("focus goes to what is not on the screen: " + name);
  });
  const groups = new Set();
  w.all = [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex]")].filter((e) => {
    if (e.disabled || e.tabIndex < 0 || e.type === "hidden" || !e.checkVisibility({ visibilityProperty: true })) return false;
    if (e.type !== "radio") return true;
    if (groups.has(e.name)) return false;
    groups.add(e.name);
    return true;
  });
  return w.all.length;
})()`

// walk goes through the page by the Tab key: the first stop is the link that
// skips the navigation, it works, every stop can be seen, everything that can
// be used is reached, and the way leads out again.
func walk(b *webtest.Browser, t *testing.T, p page) {
	t.Helper()

	for range 3 { // a list that came meanwhile is walked anew
		stops := webtest.Ask(t, b, p.name, chromedp.Evaluate[int](walkScript))
		b.Run(t, p.name, chromedp.KeyEvent(strings.Repeat(kb.Tab, stops+12)))
		if webtest.Ask(t, b, p.name, chromedp.Evaluate[bool](`window.walked.all.every((e) => e.isConnected)`)) {
			break
		}
	}

	for _, fault := range webtest.Ask(t, b, p.name, chromedp.Evaluate[[]string](`(() => {
		const w = window.walked, reached = new Set(w.order), groups = new Set(w.order.filter((e) => e.type === "radio").map((e) => e.name));
		if (w.order[0]?.className !== "skip") w.faults.push("the first stop is not the link to the page's own part");
		for (const e of w.all) if (!reached.has(e) && !(e.type === "radio" && groups.has(e.name))) w.faults.push("Tab does not reach " + e.outerHTML.slice(0, 90));
		return [...new Set(w.faults)].slice(0, 5);
	})()`)) {
		t.Errorf("%s: %s", p.path, fault)
	}

	b.Run(
		t,
		p.name,
		chromedp.Evaluate[chromedp.Void](`document.querySelector("a.skip").focus()`),
		chromedp.KeyEvent(kb.Enter),
	)

	if at := webtest.Ask(t, b, p.name, chromedp.Evaluate[string](`document.activeElement.id`)); at != "main" {
		t.Errorf("%s: the skip link leads to %q, want main", p.path, at)
	}
}

// TestScreenshots looks at the pages of the demo fleet on a phone and a desk,
// light and dark: none complains, none is wider than its screen. With
// RIMLEDGER_TEST_SHOTS=FOLDER it writes the pictures there.
func TestScreenshots(t *testing.T) {
	folder := os.Getenv("RIMLEDGER_TEST_SHOTS")
	if folder == "" {
		if os.Getenv("RIMLEDGER_TEST_REQUIRE_ALL") == "1" {
			t.Fatal("RIMLEDGER_TEST_SHOTS names no folder for the pictures")
		}
		t.Skip("set RIMLEDGER_TEST_SHOTS to a folder to have the pages of the demo fleet photographed")
	}

	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}

	b := webtest.NewBrowser(t, 12*time.Minute)
	f, server := webtest.DemoFleet(t)

	pages := everyPage(t, f)
	for _, strangers := range []bool{true, false} {
		if !strangers {
			b.SignIn(t, server.URL, demo.People[0].Email, demo.People[0].Password)
		}

		for _, s := range webtest.Screens {
			b.Look(t, s)
			for _, p := range pages {
				if p.stranger == strangers {
					photograph(b, t, server.URL, folder, s, p)
				}
			}
		}
	}

	b.Check(t, server.URL)
}

func photograph(b *webtest.Browser, t *testing.T, base, folder string, s webtest.Screen, p page) {
	t.Helper()
	b.Run(
		t,
		p.name,
		chromedp.Navigate(base+p.path),
		chromedp.WaitVisible(chromedp.CSS("footer")),
		chromedp.WaitNotPresent(chromedp.CSS("[data-loading]")),
	)

	wide := webtest.Ask(t, b, "width", chromedp.Evaluate[int64](`document.documentElement.scrollWidth`))
	picture := webtest.Ask(t, b, "picture", chromedp.FullScreenshot(100))
	if wide > s.Width {
		t.Errorf("%s is %d px wide on a screen of %d", p.path, wide, s.Width)
	}
	file := filepath.Join(folder, fmt.Sprintf("%s-%s.png", p.name, s.Name))
	if err := os.WriteFile(file, picture, 0o644); err != nil {
		t.Fatal(err)
	}
}
