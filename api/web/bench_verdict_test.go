package web_test

import (
	"net/http"
	"testing"
	"time"

	"rimledger/models"
)

// complain records that a vehicle shakes.
func (y *testServer) complain(t *testing.T) {
	t.Helper()
	must(y.fleet.Record(t.Context(), y.system, &models.Vibration{
		Meta:      models.Meta{ID: newID[models.EventID](), VehicleID: y.vehicle.ID, At: time.Now().Add(-time.Minute)},
		StartsKMH: 70, WorstKMH: 95, FeltAt: "steering_wheel"}))(t)
}

// TestComplaintSpinClearsNearZero: a check spin for a complaint that shows 5 oz and 5 oz is
// over, on its card and in the search; at 1 oz it is cleared (chosen by us: one step).
func TestComplaintSpinClearsNearZero(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.complain(t)
	p := y.signedIn("odd@fleet.example")
	search := "/vehicles/" + string(y.vehicle.ID) + "/find-wheel"

	spin := func(outer, inner string) answer {
		t.Helper()
		a := p.post("/vehicles/"+string(y.vehicle.ID)+"/bench/1L", benchSheet("do", "save", "check_spin", "1", "weights_off", "",
			"shown.outer.mass", outer, "shown.outer.angle", "30", "shown.inner.mass", inner, "shown.inner.angle", "30"))
		if a.Status != http.StatusSeeOther {
			t.Fatalf("%d: %s", a.Status, a.Body)
		}
		return p.get(a.Location)
	}

	spin("5 oz", "5 oz").wants(t, http.StatusOK, "Over the limit", "the limit is 1 oz", "near zero is cleared", "may be left (Wang")
	p.get(search).wants(t, http.StatusOK, "Balance 1L", "not near zero", "A wheel is cleared near zero: at most 1 oz")
	spin("1 oz", "0 oz").wants(t, http.StatusOK, "Within the limit")
	p.get(search).wants(t, http.StatusOK, "cleared", "Check spin at 1R")
}
