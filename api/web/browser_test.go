package web_test

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// browser is a real browser that notes what goes wrong in it.
type browser struct {
	context.Context
	mu       sync.Mutex
	problems []string
	hosts    map[string]bool
	bytes    int // received since this was last set to 0, as sent
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
	case *network.EventLoadingFinished:
		b.bytes += int(ev.EncodedDataLength)
	case *network.EventRequestWillBeSent:
		if u, err := url.Parse(ev.Request.URL); err == nil && u.Host != "" {
			b.hosts[u.Host] = true
		}
	}
}

// newBrowser starts Chromium for at most limit, or skips the test where there is none.
func newBrowser(t testing.TB, limit time.Duration) *browser {
	t.Helper()
	b, _ := newBrowserIn(t, limit, t.TempDir())
	return b
}

// newBrowserIn starts Chromium on a profile folder, so that what pages kept in
// it is there again. kill ends it as a flat battery does.
func newBrowserIn(t testing.TB, limit time.Duration, profile string) (b *browser, kill func()) {
	t.Helper()
	const chromium = "/usr/bin/chromium"
	if _, err := os.Stat(chromium); err != nil {
		if os.Getenv("RIMLEDGER_TEST_REQUIRE_ALL") == "1" {
			t.Fatal("no browser:", err)
		}
		t.Skip("no browser:", err)
	}

	options := append(
		chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(chromium),
		chromedp.UserDataDir(profile),
		chromedp.NoSandbox,
		chromedp.DisableGPU,
		chromedp.NoFirstRun,
		chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true),
	)

	limited, cancel := context.WithTimeout(context.WithoutCancel(t.Context()), limit)
	t.Cleanup(cancel)
	alloc, stop := chromedp.NewExecAllocator(limited, options...)
	t.Cleanup(stop)
	b = &browser{hosts: map[string]bool{}}
	ctx, end := chromedp.NewContext(alloc)
	t.Cleanup(end)
	b.Context = ctx
	b.run(t, "start", chromedp.Navigate("about:blank"))

	if err := chromedp.Listen(ctx, b.listen); err != nil {
		t.Fatal(err)
	}

	must(chromedp.Call(ctx, network.Enable, network.EnableParams{}))(t)
	must(chromedp.Call(ctx, log.Enable, cdp.Empty{}))(t)
	return b, func() {
		chromium := chromedp.FromContext(ctx).Browser.Process()
		_ = chromium.Kill()
		_, _ = chromium.Wait()
		stop()
	}
}

func (b *browser) run(t testing.TB, what string, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(b, actions...); err != nil {
		t.Fatalf("%s: %v", what, err)
	}
}

// ask runs an action that answers.
func ask[T any](t testing.TB, b *browser, what string, a chromedp.Action[T]) T {
	t.Helper()
	v, err := chromedp.Run(b, a)
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	return v
}

func (b *browser) signIn(t testing.TB, base, email, password string) {
	t.Helper()
	b.run(t, "sign in", chromedp.Navigate(base+"/sign-in"))
	b.signInHere(t, email, password)
}

// signInHere signs in on the sign-in page that is open.
func (b *browser) signInHere(t testing.TB, email, password string) {
	t.Helper()
	b.run(
		t,
		"sign in",
		chromedp.SendKeys(chromedp.CSS("input[name=email]"), email),
		chromedp.SendKeys(chromedp.CSS("input[name=password]"), password),
		chromedp.Click(chromedp.CSS("button.primary")),
		chromedp.WaitVisible(chromedp.CSS("nav")),
	)
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

	b.run(
		t,
		"open",
		chromedp.Navigate(base+"/vehicles/"+string(y.vehicle.ID)+"/inspect?plain=1"),
		chromedp.WaitVisible(chromedp.ID("entry")),
	)

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

	if hint := ask(t, b, "hint", chromedp.Evaluate[string](`document.getElementById("p.1L").querySelector(".hint").textContent`)); !strings.Contains(
		hint,
		"Below the legal minimum",
	) {
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

// breakable makes the spaces of dates, which do not break, plain ones.
func breakable(text string) string { return strings.ReplaceAll(text, "\u00a0", " ") }

// reads fails the test unless the page shows these texts.
func (b *browser) reads(t *testing.T, texts ...string) {
	t.Helper()
	page := breakable(ask(t, b, "read", chromedp.Text(chromedp.ID("main"))))
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
