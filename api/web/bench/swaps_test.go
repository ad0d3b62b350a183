package bench_test

import (
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"rimledger/models/modeltest"
)

// TestBenchLosesNothing has the bench worked out while it is used, and fail:
// what was opened and typed stays, and the person is told what to do.
func TestBenchLosesNothing(t *testing.T) {
	t.Parallel()
	y, b := atBench(t)
	typed := func(name, value string) { b.Run(t, name, chromedp.SendKeys(chromedp.CSS(`[name="`+name+`"]`), value)) }

	b.Run(
		t,
		"open",
		chromedp.Navigate(y.Server.URL+"/vehicles/"+string(y.Vehicle.ID)+"/bench/1L"),
		chromedp.WaitVisible(chromedp.ID("entry")),
	)

	b.Is(t, `[...document.querySelectorAll("details.worked")].filter(d => d.checkVisibility()).length`, "0")

	for name, value := range map[string]string{"shown.outer.mass": "8", "shown.outer.angle": "120", "shown.inner.mass": "3", "shown.inner.angle": "300"} {
		typed(name, value)
	}

	b.Run(
		t,
		"worked out",
		chromedp.WaitVisible(chromedp.CSS("#benchresult table.sets")),
		chromedp.Click(chromedp.CSS("details.worked:has(#benchchoices) > summary")),
	)

	typed("fitted.0.mass", "4")
	typed("fitted.0.angle", "120")
	b.Comes(t, `[id="then.0"]`, "outer 4.00 oz at 120°")
	b.Is(t, `document.querySelector("details.worked").open && document.activeElement.name`, "fitted.0.angle")
	b.Check(t, y.Server.URL)

	modeltest.Must(chromedp.Call(b, network.ClearBrowserCookies, cdp.Empty{}))(t)

	typed("fitted.1.mass", "4")
	b.Comes(t, "#trouble", "You were signed out")
	b.Is(t, `document.querySelector('[name="fitted.1.mass"]').value`, "4")
	b.View(t, "bench-signed-out")

	b.Run(
		t,
		"press",
		chromedp.Click(chromedp.CSS(`#step1 button[value="work"]`)),
		chromedp.WaitVisible(chromedp.CSS("input[name=password]")),
	)

	b.Reads(t, "what you entered is kept")
	b.Is(
		t,
		`document.querySelector('[name="kept.fitted.1.mass"]').value + document.querySelector('[name="kept.do"]').value`,
		"4work",
	)
}
