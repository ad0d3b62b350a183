package rest_test

import (
	"testing"

	"github.com/google/uuid"

	"rimledger/models"
)

// The truck of these tests was inspected on 2 March 2026, 11:00 UTC, which is 05:00 in
// Chicago; a rigid truck is read every 30 days by default, so again on 1 April. Daylight
// saving has begun by then (on 8 March), so that 05:00 is 10:00 UTC.
func TestWhatIsDueOnAVehicle(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	path := "/vehicles/" + y.vehicle + "/due"
	if a := y.do("GET", path, nil).want(200); a.at("items.0.code") != string(models.NeverInspected) ||
		a.at("items.0.overdue") != "true" {
		t.Errorf("never inspected: %s", a.raw)
	}
	y.do("POST", "/inspections", y.inspection()).want(201)
	a := y.do("GET", path, nil).want(200)

	found := map[string]string{}
	for i := range 10 {
		at := "items." + string(rune('0'+i)) + "."
		found[a.at(at+"what")] = a.at(at + "at")
	}

	if found["inspection"] != "2026-04-01T10:00:00Z" {
		t.Errorf("the next inspection: %s", a.raw)
	}

	elsewhere := y.do("POST", "/depots", depotBody()).want(201).at("id")
	y.as(models.Viewer, elsewhere).do("GET", path, nil).want(404)
	y.as(models.Viewer, y.depot).do("GET", path, nil).want(200)
	y.do("GET", "/vehicles/"+uuid.NewString()+"/due", nil).want(404)
	y.do("GET", "/vehicles/42/due", nil).want(422)
	(&client{t: y.t, url: y.url, http: y.http}).do("GET", path, nil).want(401)
}
