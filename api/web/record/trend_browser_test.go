package record_test

import (
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/demo"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
)

// inked is the share of the curve's pixels that something is drawn on.
const inked = `(() => {
	const c = document.querySelector(".trend-curve canvas"), d = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
	let n = 0;
	for (let i = 3; i < d.length; i += 4) if (d[i] > 0) n++;
	return n / (d.length / 4);
})()`

// banded looks at the drawing where the 80 % band is tallest: inside it, off the
// median, something is drawn; above it, off the lines of the grid, nothing is.
const banded = `((along) => {
	const place = document.querySelector(".trend-curve"), canvas = place.querySelector("canvas"), chart = echarts.getInstanceByDom(place);
	const axis = JSON.parse(document.querySelector(".trend script[type='application/json']").textContent)[along];
	const [x, low, high] = axis.band80.reduce((a, b) => b[2] - b[1] > a[2] - a[1] ? b : a);
	const drawn = (depth) => {
		const [px, py] = chart.convertToPixel({ xAxisIndex: 0, yAxisIndex: 0 }, [x, depth]).map((v) => Math.round(v * devicePixelRatio));
		return canvas.getContext("2d").getImageData(px, py, 1, 1).data[3] > 0;
	};
	const share = (from, to) => [...Array(20).keys()].filter((i) => drawn(from + (to - from) * (i + 0.5) / 20)).length / 20;
	return [share(low, high), share(high + (high - low) / 2, high + 2.5 * (high - low))];
})`

// hasWayAhead reports whether no tire of v is at its limit yet and each says when
// it will be, so that its curve has a band.
func hasWayAhead(t *testing.T, f *fleet.Service, v fleet.VehicleView) bool {
	for _, tire := range v.Tires {
		o := modeltest.Must(
			f.PlaceOutlook(t.Context(), fleet.System(models.FromDemo), v.Vehicle.ID, tire.State.Position),
		)(
			t,
		)
		if o.Pull == nil || o.Pull.Reached || o.Pull.Distance.Median.Beyond {
			return false
		}
	}
	return len(v.Tires) > 1
}

// TestTrendInABrowser: the curve is drawn under the pages' own policy, along
// distance and, by the keyboard, along dates, with nothing on the console.
func TestTrendInABrowser(t *testing.T) {
	t.Parallel()
	f, server := webtest.DemoFleet(t)
	v := webtest.TractorToSee(t, f, func(v fleet.VehicleView) bool { return hasWayAhead(t, f, v) })
	path := "/vehicles/" + string(v.Vehicle.ID)
	second := string(v.Tires[1].State.Position)
	b := webtest.NewBrowser(t, 2*time.Minute)
	b.SignIn(t, server.URL, demo.People[0].Email, demo.People[0].Password)

	for _, at := range []string{path, path + "?at=" + second, path + "/at/" + second, "/tires/" + string(v.Tires[1].Tire.ID)} {
		b.Run(
			t,
			at,
			chromedp.Navigate(server.URL+at),
			chromedp.WaitNotPresent(chromedp.CSS("[data-loading]")),
			chromedp.WaitVisible(chromedp.CSS(".trend-curve canvas")),
		)

		along := func(want string) string {
			got := webtest.Ask(
				t,
				b,
				at,
				chromedp.Evaluate[string](`document.querySelector(".trend-axis :checked").value`),
			)
			if got != want {
				t.Errorf("%s is drawn along %s, want %s", at, got, want)
			}

			if share := webtest.Ask(t, b, at, chromedp.Evaluate[float64](inked)); share < 0.02 {
				t.Errorf("%s along %s: %.4f of the curve is drawn on", at, want, share)
			}

			if s := webtest.Ask(t, b, at, chromedp.Evaluate[[]float64](banded+`("`+want+`")`)); s[0] < 0.95 ||
				s[1] > 0.4 {
				t.Errorf(
					"%s along %s: %.2f of the band's height is filled and %.2f of what lies above",
					at,
					want,
					s[0],
					s[1],
				)
			}

			return webtest.Ask(
				t,
				b,
				at,
				chromedp.Evaluate[string](`document.querySelector(".trend-curve canvas").toDataURL()`),
			)
		}

		distance := along("distance")
		b.Run(
			t,
			at,
			chromedp.Evaluate[chromedp.Void](`document.querySelector(".trend-axis :checked").focus()`),
			chromedp.KeyEvent(kb.ArrowDown),
			chromedp.Sleep(100*time.Millisecond),
		)

		if along("date") == distance {
			t.Errorf("%s looks the same along both axes", at)
		}
	}

	b.Run(t, "choice", chromedp.Navigate(server.URL+path+"?at="+second))
	if head := webtest.Ask(t, b, "choice", chromedp.Text(chromedp.ID("trend"))); !strings.Contains(head, second) {
		t.Errorf("asked for %s, the page shows %q", second, head)
	}

	b.Run(t, "yard", chromedp.Navigate(server.URL+"/vehicles"))
	if n := webtest.Ask(t, b, "yard", chromedp.Evaluate[int](`document.querySelectorAll("[href*=echarts], [src*=trend]").length`)); n != 0 {
		t.Error("a page without a curve loads what draws curves")
	}

	b.Check(t, server.URL)
}
