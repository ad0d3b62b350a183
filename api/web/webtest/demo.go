package webtest

import (
	"net/http/httptest"
	"slices"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/demo"
	"rimledger/models/fleet"
)

// Technician returns one, as a manager edits them.
func Technician(t *testing.T, f *fleet.Service) models.UserID {
	t.Helper()
	for _, u := range Must(f.Users(t.Context(), fleet.System(models.FromDemo)))(t) {
		if u.Role == models.Technician {
			return u.ID
		}
	}
	t.Fatal("no technician")
	return ""
}

// TractorToSee returns the tractor that wants attention most of those that fit; what
// the invented fleet shows depends on the day.
func TractorToSee(t *testing.T, f *fleet.Service, fits func(fleet.VehicleView) bool) fleet.VehicleView {
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
		if v := Must(f.Vehicle(t.Context(), system, row.Vehicle.ID))(t); fits(v) {
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
func ShakingVehicle(t *testing.T, f *fleet.Service) models.VehicleID {
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

// DemoFleet serves the invented fleet with its two years.
func DemoFleet(t *testing.T) (*fleet.Service, *httptest.Server) {
	t.Helper()
	st := OpenStore(t)
	if err := demo.Build(t.Context(), st, time.Now(), nil); err != nil {
		t.Fatal(err)
	}
	f := NewFleet(st)
	return f, Serve(t, st, f)
}
