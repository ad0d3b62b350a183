package webtest

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"rimledger/models/modeltest"
)

// patience is how long something may take that a page does by itself.
const patience = 30 * time.Second

// Browser is a tab of a real browser that notes what goes wrong in it.
type Browser struct {
	context.Context
	mu       sync.Mutex
	problems []string
	hosts    map[string]bool
	bytes    int // received since Weigh, as sent
	waiting  map[network.RequestID]bool
}

// listen notes complaints and which hosts are asked.
func (b *Browser) listen(ev any) {
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
		delete(b.waiting, ev.RequestID)
	case *network.EventLoadingFailed:
		delete(b.waiting, ev.RequestID)
	case *network.EventRequestWillBeSent:
		b.waiting[ev.RequestID] = true
		if u, err := url.Parse(ev.Request.URL); err == nil && u.Host != "" {
			b.hosts[u.Host] = true
		}
	}
}

// Weigh begins to count anew what the page receives.
func (b *Browser) Weigh() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.bytes = 0
	clear(b.waiting)
}

// Loaded waits until the page has all that it asked for, and that was counted.
func (b *Browser) Loaded(t testing.TB) {
	t.Helper()
	b.Until(t, `document.readyState === "complete"`)
	modeltest.Eventually(t, "everything that the page asks for comes", func() bool {
		b.mu.Lock()
		defer b.mu.Unlock()
		return b.bytes > 0 && len(b.waiting) == 0
	})
}

// Received returns how many bytes came since Weigh, as they were sent.
func (b *Browser) Received() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.bytes
}

// Forgive drops complaints with one of these texts: of what a test has refused or
// cut off on purpose.
func (b *Browser) Forgive(texts ...string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.problems = slices.DeleteFunc(b.problems, func(problem string) bool {
		return slices.ContainsFunc(texts, func(text string) bool { return strings.Contains(problem, text) })
	})
}

// Check fails the test if the browser complained or another host was asked.
func (b *Browser) Check(t testing.TB, base string) {
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

// Run does something in the page; what says what it is for.
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

// SignIn opens the sign-in page and signs in there.
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

// Until waits for a condition on the page, also across a change of pages.
func (b *Browser) Until(t testing.TB, condition string) {
	t.Helper()
	limited, cancel := context.WithTimeout(b, patience)
	defer cancel()

	for {
		_, err := chromedp.Run(limited, chromedp.Poll[bool](
			condition,
			chromedp.WithPollingTimeout(patience),
			chromedp.WithPollingInterval(10*time.Millisecond),
		))
		if err == nil {
			return
		}

		if limited.Err() != nil {
			page, _ := chromedp.Run(b, chromedp.Evaluate[string](`location.href + "\n" + document.body.innerText`))
			t.Fatalf("waiting for %s: %v\n%s", condition, err, page)
		}
	}
}

// Comes waits until an element shows a text, also past a page that is loaded anew.
func (b *Browser) Comes(t testing.TB, selector, text string) {
	t.Helper()
	b.Until(t, fmt.Sprintf(`(document.querySelector(%q)?.textContent ?? "").includes(%q)`, selector, text))
}

// breakable makes the spaces of dates, which do not break, plain ones.
func breakable(text string) string { return strings.ReplaceAll(text, "\u00a0", " ") }

// Reads fails the test unless the page shows these texts.
func (b *Browser) Reads(t testing.TB, texts ...string) {
	t.Helper()
	page := breakable(Ask(t, b, "read", chromedp.Text(chromedp.ID("main"))))
	for _, s := range texts {
		if !strings.Contains(page, s) {
			t.Errorf("the page lacks %q:\n%s", s, page)
		}
	}
}

// Is fails the test unless a script answers want.
func (b *Browser) Is(t testing.TB, script, want string) {
	t.Helper()
	if got := Ask(t, b, script, chromedp.Evaluate[string](`String(`+script+`)`)); got != want {
		t.Errorf("%s is %q, want %q", script, got, want)
	}
}

// Choose picks an option of the filter as a person does.
func (b *Browser) Choose(t testing.TB, field, value string) {
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

// Text wants words on the page.
func (b *Browser) Text(t testing.TB, want string) {
	t.Helper()
	got := breakable(Ask(t, b, "text", chromedp.Evaluate[string](`document.body.innerText`)))
	if !strings.Contains(got, want) {
		t.Fatalf("the page lacks %q:\n%.1500s", want, got)
	}
}

// Shot writes a picture of the whole page, where RIMLEDGER_TEST_SHOTS says.
func (b *Browser) Shot(t testing.TB, name string) {
	t.Helper()
	b.picture(t, name, chromedp.FullScreenshot(100))
}

// View writes a picture of what the screen shows, where RIMLEDGER_TEST_SHOTS says.
func (b *Browser) View(t testing.TB, name string) {
	t.Helper()
	b.picture(t, name, chromedp.CaptureScreenshot())
}

func (b *Browser) picture(t testing.TB, name string, take chromedp.Action[[]byte]) {
	t.Helper()
	folder := os.Getenv("RIMLEDGER_TEST_SHOTS")
	if folder == "" {
		return
	}
	if err := os.WriteFile(filepath.Join(folder, name+".png"), Ask(t, b, "picture", take), 0o644); err != nil {
		t.Fatal(err)
	}
}
