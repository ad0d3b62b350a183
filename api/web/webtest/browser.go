package webtest

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// Text wants words on the page.
func (b *Browser) Text(t *testing.T, want string) {
	t.Helper()
	if got := breakable(Ask(t, b, "text", chromedp.Evaluate[string](`document.body.innerText`))); !strings.Contains(
		got,
		want,
	) {
		t.Fatalf("the page lacks %q:\n%.1500s", want, got)
	}
}

// Shot writes a picture where RIMLEDGER_TEST_SHOTS says.
func (b *Browser) Shot(t *testing.T, name string) {
	t.Helper()
	folder := os.Getenv("RIMLEDGER_TEST_SHOTS")
	if folder == "" {
		return
	}
	if err := os.WriteFile(filepath.Join(folder, name+".png"), Ask(t, b, "picture", chromedp.FullScreenshot(100)), 0o644); err != nil {
		t.Fatal(err)
	}
}

// View writes a picture of what the screen shows.
func (b *Browser) View(t *testing.T, name string) {
	t.Helper()
	if folder := os.Getenv("RIMLEDGER_TEST_SHOTS"); folder != "" {
		if err := os.WriteFile(filepath.Join(folder, name+".png"), Ask(t, b, "picture", chromedp.CaptureScreenshot()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// Browser is a real browser that notes what goes wrong in it.
type Browser struct {
	context.Context
	Mu       sync.Mutex
	Problems []string
	hosts    map[string]bool
	Bytes    int // received since this was last set to 0, as sent
}

// listen notes complaints and which hosts are asked.
func (b *Browser) listen(ev any) {
	b.Mu.Lock()
	defer b.Mu.Unlock()

	switch ev := ev.(type) {
	case *runtime.EventExceptionThrown:
		b.Problems = append(b.Problems, "exception: "+ev.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		if ev.Type == runtime.ConsoleAPICalledTypeError || ev.Type == runtime.ConsoleAPICalledTypeWarning {
			b.Problems = append(b.Problems, "console: "+ev.Type.String())
		}
	case *log.EventEntryAdded:
		if ev.Entry.Level == log.EntryLevelError {
			b.Problems = append(b.Problems, "log: "+ev.Entry.Text+" "+ev.Entry.URL)
		}
	case *network.EventLoadingFinished:
		b.Bytes += int(ev.EncodedDataLength)
	case *network.EventRequestWillBeSent:
		if u, err := url.Parse(ev.Request.URL); err == nil && u.Host != "" {
			b.hosts[u.Host] = true
		}
	}
}

// NewBrowser starts Chromium for at most limit, or skips the test where there is none.
func NewBrowser(t testing.TB, limit time.Duration) *Browser {
	t.Helper()
	b, _ := NewBrowserIn(t, limit, t.TempDir())
	return b
}

// NewBrowserIn starts Chromium on a profile folder, so that what pages kept in
// it is there again. kill ends it as a flat battery does.
func NewBrowserIn(t testing.TB, limit time.Duration, profile string) (b *Browser, kill func()) {
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
	b = &Browser{hosts: map[string]bool{}}
	ctx, end := chromedp.NewContext(alloc)
	t.Cleanup(end)
	b.Context = ctx
	b.Run(t, "start", chromedp.Navigate("about:blank"))

	if err := chromedp.Listen(ctx, b.listen); err != nil {
		t.Fatal(err)
	}

	Must(chromedp.Call(ctx, network.Enable, network.EnableParams{}))(t)
	Must(chromedp.Call(ctx, log.Enable, cdp.Empty{}))(t)
	return b, func() {
		chromium := chromedp.FromContext(ctx).Browser.Process()
		_ = chromium.Kill()
		_, _ = chromium.Wait()
		stop()
	}
}

func (b *Browser) Run(t testing.TB, what string, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(b, actions...); err != nil {
		t.Fatalf("%s: %v", what, err)
	}
}

// Ask runs an action that answers.
func Ask[T any](t testing.TB, b *Browser, what string, a chromedp.Action[T]) T {
	t.Helper()
	v, err := chromedp.Run(b, a)
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	return v
}

func (b *Browser) SignIn(t testing.TB, base, email, password string) {
	t.Helper()
	b.Run(t, "sign in", chromedp.Navigate(base+"/sign-in"))
	b.SignInHere(t, email, password)
}

// SignInHere signs in on the sign-in page that is open.
func (b *Browser) SignInHere(t testing.TB, email, password string) {
	t.Helper()
	b.Run(
		t,
		"sign in",
		chromedp.SendKeys(chromedp.CSS("input[name=email]"), email),
		chromedp.SendKeys(chromedp.CSS("input[name=password]"), password),
		chromedp.Click(chromedp.CSS("button.primary")),
		chromedp.WaitVisible(chromedp.CSS("nav")),
	)
}

// breakable makes the spaces of dates, which do not break, plain ones.
func breakable(text string) string { return strings.ReplaceAll(text, "\u00a0", " ") }

// Reads fails the test unless the page shows these texts.
func (b *Browser) Reads(t *testing.T, texts ...string) {
	t.Helper()
	page := breakable(Ask(t, b, "read", chromedp.Text(chromedp.ID("main"))))
	for _, s := range texts {
		if !strings.Contains(page, s) {
			t.Errorf("the page lacks %q:\n%s", s, page)
		}
	}
}

// Check fails the test if the browser complained or another host was asked.
func (b *Browser) Check(t *testing.T, base string) {
	t.Helper()
	b.Mu.Lock()
	defer b.Mu.Unlock()
	for _, p := range b.Problems {
		t.Error(p)
	}
	for h := range b.hosts {
		if h != strings.TrimPrefix(base, "http://") {
			t.Errorf("a page asked another host: %s", h)
		}
	}
}

// Screen is what a page is looked at on.
type Screen struct {
	Name          string
	Width, height int64
	scheme        string
}

var Screens = []Screen{
	{"phone", 360, 740, "light"},
	{"phone-dark", 360, 740, "dark"},
	{"desk", 1280, 900, "light"},
	{"desk-dark", 1280, 900, "dark"},
}

func (b *Browser) Look(t *testing.T, s Screen) {
	t.Helper()

	Must(
		chromedp.Call(
			b,
			emulation.SetEmulatedMedia,
			emulation.SetEmulatedMediaParams{
				Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: s.scheme}},
			},
		),
	)(
		t,
	)

	b.Run(t, s.Name, chromedp.EmulateViewport(s.Width, s.height))
}

// violation is what axe-core says of a page.
type violation struct {
	ID, Help string
	Nodes    []struct {
		HTML           string
		FailureSummary string
	}
}

//go:embed testdata/axe-core-4.14.1.min.js
var axe string

// Accessible has axe-core look at the page as it stands, on every screen. Its
// complaints begin with where.
func (b *Browser) Accessible(t *testing.T, where string) {
	t.Helper()
	b.Run(t, where, chromedp.Evaluate[chromedp.Void](axe+"; undefined"))

	for _, s := range Screens {
		b.Look(t, s)

		found := Ask(
			t,
			b,
			where,
			chromedp.Evaluate[string](
				`axe.run(document, { resultTypes: ["violations"] }).then((r) => JSON.stringify(r.violations))`,
				chromedp.EvalAwaitPromise,
			),
		)

		var list []violation
		if err := json.Unmarshal([]byte(found), &list); err != nil {
			t.Fatal(err)
		}

		for _, v := range list {
			t.Errorf(
				"%s on %s: %s: %s, %d times, first %.300s\n%s",
				where,
				s.Name,
				v.ID,
				v.Help,
				len(v.Nodes),
				v.Nodes[0].HTML,
				v.Nodes[0].FailureSummary,
			)
		}
	}
}

// Comes waits until an element shows a text, also past a page that is loaded anew.
func (b *Browser) Comes(t *testing.T, selector, text string) {
	t.Helper()
	shown := chromedp.Evaluate[string](fmt.Sprintf(`document.querySelector(%q)?.textContent ?? ""`, selector))
	last := ""
	for end := time.Now().Add(15 * time.Second); time.Now().Before(end); time.Sleep(30 * time.Millisecond) {
		if got, err := chromedp.Run(b, shown); err == nil {
			if last = got; strings.Contains(got, text) {
				return
			}
		}
	}
	t.Fatalf("%s shows %q, want %q", selector, last, text)
}

// Is fails the test unless a script answers want.
func (b *Browser) Is(t *testing.T, script, want string) {
	t.Helper()
	if got := Ask(t, b, script, chromedp.Evaluate[string](`String(`+script+`)`)); got != want {
		t.Errorf("%s is %q, want %q", script, got, want)
	}
}

// Choose picks an option of the filter as a person does.
func (b *Browser) Choose(t *testing.T, field, value string) {
	t.Helper()
	b.Run(
		t,
		field,
		chromedp.Evaluate[chromedp.Void](
			fmt.Sprintf(
				`(f => { f.closest("details").open = true; f.focus(); f.value = %q; f.dispatchEvent(new Event("input", { bubbles: true })); })(document.querySelector("#filter [name=%s]"))`,
				value,
				field,
			),
		),
	)
}
