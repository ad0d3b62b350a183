package yard_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
)

// TestPhoneWritesAsTheCountry: keys, fields and what was typed by hand have the
// country's decimal sign; what is sent has a point.
func TestPhoneWritesAsTheCountry(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	manager := y.SignedIn("mara@fleet.example")
	manager.Post("/settings/units", webtest.German).Wants(t, http.StatusSeeOther)
	s := y.Open()
	p := webtest.Hold(t, webtest.NewBrowser(t, time.Minute))
	p.SignIn(t, s.URL(""), "mara@fleet.example", webtest.Password)
	p.To(s.URL("/vehicles/" + string(y.Vehicle.ID) + "/inspect"))
	p.Tap("Odometer unknown")
	p.Tap("8 mm")
	p.Tap("8,5 mm")
	p.Until(`document.querySelector("[data-field='0.0'] input").value === "8,5"`)

	p.Run(
		t,
		"type",
		chromedp.Evaluate[chromedp.Void](
			`(f => { f.value = "8,25"; f.dispatchEvent(new Event("input", { bubbles: true })); })(document.querySelector("[data-field='1.0'] input"))`,
		),
	)

	p.Tap("Summary")
	p.Shows("8,5 · 8,25 · – mm")
	p.Tap("#send")
	p.Shows("Inspection recorded")

	got := y.Inspections(y.Vehicle.ID)
	if len(got) != 1 {
		t.Fatalf("%d inspections, want 1", len(got))
	}
	depths := got[0].(*models.Inspection).Readings[0].Depths
	if a, b := depths[0][0], depths[1][0]; a.Text != "8.5 mm" || b.Text != "8.25 mm" || b.Value != 8_250_000 {
		t.Errorf("recorded %+v and %+v, want 8.5 mm and 8.25 mm", a, b)
	}
}

// TestPhoneListReadsInTheCountry: what a phone keeps of the vehicles is written
// for the person as the pages are.
func TestPhoneListReadsInTheCountry(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	p.Post("/vehicles/"+string(y.Vehicle.ID)+"/inspect", y.Inspection("10")).Wants(t, http.StatusSeeOther)
	p.Post("/settings/units", webtest.German).Wants(t, http.StatusSeeOther)

	var sheet struct {
		Vehicles []struct {
			Odometer string
			Places   []struct {
				LastOn string `json:"last_on"`
				Last   []string
			}
		}
	}

	if err := json.Unmarshal([]byte(p.Get("/yard/sheet?vehicle="+string(y.Vehicle.ID)).Body), &sheet); err != nil {
		t.Fatal(err)
	}

	v := sheet.Vehicles[0]
	// 205,000 mi of 1.609344 km and 10/32 in of 25.4 mm, here and 3/32 in below.
	if !strings.HasPrefix(v.Odometer, "329.916 km on ") || !strings.Contains(v.Places[0].Last[0], "7,94 mm") ||
		webtest.ForeignDay.MatchString(v.Odometer+" "+v.Places[0].LastOn) {
		t.Errorf("the phone is told %q, and %q on %q", v.Odometer, v.Places[0].Last, v.Places[0].LastOn)
	}
}

// TestPhoneIsRefusedInTheCountry: what the server holds of an inspection that a
// phone sends is said as the person reads, since the phone shows it.
func TestPhoneIsRefusedInTheCountry(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	p.Post("/vehicles/"+string(y.Vehicle.ID)+"/inspect", y.Inspection("10")).Wants(t, http.StatusSeeOther)
	p.Post("/settings/units", webtest.German).Wants(t, http.StatusSeeOther)

	body := fmt.Sprintf(
		`{"id": %q, "vehicle_id": %q, "at": %q, "odometer": "440000 km", "readings": [{"position": "1L", "pressure": "7.2 bar"}]}`,
		modeltest.NewID[models.EventID](),
		y.Vehicle.ID,
		webtest.Now().Add(time.Minute).Format(time.RFC3339),
	)

	r := modeltest.Must(
		http.NewRequestWithContext(
			t.Context(),
			http.MethodPost,
			y.Open().URL("/api/v1/inspections"),
			strings.NewReader(body),
		),
	)(
		t,
	)

	r.Header.Set("Content-Type", "application/json")
	p.Do(r).Wants(t, http.StatusUnprocessableEntity, "440.000 km is more than 1.500 km a day above the 329.916 km of")
}

