package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"
)

// What is found after a vehicle was booked in says so on the list, the sheet and the
// vehicle's page; what was booked does not.
func TestNewSinceBookingIsShown(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	zone := must(time.LoadLocation(y.depot.TimeZone))(t)
	day := time.Now().In(zone).AddDate(0, 0, 3).Format(time.DateOnly)
	path := "/vehicles/" + string(y.vehicle.ID)
	form := url.Values{"id": {newID[string]()}, "vehicle": {string(y.vehicle.ID)}, "day": {day}, "note": {"bay 2"}}
	p.post("/", form).wants(t, http.StatusSeeOther)

	for _, at := range []string{"/", path} {
		a := p.get(at)
		a.wants(t, http.StatusOK, "booked in for")
		if strings.Contains(a.Body, "new since booking") {
			t.Errorf("%s: what was booked is called new", at)
		}
	}

	p.post(path+"/inspect", y.inspection("3")).wants(t, http.StatusSeeOther)

	for _, at := range []string{"/", "/?view=print", path} {
		p.get(at).wants(t, http.StatusOK, "booked in for", "new since booking")
	}

	p.get(path).wants(t, http.StatusOK, "Not part of what was booked in for", "(bay 2)")
}

// A refused booking keeps what was chosen further down the list than is shown.
func TestRefusedBookingKeepsTheWholeChoice(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	last := y.manyVehicles()
	p := y.signedIn("mara@fleet.example")
	if first := p.get("/"); strings.Contains(first.Body, string(last.ID)) {
		t.Fatalf("%s stands on the first page", last.Number)
	}
	p.post("/", url.Values{"id": {newID[string]()}, "vehicle": {string(y.vehicle.ID), string(last.ID)}, "day": {""}}).
		wants(t, http.StatusUnprocessableEntity, "Chosen too, further down the list", `value="`+string(last.ID)+`" checked>`+last.Number)
}
