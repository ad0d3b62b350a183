package desk_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models/modeltest"
)

// TestListsNarrowInPlace narrows lists as a person types and chooses: the page
// stays, its address tells the filter, the back button takes it back, more is
// added below, and a screen reader is told. Without a script the same forms work.
func TestListsNarrowInPlace(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.ManyVehicles()
	y.AddPerson("mara@fleet.example")
	b := webtest.NewBrowser(t, 2*time.Minute)
	base := y.Server.URL
	b.SignIn(t, base, "mara@fleet.example", webtest.Password)

	stay := chromedp.Evaluate[chromedp.Void](`window.stays = true; undefined`)

	b.Run(t, "search", chromedp.Navigate(base+"/vehicles"), chromedp.WaitVisible(chromedp.ID("q")), stay)
	b.Comes(t, "#found", "The first 50 of 61 vehicles.")
	steps := webtest.Ask(t, b, "steps", chromedp.Evaluate[int](`history.length`))
	b.Run(t, "type", chromedp.SendKeys(chromedp.ID("q"), "T-2"))
	b.Comes(t, "#found", "that match")

	b.Run(t, "type on", chromedp.SendKeys(chromedp.ID("q"), "0")) // each pause is a search; all are one step back
	b.Comes(t, "#found", "10 vehicles match.")
	b.Is(t, `location.pathname + location.search`, "/vehicles?q=T-20")
	b.Is(t, `window.stays && document.activeElement.id`, "q")
	b.Is(t, fmt.Sprintf(`history.length - %d`, steps), "1")
	b.Run(t, "back", chromedp.Evaluate[chromedp.Void](`history.back()`))
	b.Comes(t, "#found", "The first 50 of 61 vehicles")

	b.Is(t, `location.search + document.getElementById("q").value`, "")

	b.Run(t, "attention", chromedp.Navigate(base+"/"), chromedp.WaitVisible(chromedp.ID("next")), stay)

	b.Run(
		t,
		"more",
		chromedp.Evaluate[chromedp.Void](
			`document.querySelector("#rows input").click(); document.getElementById("note").value = "bay 2"; undefined`,
		),
		chromedp.Click(chromedp.ID("next")),
	)

	b.Comes(t, "#found", "25 more vehicles; there are more.")
	b.Run(t, "more", chromedp.Click(chromedp.ID("next")))
	b.Comes(t, "#more", "That is the end of the list.")
	b.Is(t, `window.stays && document.querySelectorAll("#rows > li").length`, "61")
	b.Is(t, `document.activeElement.id + document.querySelectorAll("#rows input:checked").length`, "next1")
	b.Accessible(t, "the list with more added")
	b.Choose(t, "class", "tractor")

	b.Comes(t, "#found", "The first 25 of 61 vehicles that match.")
	b.Is(t, `location.search`, "?class=tractor")
	b.Is(t, `window.stays && document.getElementById("note").value + document.activeElement.name`, "bay 2class")
	b.Is(t, `document.getElementById("in-use").textContent.trim()`, "(in use)")
	b.Choose(t, "class", "bus")
	b.Comes(t, "#list", "Nothing matches this filter")
	b.Accessible(t, "the list without a match")

	b.Run(t, "back", chromedp.Evaluate[chromedp.Void](`history.back()`))
	b.Comes(t, "#found", "The first 25 of 61 vehicles that match.")
	b.Is(t, `document.querySelector("#filter [name=class]").value`, "tractor")
	b.Is(t, `localStorage.length + Object.values(sessionStorage).filter(v => v.includes("T-2")).length`, "0")
	b.Check(t, base)

	modeltest.Must(
		chromedp.Call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}),
	)(
		t,
	)

	b.Run(
		t,
		"no script",
		chromedp.Navigate(base+"/vehicles"),
		chromedp.SendKeys(chromedp.ID("q"), "T-20"),
		chromedp.Click(chromedp.CSS(".search button")),
		chromedp.WaitVisible(chromedp.CSS("#found a")),
	)

	b.Reads(t, "10 vehicles match.", "T-209")
}

