package bench_test

import (
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/units"
)

// measured records a job at 1L that measured its wheel, so that the bench knows it.
func measured(y *webtest.World, t *testing.T) {
	t.Helper()

	modeltest.Must(
		y.Fleet.Record(
			t.Context(),
			y.System,
			&models.BalanceJob{
				Meta: models.Meta{
					ID:        modeltest.NewID[models.EventID](),
					VehicleID: y.Vehicle.ID,
					At:        webtest.Now().Add(-time.Hour),
				},
				Position:  "1L",
				Why:       models.BalanceInterval,
				Mode:      "two_plane",
				Planes:    "flanges",
				CheckSpin: true,
				Shown:     []models.PlaneUnbalance{{Plane: "outer"}, {Plane: "inner"}},
				Geometry: &models.WheelGeometry{
					OuterRadius: 285 * units.Millimetre,
					InnerRadius: 285 * units.Millimetre,
					InnerOffset: 210 * units.Millimetre,
				},
			},
		),
	)(
		t,
	)
}

const phoneHigh = 740

// TestBenchOnAPhone works the bench with keys alone on a phone of 360 by 740 px:
// what is shown is typed first, the proposal stands within two screens, what is
// left stays in sight while weights are typed, and gloves hit everything (44 px,
// WCAG 2.2, success criterion 2.5.5).
func TestBenchOnAPhone(t *testing.T) {
	t.Parallel()
	y, b := atBench(t)
	b.Run(t, "phone", chromedp.EmulateViewport(360, phoneHigh, chromedp.EmulateMobile))

	b.Run(
		t,
		"open",
		chromedp.Navigate(y.Server.URL+"/vehicles/"+string(y.Vehicle.ID)+"/bench/1L"),
		chromedp.WaitVisible(chromedp.ID("entry")),
	)

	if first := webtest.Ask(t, b, "focus", chromedp.Evaluate[string](`document.activeElement.name`)); first != "shown.outer.mass" {
		t.Errorf("the first field is %q", first)
	}

	for _, key := range []string{"8", kb.Tab, "120", kb.Tab, "3", kb.Tab, "300"} {
		b.Run(t, "keys", chromedp.KeyEvent(key))
	}

	b.Run(t, "worked out", chromedp.WaitVisible(chromedp.CSS("#benchresult table.sets")))
	const end = `(e => e.getBoundingClientRect().bottom + scrollY)(document.querySelector("tr.fit"))`
	if at := webtest.Ask(t, b, "where", chromedp.Evaluate[float64](end)); at > 2*phoneHigh {
		t.Errorf("the proposal ends at %.0f px, more than two screens", at)
	}

	small := `[...document.querySelectorAll(".bench button:not(.hide), .bench input:not([type=hidden]), .bench select, .bench summary, .bench .choice")].map(e => e.type === "checkbox" ? e.closest("label") : e)
		.filter(e => e.checkVisibility() && (e.getBoundingClientRect().height < 44 || e.getBoundingClientRect().width < 44)).map(e => e.id || e.name || e.textContent).join(", ")`
	if got := webtest.Ask(t, b, "targets", chromedp.Evaluate[string](small)); got != "" {
		t.Errorf("smaller than 44 px: %s", got)
	}

	b.View(t, "bench-known-phone")
	b.Run(t, "own", chromedp.Focus(chromedp.CSS(`[name="fitted.0.mass"]`)))

	for _, key := range []string{"4", kb.Tab, "120"} {
		b.Run(t, "keys", chromedp.KeyEvent(key))
	}

	webtest.Ask(
		t,
		b,
		"left",
		chromedp.Poll[bool](`document.getElementById("then.0").textContent.includes("outer 4.00 oz at 120°")`),
	)

	seen := `(s => s.top >= 0 && s.bottom <= document.activeElement.getBoundingClientRect().top && s.height < 150)(document.getElementById("benchstrip").getBoundingClientRect())`
	if !webtest.Ask(t, b, "in sight", chromedp.Evaluate[bool](seen)) {
		t.Error("what is left is not in sight above the field")
	}

	b.Text(t, "With your 1 weight, still add")
	b.View(t, "bench-own-phone")
	if wide := webtest.Ask(t, b, "width", chromedp.Evaluate[int](`document.documentElement.scrollWidth`)); wide > 360 {
		t.Errorf("the bench is %d px wide on a screen of 360", wide)
	}

	// The customer wants no clip outside: the band instead of the outer flange.
	b.Run(
		t,
		"wheel",
		chromedp.Evaluate[chromedp.Void](
			`(d => { d.open = true; d.scrollIntoView(); })(document.getElementById("planes").closest("details"))`,
		),
	)

	band := `document.getElementById("geometry.adhesive_radius").checkVisibility()`
	if webtest.Ask(t, b, "hidden", chromedp.Evaluate[bool](band)) {
		t.Error("the band is asked for before it is wanted")
	}

	for _, place := range []string{"band", "inner_flange"} {
		b.Run(t, place, chromedp.Click(chromedp.CSS(`[name=places][value=`+place+`] + span`)))
	}

	if !webtest.Ask(t, b, "asked", chromedp.Evaluate[bool](band)) {
		t.Error("the band is ticked and its radius not asked for")
	}

	for name, value := range map[string]string{"geometry.adhesive_radius": "240", "geometry.adhesive_offset": "60"} {
		b.Run(t, name, chromedp.SendKeys(chromedp.CSS(`[name="`+name+`"]`), value))
	}

	webtest.Ask(
		t,
		b,
		"on the band",
		chromedp.Poll[bool](`document.querySelector("#benchresult tr.fit td")?.textContent.includes("adhesive band")`),
	)

	b.View(t, "bench-places-phone")
	if got := webtest.Ask(t, b, "targets", chromedp.Evaluate[string](small)); got != "" {
		t.Errorf("smaller than 44 px: %s", got)
	}

	b.Run(
		t,
		"rim",
		chromedp.Evaluate[chromedp.Void](
			`(d => { d.open = true; d.scrollIntoView(); })(document.getElementById("geometry.spokes").closest("details"))`,
		),
	)

	b.View(t, "bench-blocked-phone")
	b.Shot(t, "bench-known")
	b.Run(t, "check spin", chromedp.Click(chromedp.ID("check_spin")))
	b.Shot(t, "bench-check-spin")
	b.Check(t, y.Server.URL)
}

