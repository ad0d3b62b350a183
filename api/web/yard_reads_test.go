package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/models"
)

var german = url.Values{"depth": {"mm"}, "pressure": {"bar"}, "distance": {"km"}, "mass": {"g"}, "notation": {"de-DE"}}

// TestPhoneListReadsInTheCountry: what a phone keeps of the vehicles is written
// for the person as the pages are.
func TestPhoneListReadsInTheCountry(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	p.post("/vehicles/"+string(y.vehicle.ID)+"/inspect", y.inspection("10")).wants(t, http.StatusSeeOther)
	p.post("/settings/units", german).wants(t, http.StatusSeeOther)

	var sheet struct {
		Vehicles []struct {
			Odometer string
			Places   []struct {
				LastOn string `json:"last_on"`
				Last   []string
			}
		}
	}

	if err := json.Unmarshal([]byte(p.get("/yard/sheet?vehicle="+string(y.vehicle.ID)).Body), &sheet); err != nil {
		t.Fatal(err)
	}

	v := sheet.Vehicles[0]
	// 205,000 mi of 1.609344 km and 10/32 in of 25.4 mm, here and 3/32 in below.
	if !strings.HasPrefix(v.Odometer, "329.916 km on ") || !strings.Contains(v.Places[0].Last[0], "7,94 mm") ||
		foreignDay.MatchString(v.Odometer+" "+v.Places[0].LastOn) {
		t.Errorf("the phone is told %q, and %q on %q", v.Odometer, v.Places[0].Last, v.Places[0].LastOn)
	}
}

// TestPhoneIsRefusedInTheCountry: what the server holds of an inspection that a
// phone sends is said as the person reads, since the phone shows it.
func TestPhoneIsRefusedInTheCountry(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	p.post("/vehicles/"+string(y.vehicle.ID)+"/inspect", y.inspection("10")).wants(t, http.StatusSeeOther)
	p.post("/settings/units", german).wants(t, http.StatusSeeOther)

	body := fmt.Sprintf(
		`{"id": %q, "vehicle_id": %q, "at": %q, "odometer": "440000 km", "readings": [{"position": "1L", "pressure": "7.2 bar"}]}`,
		newID[models.EventID](),
		y.vehicle.ID,
		time.Now().UTC().Add(time.Minute).Format(time.RFC3339),
	)

	r := must(
		http.NewRequestWithContext(
			t.Context(),
			http.MethodPost,
			y.open().url("/api/v1/inspections"),
			strings.NewReader(body),
		),
	)(
		t,
	)

	r.Header.Set("Content-Type", "application/json")
	p.do(r).wants(t, http.StatusUnprocessableEntity, "440.000 km is more than 1.500 km a day above the 329.916 km of")
}

// TestUnitsChangeUnderWay changes units and country while an inspection is under
// way: what was typed keeps its meaning, and the next one is in the new units.
func TestUnitsChangeUnderWay(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	manager := y.signedIn("mara@fleet.example")
	s := y.open()
	p := hold(t, newBrowser(t, time.Minute))
	p.signIn(t, s.url(""), "mara@fleet.example", password)
	p.ready(s)
	walk := s.url("/vehicles/" + string(y.vehicle.ID) + "/inspect")
	p.to(walk)
	p.tap("Odometer unknown")

	for range 3 {
		p.tap("3/32")
	}

	// The key that was pressed is gone, and the keyboard is at the next field; the
	// remark is where a screen reader hears it.
	p.until(`document.activeElement.textContent === "94psi"`) // the first pressure, of 105 wanted

	p.until(`document.querySelector("main > [role=status]").textContent.startsWith("Below the legal minimum of 4/32")`)
	p.tap("100 psi")
	p.tap("8 places")
	p.until(`document.activeElement.textContent === "8 places"`)
	p.until(`document.querySelector(".readout.active").dataset.field === "0.1"`) // the first that is empty
	p.tap("1 place")

	manager.post("/settings/units", german).wants(t, http.StatusSeeOther)

	p.to(walk)
	p.shows("is still here")
	p.tap("2LO")

	for range 3 {
		p.tap("15/32")
	}

	p.tap("Summary")
	p.shows("15 · 15 · 15 /32")
	p.tap("#send")
	p.shows("Inspection recorded")

	for _, r := range y.inspections(y.vehicle.ID)[0].(*models.Inspection).Readings {
		if want := map[models.Position]string{"1L": "3/32", "2LO": "15/32"}[r.Position]; r.Depths[0][0].Text != want {
			t.Errorf("%s was recorded as %s, want %s", r.Position, r.Depths[0][0].Text, want)
		}
	}

	p.to(walk)
	p.tap("Odometer unknown")
	p.shows("outer\nmm")
	p.to(s.url("/yard"))

	p.until(
		module(
			"keep.js",
		) + `.then((keep) => keep.get("vehicles", ` + quote(
			string(y.vehicle.ID),
		) + `)).then((v) => v.places[0].last?.[0].includes("2,38 mm"))`,
	)

	// The plain form leaves what was typed in other units.
	p.to(walk + "?plain=1")
	p.run(t, "type", chromedp.SendKeys(chromedp.CSS("[name='p.1L.d0.0']"), "8,5"))
	p.to(walk + "?plain=1")
	p.until(`document.querySelector("[name='p.1L.d0.0']").value === "8,5"`)
	manager.post("/settings/units", url.Values{"depth": {"32nd"}, "pressure": {"psi"}, "distance": {"mi"}, "mass": {"oz"}, "notation": {"en-US"}}).
		wants(t, http.StatusSeeOther)

	p.to(walk + "?plain=1")
	p.until(`document.querySelector("[name='p.1L.d0.0']").value === ""`)
	p.check(t, s.url(""))
}

// TestDoubtsAreTold: what does not fit the readings before is told in the
// reader's unit, on the page and on the list beside the curve.
func TestDoubtsAreTold(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")

	path := "/vehicles/" + string(y.vehicle.ID)
	for i, depth := range []string{"17", "16.5", "9"} {
		form := y.inspection(depth)
		form.Set("odometer", []string{"204,000", "204,500", "205,000"}[i])
		form.Set("at", time.Now().AddDate(0, 0, 3*i-7).Format("2006-01-02T15:04"))
		p.post(path+"/inspect", form).wants(t, http.StatusSeeOther)
	}

	p.get(path).wants(t, http.StatusOK, "does not fit the ones before", "thinnest groove: read 9.0/32 in where")
	p.get(path+"/at/1L").wants(t, http.StatusOK, "doubtful: thinnest groove: read 9.0/32 in where")
	p.post("/settings/units", german).wants(t, http.StatusSeeOther)
	p.get(path).wants(t, http.StatusOK, "thinnest groove: read 7,1 mm where") // 9/32 in of 25.4 mm
}
