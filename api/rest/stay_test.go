package rest_test

import (
	"math"
	"strconv"
	"testing"

	"github.com/google/uuid"

	"rimledger/models"
)

// A tire fitted at 100,000 mi and read 14/32 at 101,000 mi: one reading says no rate.
// Read 8/32 at 121,000 mi it has lost 6/32 in 20,000 mi, 3/32 per 10,000 mi, which is
// 4.7625 mm / 32.187 thousand km = 0.148 mm per 1,000 km.
func TestStays(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	path := "/tires/" + y.tires["1L"] + "/outlook"
	y.do("POST", "/inspections", y.inspection()).want(201)

	a := y.do("GET", path, nil).want(200)
	if a.at("stays.0.position") != "1L" || a.at("stays.0.wear") != "" || a.at("stays.0.readings") != "1" ||
		a.at("stays.0.start_read_later") != "true" ||
		a.at("stays.1") != "" {
		t.Errorf("after one reading: %s", a.raw)
	}

	*y.clock = y.clock.AddDate(0, 0, 40)
	i := y.inspection()

	i["at"], i["odometer"] = y.clock.Add(-1), "121,000 mi"
	for _, r := range i["readings"].([]object) {
		r["depths"] = [][]string{{"8/32"}, {"8/32"}, {"8/32"}}
	}

	y.do("POST", "/inspections", i).want(201)
	a = y.do("GET", path, nil).want(200)
	for at, want := range map[string]float64{"rate_mm_per_1000_km": 0.148, "rate_32nds_per_10000_mi": 3} {
		got, err := strconv.ParseFloat(a.at("stays.0.wear."+at), 64)
		if err != nil || math.Abs(got/want-1) > 0.06 {
			t.Errorf("%s %g, want %g within 6 %%: %s", at, got, want, a.raw)
		}
	}

	elsewhere := y.do("POST", "/depots", depotBody()).want(201).at("id")
	y.as(models.Viewer, elsewhere).do("GET", path, nil).want(404)
	y.do("GET", "/tires/"+uuid.NewString()+"/outlook", nil).want(404)
	y.do("GET", "/tires/42/outlook", nil).want(422)
}
