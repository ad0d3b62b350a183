package webtest

import (
	"net/http/httptest"
	"slices"
	"testing"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
)

// DemoFleet serves the invented fleet with its two years. It takes long to make, so that
// short tests are without it.
func DemoFleet(t testing.TB) (*fleet.Service, *httptest.Server) {
	t.Helper()
	modeltest.Long(t)
	st := demoRecord.open(t)
	f := fleet.New(st, fleet.Options{Now: Now})
	return f, serve(t, st, f)
}

// Technician returns one of the invented fleet, as a manager edits them.
func Technician(t testing.TB, f *fleet.Service) models.UserID {
	t.Helper()
	for _, u := range modeltest.Must(f.Users(t.Context(), fleet.System(models.FromDemo)))(t) {
		if u.Role == models.Technician {
			return u.ID
		}
	}
	t.Fatal("no technician")
	return ""
}

// TractorToSee returns the tractor that wants attention most of those that fit.
func TractorToSee(t testing.TB, f *fleet.Service, fits func(fleet.VehicleView) bool) fleet.VehicleView {
	t.Helper()

	system := fleet.System(models.FromDemo)
	rows, _, err := f.Vehicles(
		t.Context(),
		system,
		models.VehicleFilter{Attention: true, Class: models.Tractor},
		models.Page{Limit: 100},
	)
	if err != nil {
		t.Fatal(err)
	}

	for _, row := range rows {
		if v := modeltest.Must(f.Vehicle(t.Context(), system, row.Vehicle.ID))(t); fits(v) {
			return v
		}
	}

	t.Fatal("no vehicle to see")
	return fleet.VehicleView{}
}

// Damaged reports whether damage is open on v, so that every form has something to do.
func Damaged(v fleet.VehicleView) bool {
	return slices.ContainsFunc(v.Tires, func(t models.TireWithState) bool { return len(t.State.Damage) > 0 })
}

// ShakingVehicle returns a vehicle whose driver reports a shake.
func ShakingVehicle(t testing.TB, f *fleet.Service) models.VehicleID {
	t.Helper()
	rows, _, err := f.Vehicles(
		t.Context(),
		fleet.System(models.FromDemo),
		models.VehicleFilter{Code: models.VibrationOpen},
		models.Page{Limit: 1},
	)
	if err != nil || len(rows) == 0 {
		t.Fatal("no vehicle shakes", err)
	}
	return rows[0].Vehicle.ID
}
