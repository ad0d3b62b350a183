package web_test

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
)

// BenchmarkFirstPaint measures how long the attention list of 10,000 vehicles
// takes to its first contentful paint (W3C Paint Timing), and the same page
// handed out as a file, with what it loads, in the same browser, in turns. Run
// it with -benchtime 20x.
func BenchmarkFirstPaint(b *testing.B) {
	y := webtest.NewWorld(b)
	for i := range 10_000 {
		v := y.Vehicle
		v.ID, v.Number = modeltest.NewID[models.VehicleID](), fmt.Sprintf("V-%05d", i)
		modeltest.Must(y.Fleet.CreateVehicle(b.Context(), y.System, v))(b)
	}

	p := y.SignedIn("mara@fleet.example")
	page := p.Get("/")
	if page.Status != http.StatusOK {
		b.Fatal(page.Status)
	}

	still := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/" {
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			_, _ = io.WriteString(w, page.Body)
			return
		}

		file := p.Get(r.URL.RequestURI())
		w.Header().Set("Content-Type", file.Header.Get("Content-Type"))
		w.Header().Set("Cache-Control", file.Header.Get("Cache-Control"))
		_, _ = io.WriteString(w, file.Body)
	}))

	b.Cleanup(still.Close)
	chrome := webtest.NewBrowser(b, 5*time.Minute)
	chrome.Run(b, "desk", chromedp.EmulateViewport(1280, 900))
	chrome.SignIn(b, y.Server.URL, "mara@fleet.example", webtest.Password)

	paint := func(base string) float64 {
		chrome.Run(
			b,
			"open",
			chromedp.Navigate(base+"/?"+url.Values{"q": {""}}.Encode()),
			chromedp.WaitVisible(chromedp.CSS("footer")),
		)

		return webtest.Ask(
			b,
			chrome,
			"paint",
			chromedp.Evaluate[float64](`new Promise((done) => new PerformanceObserver((list) => {
			const e = list.getEntriesByName("first-contentful-paint")[0];
			if (e) done(e.startTime);
		}).observe({ type: "paint", buffered: true }))`, chromedp.EvalAwaitPromise),
		)
	}

	paint(y.Server.URL)
	paint(still.URL)

	var ours, file []float64
	for b.Loop() {
		ours, file = append(ours, paint(y.Server.URL)), append(file, paint(still.URL))
	}

	slices.Sort(ours)
	slices.Sort(file)
	a, f := ours[len(ours)/2], file[len(file)/2]
	b.ReportMetric(a, "ms-ours")
	b.ReportMetric(f, "ms-file")
	b.ReportMetric(a/f, "ratio")
}
