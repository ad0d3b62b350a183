package desk_test

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
)

// TestManagersMorning is a manager at a desk: what changed, what is known,
// three vehicles into the shop, one vehicle in detail, a sheet for the wall.
func TestManagersMorning(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	for i := range 3 {
		v := y.Vehicle
		v.ID, v.Number, v.Spares = modeltest.NewID[models.VehicleID](), fmt.Sprintf("T-2%02d", i), 0
		modeltest.Must(y.Fleet.CreateVehicle(t.Context(), y.System, v))(t)
	}

	y.AddPerson("mara@fleet.example")
	b := webtest.NewBrowser(t, 2*time.Minute)
	base := y.Server.URL
	b.Run(t, "desk", chromedp.EmulateViewport(1280, 900))
	b.SignIn(t, base, "mara@fleet.example", webtest.Password)
	b.Reads(t, "Attention list", "T-101", "T-200")

	b.Run(t, "what changed", chromedp.Click(chromedp.CSS("p.changed a")), chromedp.WaitVisible(chromedp.ID("worse")))
	b.Reads(t, "New, and still open", "T-202")

	b.Run(
		t,
		"acknowledge",
		chromedp.Click(chromedp.CSS("td.what a")),
		chromedp.WaitVisible(chromedp.CSS("input[name=why]")),
		chromedp.Evaluate[chromedp.Void](
			fmt.Sprintf(
				`document.querySelector("input[name=until]").value = %q; undefined`,
				webtest.Now().AddDate(0, 0, 4).Format(time.DateOnly),
			),
		),
		chromedp.SendKeys(
			chromedp.CSS("input[name=why]"),
			"gauge on order",
		),
		chromedp.Click(chromedp.CSS("form.grid button")),
		chromedp.WaitVisible(chromedp.CSS(".notice")),
	)

	b.Reads(t, "Acknowledged", "gauge on order", "Mara Quill")

	day := webtest.Now().AddDate(0, 0, 3)
	b.Run(t, "list", chromedp.Navigate(base+"/"), chromedp.WaitVisible(chromedp.ID("day")))

	if n := webtest.Ask(t, b, "choose", chromedp.Evaluate[int](fmt.Sprintf(`(() => {
		document.getElementById("day").value = %q;
		const boxes = [...document.querySelectorAll("input[name=vehicle]")].filter((e) => e.parentElement.textContent.includes("T-20"));
		boxes.forEach((e) => e.click());
		return boxes.length;
	})()`, day.Format(time.DateOnly)))); n != 3 {
		t.Fatalf("%d vehicles to choose, want 3", n)
	}

	b.Run(
		t,
		"book in",
		chromedp.SendKeys(chromedp.ID("note"), "bay 2"),
		chromedp.Click(chromedp.CSS("#vehicle button")),
		chromedp.WaitVisible(chromedp.CSS(".notice")),
	)

	b.Reads(t, "Booked in", "booked in for "+day.Format("Mon, Jan 2"))
	found, _, err := y.Fleet.Findings(t.Context(), y.System, models.FindingFilter{}, models.Page{Limit: 100})

	booked := 0
	for _, f := range modeltest.Must(found, err)(t) {
		if f.Ack != nil && f.Ack.Booked == day.Format(time.DateOnly) && f.Ack.Why == "bay 2" &&
			f.VehicleID != y.Vehicle.ID {
			booked++
		}
	}

	if booked < 3 {
		t.Errorf("%d findings are booked in, want one a vehicle at least", booked)
	}

	// One vehicle in detail: two inspections side by side.
	tech := y.SignedIn("odd@fleet.example")

	for i, depth := range []string{"14", "12"} {
		form := y.Inspection(depth)
		form.Set("made", y.Start.AddDate(0, 0, 10*i-30).UTC().Format(time.RFC3339Nano))
		form.Set("odometer", fmt.Sprint(202_000+4000*i))
		tech.Post("/vehicles/"+string(y.Vehicle.ID)+"/inspect", form).Wants(t, http.StatusSeeOther)
	}

	b.Run(
		t,
		"vehicle",
		chromedp.Navigate(base+"/vehicles/"+string(y.Vehicle.ID)),
		chromedp.Click(chromedp.CSS(`a[href$="/compare"]`)),
		chromedp.WaitVisible(chromedp.CSS("select[name=old]")),
	)

	b.Reads(t, "Two inspections of T-101", "4,000 mi", "−2/32 in", "0.5/32 in")

	b.Run(
		t,
		"print view",
		chromedp.Navigate(base+"/?view=print"),
		chromedp.WaitVisible(chromedp.CSS("button[data-print]")),
	)

	b.Reads(t, "Done, by whom, when", "T-101", "T-202")
	b.Check(t, base)
}
