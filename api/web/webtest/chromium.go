package webtest

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"rimledger/models/modeltest"
)

const chromium = "/usr/bin/chromium"

// needsChromium leaves the test out if tests are to be short, or where there is no
// browser, unless everything is required.
func needsChromium(t testing.TB) {
	t.Helper()
	modeltest.Long(t)
	if _, err := os.Stat(chromium); err != nil {
		if os.Getenv("RIMLEDGER_TEST_REQUIRE_ALL") == "1" {
			t.Fatal("no browser:", err)
		}
		t.Skip("no browser:", err)
	}
}

// startChromium prepares a Chromium that keeps what it keeps in a profile folder.
func startChromium(ctx context.Context, profile string) (context.Context, context.CancelFunc) {
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

	alloc, stop := chromedp.NewExecAllocator(ctx, options...)
	ctx, end := chromedp.NewContext(alloc)
	return ctx, func() { end(); stop() }
}

// common is the browser that the tests of a package share.
var common struct {
	sync.Mutex
	context.Context // nil: not started
	end             context.CancelFunc
}

// commonChromium returns the shared browser, started by whoever needs it first.
func commonChromium(t testing.TB) context.Context {
	t.Helper()
	profile := filepath.Join(sharedFolder(t), "chromium")
	common.Lock()
	defer common.Unlock()

	if common.Context == nil {
		ctx, end := startChromium(context.Background(), profile)
		if err := chromedp.Do(ctx, chromedp.Navigate("about:blank")); err != nil {
			end()
			t.Fatal("start the browser:", err)
		}
		common.Context, common.end = ctx, end
	}
	return common.Context
}

// endChromium ends the shared browser and waits for its end, at most 10 s.
func endChromium() {
	common.Lock()
	defer common.Unlock()
	if common.Context == nil {
		return
	}

	limited, cancel := context.WithTimeout(common.Context, 10*time.Second)
	defer cancel()
	_ = chromedp.Cancel(limited)
	common.end()
}

// NewBrowser opens a session of its own in the browser that the tests of a package
// share: nothing that one keeps is seen in another. It lasts for at most limit.
func NewBrowser(t testing.TB, limit time.Duration) *Browser {
	t.Helper()
	needsChromium(t)

	limited, cancel := context.WithTimeout(commonChromium(t), limit)
	t.Cleanup(cancel)
	ctx, end := chromedp.NewContext(limited, chromedp.WithNewBrowserContext())
	t.Cleanup(end)
	return newBrowser(t, ctx)
}

// NewBrowserIn starts a browser on a profile folder, so that what pages kept in it
// is there again, for a test that kills the browser or takes its network. kill ends
// it as a flat battery does.
func NewBrowserIn(t testing.TB, limit time.Duration, profile string) (b *Browser, kill func()) {
	t.Helper()
	needsChromium(t)

	limited, cancel := context.WithTimeout(context.WithoutCancel(t.Context()), limit)
	t.Cleanup(cancel)
	ctx, end := startChromium(limited, profile)
	t.Cleanup(end)

	return newBrowser(t, ctx), func() {
		chromium := chromedp.FromContext(ctx).Browser.Process()
		_ = chromium.Kill()
		_, _ = chromium.Wait()
		end()
	}
}

// newBrowser listens to a tab and sets its clock.
func newBrowser(t testing.TB, ctx context.Context) *Browser {
	t.Helper()
	b := &Browser{Context: ctx, hosts: map[string]bool{}, waiting: map[network.RequestID]bool{}}
	b.Run(t, "start", chromedp.Navigate("about:blank"))
	if err := chromedp.Listen(ctx, b.listen); err != nil {
		t.Fatal(err)
	}

	modeltest.Must(chromedp.Call(ctx, network.Enable, network.EnableParams{}))(t)
	modeltest.Must(chromedp.Call(ctx, log.Enable, cdp.Empty{}))(t)

	clock := page.AddScriptToEvaluateOnNewDocumentParams{Source: clockScript()}
	modeltest.Must(chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, clock))(t)

	// Every tab works as if it were in front.
	focus := emulation.SetFocusEmulationEnabledParams{Enabled: true}
	modeltest.Must(chromedp.Call(ctx, emulation.SetFocusEmulationEnabled, focus))(t)
	return b
}
