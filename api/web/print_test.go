package web_test

import (
	"slices"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/units"
)

// On paper (Letter less the margins of a printer, 7.7 in at 96 px; CSS Values
// 4, section 6.2) nothing is cut off at the side, ink is black on white even
// where the screen is dark, the way around is left out, and it says whose sheet
// it is and when it was so. On the due list each job has a box to tick.
func TestOnPaper(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("mara@fleet.example")

	depth := modeltest.Must(models.ParseDepth("9/32", units.BareNone))(t)
	modeltest.Must(
		y.Fleet.Record(
			t.Context(),
			y.System,
			&models.Inspection{
				Meta: models.Meta{
					ID:        modeltest.NewID[models.EventID](),
					VehicleID: y.Vehicle.ID,
					At:        y.Start.AddDate(0, 0, -50),
				},
				Readings: []models.Reading{{Position: "1L", Depths: [][]*models.Depth{{&depth}}}},
			},
		),
	)(
		t,
	)

	b := webtest.NewBrowser(t, 2*time.Minute)
	b.SignIn(t, y.Server.URL, "mara@fleet.example", webtest.Password)

	modeltest.Must(
		chromedp.Call(
			b,
			emulation.SetDeviceMetricsOverride,
			emulation.SetDeviceMetricsOverrideParams{Width: 740, Height: 1000, DeviceScaleFactor: 1},
		),
	)(
		t,
	)

	modeltest.Must(
		chromedp.Call(
			b,
			emulation.SetEmulatedMedia,
			emulation.SetEmulatedMediaParams{
				Media:    "print",
				Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}},
			},
		),
	)(
		t,
	)

	for _, path := range []string{"/", "/?view=print", "/due", "/due/calendar", "/vehicles/" + string(y.Vehicle.ID), "/tires/" + string(y.Tires["1L"].ID), "/order", "/settings/rules", "/digest"} {
		b.Run(t, path, chromedp.Navigate(y.Server.URL+path), chromedp.WaitVisible(chromedp.CSS("main")))

		wrong := webtest.Ask(t, b, path, chromedp.Evaluate[[]string](`(() => {
			const wrong = [], shown = (s) => [...document.querySelectorAll(s)].filter((e) => e.checkVisibility() && e.offsetHeight > 0);
			const cut = shown("main *").filter((e) => !e.closest(".hide, svg, canvas") && e.getBoundingClientRect().right > document.documentElement.clientWidth + 1);
			if (cut.length) wrong.push("cut off: " + cut[0].outerHTML.slice(0, 200));
			const page = getComputedStyle(document.documentElement);
			if (page.backgroundColor !== "rgb(255, 255, 255)" || page.color !== "rgb(0, 0, 0)") wrong.push(page.color + " on " + page.backgroundColor);
			if (shown("nav, .top, footer, button, select").length) wrong.push("the way around is printed");
			if (!shown(".asof")[0]?.innerText.includes("Mara Quill")) wrong.push("it does not say when and for whom");
			return wrong; })()`))

		for _, w := range wrong {
			t.Errorf("%s: %s", path, w)
		}

		if path == "/due" {
			boxes := webtest.Ask(
				t,
				b,
				"boxes",
				chromedp.Evaluate[[]int](
					`[document.querySelectorAll("main tbody tr").length, [...document.querySelectorAll(".tickhere")].filter((e) => e.checkVisibility()).length]`,
				),
			)
			if boxes[0] == 0 || boxes[0] != boxes[1] {
				t.Errorf("%d jobs and %d boxes to tick", boxes[0], boxes[1])
			}

			heads := webtest.Ask(
				t,
				b,
				"heads",
				chromedp.Evaluate[[]string](
					`[...document.querySelectorAll("main thead")].at(-1).innerText.split(/\t|\n/).filter(Boolean)`,
				),
			)
			if want := []string{"Due", "Vehicle", "Parked", "What", "Done", "By, when"}; !slices.Equal(heads, want) {
				t.Errorf("columns %v, want %v", heads, want)
			}
		}
	}
}
