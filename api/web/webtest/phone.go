package webtest

import (
	"fmt"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"rimledger/api"
	"rimledger/models/modeltest"
)

// Server is the whole server, which can be stopped and started at its address.
type Server struct {
	t       testing.TB
	handler http.Handler
	address string
	Stop    func()
}

// Open starts a server over the same record.
func (y *World) Open() *Server {
	y.T.Helper()
	deps := api.Deps{Fleet: y.Fleet, Sessions: y.Store.Sessions(), Version: "test", Now: Now}
	h := modeltest.Must(api.New(deps))(y.T)
	s := &Server{t: y.T, address: "127.0.0.1:0", handler: onClock(h)}
	s.Start()
	y.T.Cleanup(func() { s.Stop() })
	return s
}

// Start starts it at its address, again after Stop.
func (s *Server) Start() {
	s.t.Helper()
	listener := modeltest.Must(net.Listen("tcp", s.address))(s.t)
	s.address = listener.Addr().String()
	server := &http.Server{Handler: s.handler, ReadHeaderTimeout: time.Minute}
	done := make(chan struct{})
	go func() { defer close(done); _ = server.Serve(listener) }()
	s.Stop = func() { _ = server.Close(); <-done }
}

// URL is the address of a page of it.
func (s *Server) URL(path string) string { return "http://" + s.address + path }

// Phone is a browser on a 360 px touch screen, whose taps are counted.
type Phone struct {
	*Browser
	T    testing.TB
	Taps int
}

// Hold makes a phone of a browser.
func Hold(t testing.TB, b *Browser) *Phone {
	t.Helper()
	b.Run(t, "phone", chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch))
	return &Phone{Browser: b, T: t}
}

// Until waits for a condition on the page, also across a change of pages.
func (p *Phone) Until(condition string) {
	p.T.Helper()
	p.Browser.Until(p.T, condition)
}

// Shows waits until the page shows a text.
func (p *Phone) Shows(text string) {
	p.T.Helper()
	p.Until(`document.body.innerText.replaceAll("\u00a0", " ").includes(` + Quote(text) + ")")
}

// Quote is a string of a script; it must not contain a backtick.
func Quote(s string) string { return "`" + s + "`" }

// Module is a promise of a module of ours, the one that the page itself has.
func Module(name string) string {
	return "import(new URL(" + Quote(name) + ", document.querySelector('script[type=module]').src))"
}

// To opens a page.
func (p *Phone) To(url string) {
	p.T.Helper()
	p.Run(p.T, "open "+url, chromedp.Navigate(url), chromedp.WaitVisible(chromedp.CSS("h1")))
}

// Tap touches the middle of the button with this text (or this selector, if it
// begins with #) and waits until the page took the tap.
func (p *Phone) Tap(name string) {
	p.T.Helper()
	find := "[...document.querySelectorAll('#yard button, #yard a')].find((b) => b.offsetParent && " +
		"(b.textContent.replace(/\\s+/g, '') === " + Quote(
		strings.ReplaceAll(name, " ", ""),
	) + " || b.getAttribute('aria-label') === " + Quote(
		name,
	) + "))"

	if strings.HasPrefix(name, "#") {
		find = "document.querySelector(" + Quote(name) + ")"
	}

	type point struct{ X, Y float64 }
	at, err := chromedp.Run(p, chromedp.Poll[point](`(() => { const b = `+find+`; if (!b || b.disabled) return false;
		b.scrollIntoView({ block: "center" }); window.tapped = false; addEventListener("click", (e) => { window.tapped = b.contains(e.target) || e.target.outerHTML; }, { once: true, capture: true });
		const r = b.getBoundingClientRect(); return { X: r.x + r.width / 2, Y: r.y + r.height / 2 }; })()`, chromedp.WithPollingTimeout(30*time.Second)))
	if err != nil {
		page, _ := chromedp.Run(p, chromedp.Evaluate[string](`location.href + "\n" + document.body.innerText`))
		p.T.Fatalf("find %s: %v\n%s", name, err, page)
	}

	// On a busy machine a touch can last so long that the browser takes it for a
	// long press, which is no tap.
	for range 3 {
		p.Run(p.T, "tap "+name, chromedp.TapXY(at.X, at.Y))

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
		p.T.Fatalf("the tap on %s went to %v", name, hit)
	}

	p.Taps++
}

// Cut takes the network from the pages and from the worker, or gives it back. The
// browser must be one of NewBrowserIn: the workers of others lose it, too.
func (p *Phone) Cut(offline bool) {
	p.T.Helper()

	rules := network.EmulateNetworkConditionsByRuleParams{
		EmulateOfflineServiceWorker: &offline,
		MatchedNetworkConditions: []*network.Conditions{
			{Offline: offline, DownloadThroughput: -1, UploadThroughput: -1},
		},
	}
	modeltest.Must(chromedp.Call(p, network.EmulateNetworkConditionsByRule, rules))(p.T)

	state := network.OverrideNetworkStateParams{Offline: offline, DownloadThroughput: -1, UploadThroughput: -1}
	modeltest.Must(chromedp.Call(p, network.OverrideNetworkState, state))(p.T)
}

// Ready waits until the phone keeps what it needs to work without a network.
func (p *Phone) Ready(s *Server) {
	p.T.Helper()
	p.To(s.URL("/yard"))
	p.Until("document.querySelectorAll('.yard-rows li').length > 0")
	p.Until("navigator.serviceWorker.controller !== null")
	p.Until("caches.open('rimledger-person').then((c) => c.match('/yard')).then(Boolean)")
}
