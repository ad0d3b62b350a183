package web_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"rimledger/models"
)

// comes waits until an element shows a text, also past a page that is loaded anew.
func (b *browser) comes(t *testing.T, selector, text string) {
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

// is fails the test unless a script answers want.
func (b *browser) is(t *testing.T, script, want string) {
	t.Helper()
	if got := ask(t, b, script, chromedp.Evaluate[string](`String(`+script+`)`)); got != want {
		t.Errorf("%s is %q, want %q", script, got, want)
	}
}

// choose picks an option of the filter as a person does.
func (b *browser) choose(t *testing.T, field, value string) {
	t.Helper()
	b.run(
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

// manyVehicles adds so many that no page of a list holds them all, and returns the last.
func (y *testServer) manyVehicles() models.Vehicle {
	var v models.Vehicle
	for i := range 60 {
		v = y.vehicle
		v.ID, v.Number, v.Spares = newID[models.VehicleID](), fmt.Sprintf("T-2%02d", i), 0
		must(y.fleet.CreateVehicle(y.t.Context(), y.system, v))(y.t)
	}
	return v
}

// TestListsNarrowInPlace narrows lists as a person types and chooses: the page
// stays, its address tells the filter, the back button takes it back, more is
// added below, and a screen reader is told. Without a script the same forms work.
func TestListsNarrowInPlace(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.manyVehicles()
	y.addPerson("mara@fleet.example")
	b := newBrowser(t, 2*time.Minute)
	base := y.server.URL
	b.signIn(t, base, "mara@fleet.example", password)

	stay := chromedp.Evaluate[chromedp.Void](`window.stays = true; undefined`)

	b.run(t, "search", chromedp.Navigate(base+"/vehicles"), chromedp.WaitVisible(chromedp.ID("q")), stay)
	b.comes(t, "#found", "The first 50 of 61 vehicles.")
	steps := ask(t, b, "steps", chromedp.Evaluate[int](`history.length`))
	b.run(t, "type", chromedp.SendKeys(chromedp.ID("q"), "T-2"))
	b.comes(t, "#found", "that match")

	b.run(t, "type on", chromedp.SendKeys(chromedp.ID("q"), "0")) // each pause is a search; all are one step back
	b.comes(t, "#found", "10 vehicles match.")
	b.is(t, `location.pathname + location.search`, "/vehicles?q=T-20")
	b.is(t, `window.stays && document.activeElement.id`, "q")
	b.is(t, fmt.Sprintf(`history.length - %d`, steps), "1")
	b.run(t, "back", chromedp.Evaluate[chromedp.Void](`history.back()`))
	b.comes(t, "#found", "The first 50 of 61 vehicles")

	b.is(t, `location.search + document.getElementById("q").value`, "")

	b.run(t, "attention", chromedp.Navigate(base+"/"), chromedp.WaitVisible(chromedp.ID("next")), stay)

	b.run(
		t,
		"more",
		chromedp.Evaluate[chromedp.Void](
			`document.querySelector("#rows input").click(); document.getElementById("note").value = "bay 2"; undefined`,
		),
		chromedp.Click(chromedp.ID("next")),
	)

	b.comes(t, "#found", "25 more vehicles; there are more.")
	b.run(t, "more", chromedp.Click(chromedp.ID("next")))
	b.comes(t, "#more", "That is the end of the list.")
	b.is(t, `window.stays && document.querySelectorAll("#rows > li").length`, "61")
	b.is(t, `document.activeElement.id + document.querySelectorAll("#rows input:checked").length`, "next1")
	b.accessible(t, "the list with more added")
	b.choose(t, "class", "tractor")

	b.comes(t, "#found", "The first 25 of 61 vehicles that match.")
	b.is(t, `location.search`, "?class=tractor")
	b.is(t, `window.stays && document.getElementById("note").value + document.activeElement.name`, "bay 2class")
	b.is(t, `document.getElementById("in-use").textContent.trim()`, "(in use)")
	b.choose(t, "class", "bus")
	b.comes(t, "#list", "Nothing matches this filter")
	b.accessible(t, "the list without a match")

	b.run(t, "back", chromedp.Evaluate[chromedp.Void](`history.back()`))
	b.comes(t, "#found", "The first 25 of 61 vehicles that match.")
	b.is(t, `document.querySelector("#filter [name=class]").value`, "tractor")
	b.is(t, `localStorage.length + Object.values(sessionStorage).filter(v => v.includes("T-2")).length`, "0")
	b.check(t, base)

	must(
		chromedp.Call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}),
	)(
		t,
	)

	b.run(
		t,
		"no script",
		chromedp.Navigate(base+"/vehicles"),
		chromedp.SendKeys(chromedp.ID("q"), "T-20"),
		chromedp.Click(chromedp.CSS(".search button")),
		chromedp.WaitVisible(chromedp.CSS("#found a")),
	)

	b.reads(t, "10 vehicles match.", "T-209")
}

// TestBenchLosesNothing has the bench worked out while it is used, and fail:
// what was opened and typed stays, and the person is told what to do.
func TestBenchLosesNothing(t *testing.T) {
	t.Parallel()
	y, b := atBench(t)
	typed := func(name, value string) { b.run(t, name, chromedp.SendKeys(chromedp.CSS(`[name="`+name+`"]`), value)) }

	b.run(
		t,
		"open",
		chromedp.Navigate(y.server.URL+"/vehicles/"+string(y.vehicle.ID)+"/bench/1L"),
		chromedp.WaitVisible(chromedp.ID("entry")),
	)

	b.is(t, `[...document.querySelectorAll("details.worked")].filter(d => d.checkVisibility()).length`, "0")

	for name, value := range map[string]string{"shown.outer.mass": "8", "shown.outer.angle": "120", "shown.inner.mass": "3", "shown.inner.angle": "300"} {
		typed(name, value)
	}

	b.run(
		t,
		"worked out",
		chromedp.WaitVisible(chromedp.CSS("#benchresult table.sets")),
		chromedp.Click(chromedp.CSS("details.worked:has(#benchchoices) > summary")),
	)

	typed("fitted.0.mass", "4")
	typed("fitted.0.angle", "120")
	b.comes(t, `[id="then.0"]`, "outer 4.00 oz at 120°")
	b.is(t, `document.querySelector("details.worked").open && document.activeElement.name`, "fitted.0.angle")
	b.check(t, y.server.URL)

	must(chromedp.Call(b, network.ClearBrowserCookies, cdp.Empty{}))(t)

	typed("fitted.1.mass", "4")
	b.comes(t, "#trouble", "You were signed out")
	b.is(t, `document.querySelector('[name="fitted.1.mass"]').value`, "4")
	b.view(t, "bench-signed-out")

	b.run(
		t,
		"press",
		chromedp.Click(chromedp.CSS(`#step1 button[value="work"]`)),
		chromedp.WaitVisible(chromedp.CSS("input[name=password]")),
	)

	b.reads(t, "what you entered is kept")
	b.is(
		t,
		`document.querySelector('[name="kept.fitted.1.mass"]').value + document.querySelector('[name="kept.do"]').value`,
		"4work",
	)
}

// TestAcknowledgedInTheList acknowledges a finding where it stands in the list,
// with a day that is refused first, and withdraws it; the session is lost once.
func TestAcknowledgedInTheList(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.addPerson("mara@fleet.example")
	b := newBrowser(t, 2*time.Minute)
	base := y.server.URL
	b.signIn(t, base, "mara@fleet.example", password)

	open := func(day string) {
		b.run(
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

	press := func() { b.run(t, "send", chromedp.Click(chromedp.CSS(".aside form.grid button"))) }
	open(time.Now().AddDate(2, 0, 0).Format(time.DateOnly))
	b.is(t, `document.activeElement.name`, "why")

	b.run(
		t,
		"past the browser",
		chromedp.Evaluate[chromedp.Void](`document.querySelector(".aside [name=until]").removeAttribute("max")`),
	)

	press()
	b.comes(t, ".aside label .fault", "day")
	b.is(t, `document.querySelector(".aside [name=why]").value`, "gauge on order")

	b.run(
		t,
		"a day that can be",
		chromedp.Evaluate[chromedp.Void](
			fmt.Sprintf(
				`document.querySelector(".aside [name=until]").value = %q; undefined`,
				time.Now().AddDate(0, 0, 4).Format(time.DateOnly),
			),
		),
	)

	press()
	b.comes(t, ".aside", "Acknowledged by Mara Quill")
	ask(t, b, "focus", chromedp.Poll[bool](`window.stays && document.activeElement.matches(".aside")`))
	quiet := `["outlineStyle", "backgroundColor"].map(s => getComputedStyle(document.querySelector(".findings li:has(.aside section) .urgency"))[s]).join(" ")`
	b.is(t, quiet, "dashed rgba(0, 0, 0, 0)")
	b.accessible(t, "the list with a finding acknowledged")
	b.view(t, "acknowledged")

	b.run(
		t,
		"withdraw",
		chromedp.Click(chromedp.CSS(".aside [name=withdraw]")),
		chromedp.WaitNotPresent(chromedp.CSS(".aside [name=withdraw]")),
	)

	b.is(t, quiet+".split(' ')[0]", "none")

	b.run(t, "anew", chromedp.Reload(), chromedp.WaitVisible(chromedp.CSS(".aside a")))
	open(time.Now().AddDate(0, 0, 4).Format(time.DateOnly))
	must(chromedp.Call(b, network.ClearBrowserCookies, cdp.Empty{}))(t)
	press()
	b.run(t, "asked", chromedp.WaitVisible(chromedp.CSS("input[name=password]")))

	b.run(
		t,
		"sign in",
		chromedp.SendKeys(chromedp.CSS("input[name=email]"), "mara@fleet.example"),
		chromedp.SendKeys(chromedp.CSS("input[name=password]"), password),
		chromedp.Click(chromedp.CSS("button.primary")),
		chromedp.WaitNotPresent(chromedp.CSS("input[name=password]")),
	)

	b.run(
		t,
		"send again",
		chromedp.Click(chromedp.CSS("button.primary")),
		chromedp.WaitVisible(chromedp.CSS(".notice")),
	)

	b.reads(t, "gauge on order")
}

// TestListTellsOfFailures: a session that is lost leads to the sign-in and back;
// a server that fails and a network that is gone are told.
func TestListTellsOfFailures(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.addPerson("mara@fleet.example")
	b := newBrowser(t, 2*time.Minute)
	base := y.server.URL
	b.signIn(t, base, "mara@fleet.example", password)
	must(chromedp.Call(b, network.ClearBrowserCookies, cdp.Empty{}))(t)
	b.choose(t, "class", "tractor")
	b.run(t, "asked", chromedp.WaitVisible(chromedp.CSS("input[name=password]")))
	b.signInHere(t, "mara@fleet.example", password)

	if at := ask(t, b, "place", chromedp.Location()); !strings.HasSuffix(at, "/?class=tractor") {
		t.Errorf("signed in again, the page stands at %s", at)
	}
	if err := y.store.Close(); err != nil {
		t.Fatal(err)
	}

	b.choose(t, "class", "bus")
	b.comes(t, "#trouble", "whoever runs this server")
	b.is(t, `location.search + document.querySelectorAll("#rows > li").length`, "?class=tractor1")
	b.view(t, "list-trouble")
	b.run(t, "close", chromedp.Click(chromedp.CSS("#trouble button")))
	b.is(t, `document.getElementById("trouble").checkVisibility()`, "false")
	y.server.CloseClientConnections()

	y.server.Close()
	b.choose(t, "class", "trailer")
	b.comes(t, "#trouble", "There is no network")
}
