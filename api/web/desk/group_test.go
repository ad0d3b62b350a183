package desk_test

import (
	"net/http"
	"strings"
	"testing"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
)

// What is found on several wheels of a vehicle is said once, in the list and on the
// vehicle's page, with each wheel named and one caution.
func TestOneThingIsSaidOnce(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	const caution = "Keep hands away from the turning wheel."
	var list []models.Finding
	places := []models.Position{"1L", "1R", "2LO"}
	for _, at := range places {
		list = append(list, models.Finding{
			ID:        modeltest.NewID[models.FindingID](),
			DepotID:   y.Vehicle.DepotID,
			VehicleID: y.Vehicle.ID,
			Position:  at,
			Code:      models.WeightMissing,
			Urgency:   models.DoNow,
			Title:     "a weight is missing at " + string(at),
			FirstJob:  "Balance the assembly at " + string(at) + ".",
			Safety:    caution,
		})
	}
	err := y.Store.Write(t.Context(), func(tx models.Tx) error { return tx.PutFindings(t.Context(), list) })
	if err != nil {
		t.Fatal(err)
	}

	p := y.SignedIn("mara@fleet.example")
	for _, address := range []string{"/", "/?view=print", "/vehicles/" + string(y.Vehicle.ID)} {
		a := p.Get(address)
		a.Wants(t, http.StatusOK, "balance weight missing at", "Balance the assembly at 1L, 1R, 2LO.")
		if n := strings.Count(a.Body, caution); n > 1 {
			t.Errorf("%s says a caution %d times", address, n)
		}
		if n := strings.Count(a.Body, "balance weight missing at"); n != 1 {
			t.Errorf("%s says it %d times", address, n)
		}
	}

	page := p.Get("/vehicles/" + string(y.Vehicle.ID)).Body
	for _, f := range list {
		if !strings.Contains(page, `href="/findings/`+string(f.ID)+`"`) {
			t.Errorf("the page of the vehicle does not lead to what was found at %s", f.Position)
		}
	}
}