// atBench signs a technician in, where a wheel was measured before.
func atBench(t *testing.T) (*webtest.World, *webtest.Browser) {
	t.Helper()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")
	measured(y, t)
	b := webtest.NewBrowser(t, 2*time.Minute)
	b.SignIn(t, y.Server.URL, "odd@fleet.example", webtest.Password)
	return y, b
}

// TestBenchWithoutScript does a whole job in a browser that runs no script.
func TestBenchWithoutScript(t *testing.T) {
	t.Parallel()
	y, b := atBench(t)
	modeltest.Must(
		chromedp.Call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}),
	)(
		t,
	)

	typed := func(pairs ...string) {
		for i := 0; i < len(pairs); i += 2 {
			b.Run(t, pairs[i], chromedp.SendKeys(chromedp.CSS(`[name="`+pairs[i]+`"]`), pairs[i+1]))
		}
	}

	press := func(do, then string) {
		b.Run(
			t,
			do,
			chromedp.Click(chromedp.CSS(`button[value="`+do+`"]:not(.hide)`)),
			chromedp.WaitVisible(chromedp.CSS(then)),
		)
	}

	b.Run(
		t,
		"open",
		chromedp.Navigate(y.Server.URL+"/vehicles/"+string(y.Vehicle.ID)+"/bench/1L?why=interval"),
		chromedp.WaitVisible(chromedp.ID("entry")),
	)

	typed("shown.outer.mass", "8", "shown.outer.angle", "120", "shown.inner.mass", "3", "shown.inner.angle", "300")
	press("work", "#benchresult table.sets")
	b.Text(t, "Nothing fitted yet, add")
	press("take", `[name="fitted.0.mass"]:not([value=""])`)
	b.Text(t, "then still add: outer nothing, inner nothing")

	if at := webtest.Ask(t, b, "place", chromedp.Location()); !strings.HasSuffix(at, "#step3") {
		t.Errorf("after the proposal was taken over the page stands at %s", at)
	}

	typed("after.outer.mass", "0", "after.inner.mass", "0")
	press("save", ".jobcard")
	b.Text(t, "Within the limit")
	b.Text(t, "8 oz")
}
