package bench_test

import (
	"net/http"
	"testing"
	"time"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
)

// complain records that a vehicle shakes.
func complain(y *webtest.World, t *testing.T) {
	t.Helper()
	modeltest.Must(y.Fleet.Record(t.Context(), y.System, &models.Vibration{
		Meta: models.Meta{
			ID:        modeltest.NewID[models.EventID](),
			VehicleID: y.Vehicle.ID,
			At:        webtest.Now().Add(-time.Minute),
		},
		StartsKMH: 70, WorstKMH: 95, FeltAt: "steering_wheel"}))(t)
}

// TestComplaintSpinClearsNearZero: a check spin for a complaint that shows 5 oz and 5 oz is
// over, on its card and in the search; at 1 oz it is cleared (chosen by us: one step).
func TestComplaintSpinClearsNearZero(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	complain(y, t)
	p := y.SignedIn("odd@fleet.example")
	search := "/vehicles/" + string(y.Vehicle.ID) + "/find-wheel"

	spin := func(outer, inner string) webtest.Answer {
		t.Helper()
		a := p.Post(
			"/vehicles/"+string(y.Vehicle.ID)+"/bench/1L",
			benchSheet(
				"do",
				"save",
				"check_spin",
				"1",
				"weights_off",
				"",
				"shown.outer.mass",
				outer,
				"shown.outer.angle",
				"30",
				"shown.inner.mass",
				inner,
				"shown.inner.angle",
				"30",
			),
		)
		if a.Status != http.StatusSeeOther {
			t.Fatalf("%d: %s", a.Status, a.Body)
		}
		return p.Get(a.Location)
	}

	spin(
		"5 oz",
		"5 oz",
	).Wants(t, http.StatusOK, "Over the limit", "the limit is 1 oz", "near zero is cleared", "may be left (Wang")
	p.Get(search).Wants(t, http.StatusOK, "Balance 1L", "not near zero", "A wheel is cleared near zero: at most 1 oz")
	spin("1 oz", "0 oz").Wants(t, http.StatusOK, "Within the limit")
	p.Get(search).Wants(t, http.StatusOK, "cleared", "Check spin at 1R")
}
