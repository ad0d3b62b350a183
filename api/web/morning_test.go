package web_test

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/models"
)

// TestManagersMorning is a manager at a desk: what changed, what is known,
// three vehicles into the shop, one vehicle in detail, a sheet for the wall.
func TestManagersMorning(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	for i := range 3 {
		v := y.vehicle
		v.ID, v.Number, v.Spares = newID[models.VehicleID](), fmt.Sprintf("T-2%02d", i), 0
		must(y.fleet.CreateVehicle(t.Context(), y.system, v))(t)
	}

	y.addPerson("mara@fleet.example")
	b := newBrowser(t, 2*time.Minute)
	base := y.server.URL
	b.run(t, "desk", chromedp.EmulateViewport(1280, 900))
	b.signIn(t, base, "mara@fleet.example", password)
	b.reads(t, "Attention list", "T-101", "T-200")

	b.run(t, "what changed", chromedp.Click(chromedp.CSS("p.changed a")), chromedp.WaitVisible(chromedp.ID("worse")))
	b.reads(t, "New, and still open", "T-202")

	b.run(
		t,
		"acknowledge",
		chromedp.Click(chromedp.CSS("td.what a")),
		chromedp.WaitVisible(chromedp.CSS("input[name=why]")),
		chromedp.Evaluate[chromedp.Void](
			fmt.Sprintf(
				`document.querySelector("input[name=until]").value = %q; undefined`,
				time.Now().AddDate(0, 0, 4).Format(time.DateOnly),
			),
		),
		chromedp.SendKeys(
			chromedp.CSS("input[name=why]"),
			"gauge on order",
		),
		chromedp.Click(chromedp.CSS("form.grid button")),
		chromedp.WaitVisible(chromedp.CSS(".notice")),
	)

	b.reads(t, "Acknowledged", "gauge on order", "Mara Quill")

	day := time.Now().AddDate(0, 0, 3)
	b.run(t, "list", chromedp.Navigate(base+"/"), chromedp.WaitVisible(chromedp.ID("day")))

	if n := ask(t, b, "choose", chromedp.Evaluate[int](fmt.Sprintf(`(() => {
		document.getElementById("day").value = %q;
		const boxes = [...document.querySelectorAll("input[name=vehicle]")].filter((e) => e.parentElement.textContent.includes("T-20"));
		boxes.forEach((e) => e.click());
		return boxes.length;
	})()`, day.Format(time.DateOnly)))); n != 3 {
		t.Fatalf("%d vehicles to choose, want 3", n)
	}

	b.run(
		t,
		"book in",
		chromedp.SendKeys(chromedp.ID("note"), "bay 2"),
		chromedp.Click(chromedp.CSS("#vehicle button")),
		chromedp.WaitVisible(chromedp.CSS(".notice")),
	)

	b.reads(t, "Booked in", "booked in for "+day.Format("Mon, Jan 2"))
	found, _, err := y.fleet.Findings(t.Context(), y.system, models.FindingFilter{}, models.Page{Limit: 100})

	booked := 0
	for _, f := range must(found, err)(t) {
		if f.Ack != nil && f.Ack.Booked == day.Format(time.DateOnly) && f.Ack.Why == "bay 2" &&
			f.VehicleID != y.vehicle.ID {
			booked++
		}
	}

	if booked < 3 {
		t.Errorf("%d findings are booked in, want one a vehicle at least", booked)
	}

	// One vehicle in detail: two inspections side by side.
	tech := y.signedIn("odd@fleet.example")

	for i, depth := range []string{"14", "12"} {
		form := y.inspection(depth)
		form.Set("made", y.start.AddDate(0, 0, 10*i-30).UTC().Format(time.RFC3339Nano))
		form.Set("odometer", fmt.Sprint(202_000+4000*i))
		tech.post("/vehicles/"+string(y.vehicle.ID)+"/inspect", form).wants(t, http.StatusSeeOther)
	}

	b.run(
		t,
		"vehicle",
		chromedp.Navigate(base+"/vehicles/"+string(y.vehicle.ID)),
		chromedp.Click(chromedp.CSS(`a[href$="/compare"]`)),
		chromedp.WaitVisible(chromedp.CSS("select[name=old]")),
	)

	b.reads(t, "Two inspections of T-101", "4,000 mi", "−2/32 in", "0.5/32 in")

	b.run(
		t,
		"print view",
		chromedp.Navigate(base+"/?view=print"),
		chromedp.WaitVisible(chromedp.CSS("button[data-print]")),
	)

	b.reads(t, "Done, by whom, when", "T-101", "T-202")
	b.check(t, base)
}
