package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"testing"

	"rimledger/models"
)

// A phone's list of vehicles is compressed once, however long: a client that
// unpacks one layer reads JSON.
func TestLongYardSheet(t *testing.T) {
	t.Parallel()

	y := newYard(t)
	for i := range 150 {
		v := y.vehicle
		v.ID, v.Number, v.ParkingRow, v.Stamp = newID[models.VehicleID](), fmt.Sprintf(
			"T-%d",
			200+i,
		), string(
			newID[models.VehicleID](),
		), models.Stamp{}
		must(y.fleet.CreateVehicle(t.Context(), y.system, v))(t)
	}

	a := y.signedIn("odd@fleet.example").get("/yard/sheet?depot=" + string(y.depot.ID))
	var sheet struct{ Vehicles []struct{ Number string } }
	if err := json.Unmarshal([]byte(a.Body), &sheet); err != nil || a.Status != http.StatusOK ||
		len(sheet.Vehicles) < 100 {
		t.Errorf("status %d, %d vehicles: %v in %.40q", a.Status, len(sheet.Vehicles), err, a.Body)
	}
}