// TestUnitsChangeUnderWay changes units and country while an inspection is under
// way: what was typed keeps its meaning, and the next one is in the new units.
func TestUnitsChangeUnderWay(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	manager := y.SignedIn("mara@fleet.example")
	s := y.Open()
	p := webtest.Hold(t, webtest.NewBrowser(t, time.Minute))
	p.SignIn(t, s.URL(""), "mara@fleet.example", webtest.Password)
	p.Ready(s)
	walk := s.URL("/vehicles/" + string(y.Vehicle.ID) + "/inspect")
	p.To(walk)
	p.Tap("Odometer unknown")

	for range 3 {
		p.Tap("3/32")
	}

	// The key that was pressed is gone, and the keyboard is at the next field; the
	// remark is where a screen reader hears it.
	p.Until(`document.activeElement.textContent === "94psi"`) // the first pressure, of 105 wanted

	p.Until(`document.querySelector("main > [role=status]").textContent.startsWith("Below the legal minimum of 4/32")`)
	p.Tap("100 psi")
	p.Tap("8 places")
	p.Until(`document.activeElement.textContent === "8 places"`)
	p.Until(`document.querySelector(".readout.active").dataset.field === "0.1"`) // the first that is empty
	p.Tap("1 place")

	manager.Post("/settings/units", webtest.German).Wants(t, http.StatusSeeOther)

	p.To(walk)
	p.Shows("is still here")
	p.Tap("2LO")

	for range 3 {
		p.Tap("15/32")
	}

	p.Tap("Summary")
	p.Shows("15 · 15 · 15 /32")
	p.Tap("#send")
	p.Shows("Inspection recorded")

	for _, r := range y.Inspections(y.Vehicle.ID)[0].(*models.Inspection).Readings {
		if want := map[models.Position]string{"1L": "3/32", "2LO": "15/32"}[r.Position]; r.Depths[0][0].Text != want {
			t.Errorf("%s was recorded as %s, want %s", r.Position, r.Depths[0][0].Text, want)
		}
	}

	p.To(walk)
	p.Tap("Odometer unknown")
	p.Shows("outer\nmm")
	p.To(s.URL("/yard"))

	p.Until(
		webtest.Module(
			"keep.js",
		) + `.then((keep) => keep.get("vehicles", ` + webtest.Quote(
			string(y.Vehicle.ID),
		) + `)).then((v) => v.places[0].last?.[0].includes("2,38 mm"))`,
	)

	// The plain form leaves what was typed in other units.
	p.To(walk + "?plain=1")
	p.Run(t, "type", chromedp.SendKeys(chromedp.CSS("[name='p.1L.d0.0']"), "8,5"))
	p.To(walk + "?plain=1")
	p.Until(`document.querySelector("[name='p.1L.d0.0']").value === "8,5"`)
	manager.Post("/settings/units", url.Values{"depth": {"32nd"}, "pressure": {"psi"}, "distance": {"mi"},
		"mass": {"oz"}, "notation": {"en-US"}}).
		Wants(t, http.StatusSeeOther)

	p.To(walk + "?plain=1")
	p.Until(`document.querySelector("[name='p.1L.d0.0']").value === ""`)
	p.Check(t, s.URL(""))
}

// TestDoubtsAreTold: what does not fit the readings before is told in the
// reader's unit, on the page and on the list beside the curve.
func TestDoubtsAreTold(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")

	path := "/vehicles/" + string(y.Vehicle.ID)
	for i, depth := range []string{"17", "16.5", "9"} {
		form := y.Inspection(depth)
		form.Set("odometer", []string{"204,000", "204,500", "205,000"}[i])
		form.Set("at", webtest.Now().AddDate(0, 0, 3*i-7).Format("2006-01-02T15:04"))
		for _, at := range y.Vehicle.Positions() {
			form["confirm"] = append(form["confirm"], "depth_drop:"+string(at), "unit:"+string(at))
		}
		p.Post(path+"/inspect", form).Wants(t, http.StatusSeeOther)
	}

	p.Get(path).Wants(t, http.StatusOK, "readings in doubt at 1L", "thinnest groove: read 9.0/32 in where")
	p.Get(path+"/at/1L").Wants(t, http.StatusOK, "doubtful: thinnest groove: read 9.0/32 in where")
	p.Post("/settings/units", webtest.German).Wants(t, http.StatusSeeOther)
	p.Get(path).Wants(t, http.StatusOK, "thinnest groove: read 7,1 mm where") // 9/32 in of 25.4 mm
}
