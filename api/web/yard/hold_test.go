package yard_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
)

// TestHoldAndItsAnswerOnASmallScreen: at 360 px a slipped digit beside a bulge is named at
// the gauge, the bulge is recorded at once, and the number waits until it is put right.
func TestHoldAndItsAnswerOnASmallScreen(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	walk := "/vehicles/" + string(y.Vehicle.ID) + "/inspect?plain=1"
	first := y.Inspection("16")
	first.Set("odometer", "204,000")
	first.Set("at", webtest.Now().AddDate(0, 0, -5).Format("2006-01-02T15:04"))
	y.SignedIn("mara@fleet.example").Post(walk, first).Wants(t, http.StatusSeeOther)
	y.AddPerson("odd@fleet.example")

	b := webtest.NewBrowser(t, time.Minute)
	b.Look(t, webtest.Screens[0])
	b.SignIn(t, y.Server.URL, "odd@fleet.example", webtest.Password)
	narrow := func(where string) {
		width := chromedp.Evaluate[int](`document.documentElement.scrollWidth`)
		if wide := webtest.Ask(t, b, "width", width); wide > 360 {
			t.Errorf("%s is %d px wide on a screen of 360", where, wide)
		}
	}
	type1L := func(groove int, depth string) {
		b.Run(t, depth, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => {
			const field = document.querySelector("[name='p.1L.d%d.0']");
			field.value = %q;
			field.dispatchEvent(new Event("change", { bubbles: true }));
		})()`, groove, depth)))
	}

	b.Run(t, "open", chromedp.Navigate(y.Server.URL+walk), chromedp.WaitVisible(chromedp.ID("entry")))
	for groove, depth := range []string{"16", "6", "16"} {
		type1L(groove, depth)
	}
	b.Run(t, "bulge", chromedp.Evaluate[chromedp.Void](
		`document.querySelector("[name='p.1R.see'][value='bulge']").checked = true; undefined`))
	b.Reads(t, "is expected", "Measure again")
	narrow("the remark")

	submit := chromedp.Evaluate[chromedp.Void](`document.getElementById("entry").requestSubmit(); undefined`)
	b.Run(t, "send", submit, chromedp.WaitVisible(chromedp.ID("refusal")))
	b.Reads(t, "Measure again, or confirm", "recorded at once", "bulge", "All else of this visit is recorded",
		"I am sure")
	narrow("the hold")
	if n := len(y.Inspections(y.Vehicle.ID)); n != 2 {
		t.Errorf("%d inspections are recorded, want the first and the bulge", n)
	}

	type1L(1, "16")
	b.Run(t, "answer", submit, chromedp.WaitNotPresent(chromedp.ID("refusal")),
		chromedp.WaitVisible(chromedp.CSS(".notice")))
	b.Reads(t, "Inspection recorded")
	narrow("the answer")

	newest, ok := y.Inspections(y.Vehicle.ID)[0].(*models.Inspection)
	if n := len(y.Inspections(y.Vehicle.ID)); n != 2 || !ok {
		t.Fatalf("%d inspections stand, want 2", n)
	}
	var read []string
	for _, r := range newest.Readings {
		d, _ := r.Min()
		read = append(read, fmt.Sprint(r.Position, " ", d.Text, len(r.Observations)))
	}
	if got := strings.Join(read, ", "); got != "1L 160, 1R 1" && got != "1L 16/320, 1R 1" {
		t.Errorf("recorded %s", got)
	}
}