// TestAcknowledgedInTheList acknowledges a finding where it stands in the list,
// with a day that is refused first, and withdraws it; the session is lost once.
func TestAcknowledgedInTheList(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("mara@fleet.example")
	b := webtest.NewBrowser(t, 2*time.Minute)
	base := y.Server.URL
	b.SignIn(t, base, "mara@fleet.example", webtest.Password)

	open := func(day string) {
		b.Run(
			t,
			"open",
			chromedp.Evaluate[chromedp.Void](`window.stays = true; document.querySelector(".aside a").click()`),
			chromedp.WaitVisible(chromedp.CSS(".aside [name=why]")),
			chromedp.Evaluate[chromedp.Void](
				fmt.Sprintf(`document.querySelector(".aside [name=until]").value = %q; undefined`, day),
			),
			chromedp.SendKeys(chromedp.CSS(".aside [name=why]"), "gauge on order"),
		)
	}

	press := func() { b.Run(t, "send", chromedp.Click(chromedp.CSS(".aside form.grid button"))) }
	open(webtest.Now().AddDate(2, 0, 0).Format(time.DateOnly))
	b.Is(t, `document.activeElement.name`, "why")

	b.Run(
		t,
		"past the browser",
		chromedp.Evaluate[chromedp.Void](`document.querySelector(".aside [name=until]").removeAttribute("max")`),
	)

	press()
	b.Comes(t, ".aside label .fault", "day")
	b.Is(t, `document.querySelector(".aside [name=why]").value`, "gauge on order")

	b.Run(
		t,
		"a day that can be",
		chromedp.Evaluate[chromedp.Void](
			fmt.Sprintf(
				`document.querySelector(".aside [name=until]").value = %q; undefined`,
				webtest.Now().AddDate(0, 0, 4).Format(time.DateOnly),
			),
		),
	)

	press()
	b.Comes(t, ".aside", "Acknowledged by Mara Quill")
	webtest.Ask(t, b, "focus", chromedp.Poll[bool](`window.stays && document.activeElement.matches(".aside")`))
	quiet := `["outlineStyle", "backgroundColor"].map(s => getComputedStyle(document.querySelector(".findings li:has(.aside section) .urgency"))[s]).join(" ")`
	b.Is(t, quiet, "dashed rgba(0, 0, 0, 0)")
	b.Accessible(t, "the list with a finding acknowledged")
	b.View(t, "acknowledged")

	b.Run(
		t,
		"withdraw",
		chromedp.Click(chromedp.CSS(".aside [name=withdraw]")),
		chromedp.WaitNotPresent(chromedp.CSS(".aside [name=withdraw]")),
	)

	b.Is(t, quiet+".split(' ')[0]", "none")

	b.Run(t, "anew", chromedp.Reload(), chromedp.WaitVisible(chromedp.CSS(".aside a")))
	open(webtest.Now().AddDate(0, 0, 4).Format(time.DateOnly))
	modeltest.Must(chromedp.Call(b, network.ClearBrowserCookies, cdp.Empty{}))(t)
	press()
	b.Run(t, "asked", chromedp.WaitVisible(chromedp.CSS("input[name=password]")))

	b.Run(
		t,
		"sign in",
		chromedp.SendKeys(chromedp.CSS("input[name=email]"), "mara@fleet.example"),
		chromedp.SendKeys(chromedp.CSS("input[name=password]"), webtest.Password),
		chromedp.Click(chromedp.CSS("button.primary")),
		chromedp.WaitNotPresent(chromedp.CSS("input[name=password]")),
	)

	b.Run(
		t,
		"send again",
		chromedp.Click(chromedp.CSS("button.primary")),
		chromedp.WaitVisible(chromedp.CSS(".notice")),
	)

	b.Reads(t, "gauge on order")
}

// TestListTellsOfFailures: a session that is lost leads to the sign-in and back;
// a server that fails and a network that is gone are told.
func TestListTellsOfFailures(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("mara@fleet.example")
	b := webtest.NewBrowser(t, 2*time.Minute)
	base := y.Server.URL
	b.SignIn(t, base, "mara@fleet.example", webtest.Password)
	modeltest.Must(chromedp.Call(b, network.ClearBrowserCookies, cdp.Empty{}))(t)
	b.Choose(t, "class", "tractor")
	b.Run(t, "asked", chromedp.WaitVisible(chromedp.CSS("input[name=password]")))
	b.SignInHere(t, "mara@fleet.example", webtest.Password)

	if at := webtest.Ask(t, b, "place", chromedp.Location()); !strings.HasSuffix(at, "/?class=tractor") {
		t.Errorf("signed in again, the page stands at %s", at)
	}
	if err := y.Store.Close(); err != nil {
		t.Fatal(err)
	}

	b.Choose(t, "class", "bus")
	b.Comes(t, "#trouble", "whoever runs this server")
	b.Is(t, `location.search + document.querySelectorAll("#rows > li").length`, "?class=tractor1")
	b.View(t, "list-trouble")
	b.Run(t, "close", chromedp.Click(chromedp.CSS("#trouble button")))
	b.Is(t, `document.getElementById("trouble").checkVisibility()`, "false")
	y.Server.CloseClientConnections()

	y.Server.Close()
	b.Choose(t, "class", "trailer")
	b.Comes(t, "#trouble", "There is no network")
}
