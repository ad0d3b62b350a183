package yard_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"testing"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
)

// A phone's list of vehicles is compressed once, however long: a client that
// unpacks one layer reads JSON.
func TestLongYardSheet(t *testing.T) {
	t.Parallel()

	y := webtest.NewWorld(t)
	for i := range 150 {
		v := y.Vehicle
		v.ID, v.Number, v.Stamp = modeltest.NewID[models.VehicleID](), fmt.Sprintf("T-%d", 200+i), models.Stamp{}
		v.ParkingRow = modeltest.NewID[string]()
		modeltest.Must(y.Fleet.CreateVehicle(t.Context(), y.System, v))(t)
	}

	a := y.SignedIn("odd@fleet.example").Get("/yard/sheet?depot=" + string(y.Depot.ID))
	var sheet struct{ Vehicles []struct{ Number string } }
	if err := json.Unmarshal([]byte(a.Body), &sheet); err != nil || a.Status != http.StatusOK ||
		len(sheet.Vehicles) < 100 {
		t.Errorf("status %d, %d vehicles: %v in %.40q", a.Status, len(sheet.Vehicles), err, a.Body)
	}
}
