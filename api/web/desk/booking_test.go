package desk_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"rimledger/api/web/webtest"
	"rimledger/models/modeltest"
)

// What is found after a vehicle was booked in says so on the list, the sheet and the
// vehicle's page; what was booked does not.
func TestNewSinceBookingIsShown(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	zone := modeltest.Must(time.LoadLocation(y.Depot.TimeZone))(t)
	day := webtest.Now().In(zone).AddDate(0, 0, 3).Format(time.DateOnly)
	path := "/vehicles/" + string(y.Vehicle.ID)
	form := url.Values{
		"id":      {modeltest.NewID[string]()},
		"vehicle": {string(y.Vehicle.ID)},
		"day":     {day},
		"note":    {"bay 2"},
	}
	p.Post("/", form).Wants(t, http.StatusSeeOther)

	for _, at := range []string{"/", path} {
		a := p.Get(at)
		a.Wants(t, http.StatusOK, "booked in for")
		if strings.Contains(a.Body, "new since booking") {
			t.Errorf("%s: what was booked is called new", at)
		}
	}

	p.Post(path+"/inspect", y.Inspection("3")).Wants(t, http.StatusSeeOther)

	for _, at := range []string{"/", "/?view=print", path} {
		p.Get(at).Wants(t, http.StatusOK, "booked in for", "new since booking")
	}

	p.Get(path).Wants(t, http.StatusOK, "Not part of what was booked in for", "(bay 2)")
}

// A refused booking keeps what was chosen further down the list than is shown.
func TestRefusedBookingKeepsTheWholeChoice(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	last := y.ManyVehicles()
	p := y.SignedIn("mara@fleet.example")
	if first := p.Get("/"); strings.Contains(first.Body, string(last.ID)) {
		t.Fatalf("%s stands on the first page", last.Number)
	}
	both := []string{string(y.Vehicle.ID), string(last.ID)}
	p.Post("/", url.Values{"id": {modeltest.NewID[string]()}, "vehicle": both, "day": {""}}).
		Wants(t, http.StatusUnprocessableEntity, "Also chosen, further down the list", `value="`+string(last.ID)+`" checked>`+last.Number)
}
