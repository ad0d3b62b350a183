package record_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"rimledger/api/web/webtest"
	"rimledger/models/modeltest"
)

// Two inspections side by side: 2/32 in lost in 4,000 mi are 0.5/32 in per
// 1000 mi (worked by hand).
func TestCompare(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	path := "/vehicles/" + string(y.Vehicle.ID) + "/compare"
	p.Get(path).Wants(t, http.StatusOK, "needs two inspections")

	inspect := func(day time.Time, odometer, depth, inner string) {
		t.Helper()
		form := y.Inspection(depth)
		form.Set("id", modeltest.NewID[string]())
		form.Set("made", day.UTC().Format(time.RFC3339Nano))
		form.Set("odometer", odometer)
		form.Set("p.1L.d2.0", inner)
		p.Post("/vehicles/"+string(y.Vehicle.ID)+"/inspect", form).Wants(t, http.StatusSeeOther)
	}

	inspect(y.Start.AddDate(0, 0, -30), "202000", "14", "13")
	inspect(y.Start.AddDate(0, 0, -10), "206000", "12", "13.5")
	a := p.Get(path)
	a.Wants(t, http.StatusOK, "20 days", "4,000 mi", "Wear per 1,000 mi", "−2/32 in", "0.5/32 in", "deeper than before")

	// In the person's own units: 2/32 in are 1.5875 mm; 4,000 mi are 6,437.4 km; 0.2466 mm per 1000 km.
	p.Post("/settings/units", url.Values{"depth": {"mm"}, "pressure": {"kPa"}, "distance": {"km"}, "mass": {"g"}}).
		Wants(t, http.StatusSeeOther)

	p.Get(path).Wants(t, http.StatusOK, "6,437 km", "−1.59 mm", "0.25 mm", "Wear per 1,000 km")
}
