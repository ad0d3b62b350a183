package yard_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models/modeltest"
)

// TestPhoneKeepsWhatTheYardAsksFor compares what the yard's pages load with what
// the worker keeps.
func TestPhoneKeepsWhatTheYardAsksFor(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")

	worker := p.Get("/worker.js").Body
	for _, path := range []string{"/yard", "/vehicles/" + string(y.Vehicle.ID) + "/inspect"} {
		files := regexp.MustCompile(`"(/static/[^"]+)"`).FindAllStringSubmatch(p.Get(path).Body, -1)
		if len(files) < 10 {
			t.Errorf("%s loads %d files", path, len(files))
		}

		for _, file := range files {
			if !strings.Contains(worker, `"`+file[1]+`"`) {
				t.Errorf("%s loads %s, which the worker does not keep", path, file[1])
			}
		}
	}
}

// TestOldPageKeepsItsFiles installs the worker on a phone that keeps a page and
// files of an earlier version: the page is renewed and the files go; where it
// cannot be renewed, they stay.
func TestOldPageKeepsItsFiles(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")
	s := y.Open()
	b := webtest.NewBrowser(t, 2*time.Minute)
	p := webtest.Hold(t, b)
	p.SignIn(t, s.URL(""), "odd@fleet.example", webtest.Password)
	p.Ready(s)

	const grow = `(async () => {
		await (await caches.open("rimledger-person")).put("/yard", new Response("earlier page"));
		await (await caches.open("rimledger-files-earlier")).put("/static/earlier/yard.js", new Response("earlier file"));
		await (await navigator.serviceWorker.ready).unregister();
	})()`

	const kept = `caches.match("/yard", { cacheName: "rimledger-person" }).then((page) => page.text())`

	p.Run(
		t,
		"earlier",
		chromedp.Evaluate[chromedp.Void](grow, chromedp.EvalAwaitPromise),
		chromedp.Navigate("about:blank"),
	)

	p.To(s.URL("/yard"))
	p.Until(`caches.has("rimledger-files-earlier").then((has) => !has)`)
	p.Until(kept + `.then((text) => text.includes("data-person"))`)

	// The session is over, and whoever opens the phone is a stranger.
	p.Run(
		t,
		"earlier",
		chromedp.Evaluate[chromedp.Void](grow, chromedp.EvalAwaitPromise),
		chromedp.Navigate("about:blank"),
	)

	modeltest.Must(chromedp.Call(p, network.ClearBrowserCookies, cdp.Empty{}))(t)
	p.Run(t, "stranger", chromedp.Navigate(s.URL("/sign-in")))

	p.Run(
		t,
		"worker",
		chromedp.Evaluate[chromedp.Void](
			`navigator.serviceWorker.register("/worker.js", { type: "module" })`,
			chromedp.EvalAwaitPromise,
		),
	)

	p.Until(`navigator.serviceWorker.ready.then((r) => r.active.state === "activated")`)
	p.Until(`caches.has("rimledger-files-earlier")`)
	p.Until(kept + `.then((text) => text === "earlier page")`)
	p.Until(`fetch("/static/earlier/yard.js").then((file) => file.text()).then((text) => text === "earlier file")`)
}

// TestWorkerIsAModule: the worker has one address, and names its own version.
func TestWorkerIsAModule(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	a := y.SignedIn("odd@fleet.example").Get("/worker.js")
	a.Wants(t, http.StatusOK, `import { work } from "/static/`, `/worker.js";`, "/keep.js")
	if cached := a.Header.Get("Cache-Control"); cached != "no-cache" {
		t.Errorf("the worker is cached as %q", cached)
	}
}
