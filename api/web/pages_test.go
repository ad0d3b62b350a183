package web_test

import (
	"net/http/httptest"
	"slices"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/demo"
	"rimledger/models/fleet"
)

// page is one page that a browser test visits.
type page struct {
	name, path string
	stranger   bool // seen before anybody signs in
	charts     bool // draws curves with a script of its own
}

// everyPage lists the pages that are photographed, read by axe-core, walked by
// keyboard and weighed. A new page is added here and nowhere else. The vehicle
// and the tire are those with the most to see.
func everyPage(t *testing.T, f *fleet.Service) []page {
	t.Helper()
	v := tractorToSee(t, f, damaged)

	path, depot := "/vehicles/"+string(v.Vehicle.ID), "/settings/depots/"+string(v.Depot.ID)
	pages := []page{
		{name: "sign-in", path: "/sign-in", stranger: true},
		{name: "attention", path: "/"},
		{name: "printed", path: "/?view=print"},
		{name: "changed", path: "/changed"},
		{name: "vehicles", path: "/vehicles"},
		{name: "vehicle", path: path, charts: true},
		{name: "place", path: path + "/at/" + string(v.Tires[0].State.Position), charts: true},
		{name: "inspect", path: path + "/inspect"},
		{name: "inspect8", path: path + "/inspect?plain=1&stations=8"},
		{name: "compare", path: path + "/compare"},
		{name: "labels", path: "/labels"},
		{name: "yard", path: "/yard"},
		{name: "waiting", path: "/yard/waiting"},
		{name: "bench", path: path + "/bench/" + string(v.Tires[0].State.Position)},
		{name: "bench-sums", path: "/bench"},
		{name: "find-wheel", path: "/vehicles/" + string(shakingVehicle(t, f)) + "/find-wheel"},
		{name: "rotate", path: path + "/do/rotate"},
		{name: "vibration", path: path + "/do/vibration"},
		{name: "wheel-check", path: path + "/do/wheel-check"},
		{name: "tires", path: "/tires"},
		{name: "tire", path: "/tires/" + string(v.Tires[0].Tire.ID), charts: true},
		{name: "finding", path: "/findings/" + string(v.Findings[0].ID)},
		{name: "vehicle-new", path: "/vehicles/new"},
		{name: "vehicle-edit", path: path + "/edit"},
		{name: "tire-new", path: "/tires/new"},
		{name: "tire-edit", path: "/tires/" + string(v.Tires[0].Tire.ID) + "/edit"},
		{name: "tire-move", path: "/tires/" + string(v.Tires[0].Tire.ID) + "/move"},
		{name: "wheels", path: "/wheels"},
		{name: "wheel-new", path: "/wheels/new"},
		{name: "wheel", path: "/wheels/" + string(v.Tires[0].State.WheelID)},
		{name: "sheets", path: "/sheets"},
		{name: "due", path: "/due"},
		{name: "order", path: "/order"},
		{name: "calendar", path: "/due/calendar"},
		{name: "day", path: "/due/calendar?day=" + time.Now().Format(time.DateOnly)},
		{name: "digest", path: "/digest"},
		{name: "settings", path: "/settings"},
		{name: "rules", path: "/settings/rules"},
		{name: "people", path: "/settings/people"},
		{name: "person-new", path: "/settings/people/new"},
		{name: "person", path: "/settings/people/" + string(technician(t, f))},
		{name: "audit", path: "/settings/audit"},
		{name: "depot", path: depot},
		{name: "depot-new", path: "/settings/depots/new"},
		{name: "policy", path: depot + "/policy/tractor"},
		{name: "help", path: "/help"},
	}

	for _, tire := range v.Tires {
		if b := tire.State.Balance; b != nil {
			return append(pages, page{name: "balancejob", path: "/balance-jobs/" + string(b.EventID)})
		}
	}

	t.Fatal("no balance job to see")
	return nil
}

// technician returns one, as a manager edits them.
func technician(t *testing.T, f *fleet.Service) models.UserID {
	t.Helper()
	for _, u := range must(f.Users(t.Context(), fleet.System(models.FromDemo)))(t) {
		if u.Role == models.Technician {
			return u.ID
		}
	}
	t.Fatal("no technician")
	return ""
}

// tractorToSee returns the tractor that wants attention most of those that fit; what
// the invented fleet shows depends on the day.
func tractorToSee(t *testing.T, f *fleet.Service, fits func(fleet.VehicleView) bool) fleet.VehicleView {
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
		if v := must(f.Vehicle(t.Context(), system, row.Vehicle.ID))(t); fits(v) {
			return v
		}
	}

	t.Fatal("no vehicle to see")
	return fleet.VehicleView{}
}

// damaged reports whether damage is open on v, so that every form has something to do.
func damaged(v fleet.VehicleView) bool {
	return slices.ContainsFunc(v.Tires, func(t models.TireWithState) bool { return len(t.State.Damage) > 0 })
}

// shakingVehicle returns a vehicle whose driver reports a shake.
func shakingVehicle(t *testing.T, f *fleet.Service) models.VehicleID {
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

// demoFleet serves the invented fleet with its two years.
func demoFleet(t *testing.T) (*fleet.Service, *httptest.Server) {
	t.Helper()
	st := openStore(t)
	if err := demo.Build(t.Context(), st, time.Now(), nil); err != nil {
		t.Fatal(err)
	}
	f := newFleet(st)
	return f, serve(t, st, f)
}
