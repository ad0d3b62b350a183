package yard_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
)

// TestYardDay is an inspection on a 360 px phone, from signing in to the
// finding that appears.
func TestYardDay(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")
	b := webtest.NewBrowser(t, 2*time.Minute)
	base := y.Server.URL
	b.Run(t, "phone", chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch))
	b.SignIn(t, base, "odd@fleet.example", webtest.Password)

	b.Run(
		t,
		"open",
		chromedp.Navigate(base+"/vehicles/"+string(y.Vehicle.ID)+"/inspect?plain=1"),
		chromedp.WaitVisible(chromedp.ID("entry")),
	)

	if wide := webtest.Ask(t, b, "width", chromedp.Evaluate[int](`document.documentElement.scrollWidth`)); wide > 360 {
		t.Errorf("the form is %d px wide on a screen of 360", wide)
	}

	field := func(name string) chromedp.CSS { return chromedp.CSS(`[name="` + name + `"]`) }
	b.Run(t, "odometer", chromedp.SendKeys(field("odometer"), "204000"))

	for p := range y.Tires {
		for g, depth := range []string{"12", "12", "12"} {
			if p == "1L" && g == 2 {
				depth = "3"
			}
			b.Run(t, "type", chromedp.SendKeys(field(fmt.Sprintf("p.%s.d%d.0", p, g)), depth))
		}
		b.Run(t, "type", chromedp.SendKeys(field(fmt.Sprintf("p.%s.pressure", p)), "101"))
	}

	if hint := webtest.Ask(t, b, "hint", chromedp.Evaluate[string](`document.getElementById("p.1L").querySelector(".hint").textContent`)); !strings.Contains(
		hint,
		"Below the legal minimum",
	) {
		t.Errorf("3/32 in on the steer axle gets the hint %q", hint)
	}

	// The browser dies in the middle of it: what was typed is still there.
	b.Run(t, "reload", chromedp.Reload(), chromedp.WaitVisible(chromedp.ID("kept")))
	if kept := webtest.Ask(t, b, "kept", chromedp.Value(field("p.1L.d2.0"))); kept != "3" {
		t.Errorf("after a reload the field holds %q, want 3", kept)
	}

	b.Run(t, "send", chromedp.Click(chromedp.CSS("button.big")), chromedp.WaitVisible(chromedp.CSS(".notice")))
	b.Reads(t, "Inspection recorded", "off the road", "3/32")
	b.Run(t, "list", chromedp.Navigate(base+"/"))
	b.Reads(t, "T-101", "off the road")
	b.Check(t, base)
}
