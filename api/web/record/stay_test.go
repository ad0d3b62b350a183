package record_test

import (
	"math"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"testing"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/units"
)

// The wear at each place is worked out in models/fleet; here it is told in the
// person's units: 1 mm per 1,000 km is 16.09344 / 0.79375 = 20.275 32nds per 10,000 mi
// (a mile is 1,609.344 m and 1/32 in is 0.79375 mm, both exact).
func TestWearAtEachPlaceOfATire(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	path := "/tires/" + string(y.Tires["1L"].ID)
	p.Get(path).Wants(t, http.StatusOK, "1L of", "not read", "no depth read there at a known distance")

	depth := modeltest.Must(models.ParseDepth("16/32", units.BareNone))(t)
	modeltest.Must(
		y.Fleet.Record(
			t.Context(),
			y.System,
			&models.Inspection{
				Meta: models.Meta{
					ID:        modeltest.NewID[models.EventID](),
					VehicleID: y.Vehicle.ID,
					At:        y.Start.AddDate(0, 0, -50),
					Odometer: modeltest.Must(
						models.ParseOdometer("200,500 mi", units.BareNone),
					)(
						t,
					),
				},
				Readings: []models.Reading{{Position: "1L", Depths: [][]*models.Depth{{&depth}}}},
			},
		),
	)(
		t,
	)

	p.Get(path).Wants(t, http.StatusOK, "read at one place of the odometer only", "first read 500 mi after it came")
	f := y.Inspection("11")
	f.Set("odometer", "220,500")
	p.Post("/vehicles/"+string(y.Vehicle.ID)+"/inspect", f).Wants(t, http.StatusSeeOther)

	rate := func(form string) float64 {
		t.Helper()
		a := p.Get(path)
		found := regexp.MustCompile(form).FindStringSubmatch(a.Body)
		if found == nil {
			a.Wants(t, http.StatusOK, form)
			t.FailNow()
		}
		return modeltest.Must(strconv.ParseFloat(found[1], 64))(t)
	}

	inch := rate(`([\d.]+)/32 in per 10,000 mi \(9 times in 10 between [\d.]+/32 in and [\d.]+/32 in\)`)
	p.Post("/settings/units", url.Values{"depth": {"mm"}, "pressure": {"bar"}, "distance": {"km"}, "mass": {"g"}}).
		Wants(t, http.StatusSeeOther)
	mm := rate(`([\d.]+) mm per 1,000 km \(9 times in 10 between [\d.]+ mm and [\d.]+ mm\)`)

	// 5/32 in 20,000 mi; other hands and a coarse gauge leave room for what is usual (1.3).
	if math.Abs(inch-2.5) > 0.5 || math.Abs(inch/mm-20.275) > 0.2 {
		t.Errorf("%.2f/32 per 10,000 mi and %.3f mm per 1,000 km, want about 2.5 and a 20.275th of it", inch, mm)
	}
}
