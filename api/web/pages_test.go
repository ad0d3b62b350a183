package web_test

import (
	"testing"
	"time"

	"rimledger/api/web/webtest"
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
	v := webtest.TractorToSee(t, f, webtest.Damaged)

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
		{name: "find-wheel", path: "/vehicles/" + string(webtest.ShakingVehicle(t, f)) + "/find-wheel"},
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
		{name: "day", path: "/due/calendar?day=" + webtest.Now().Format(time.DateOnly)},
		{name: "digest", path: "/digest"},
		{name: "settings", path: "/settings"},
		{name: "rules", path: "/settings/rules"},
		{name: "people", path: "/settings/people"},
		{name: "person-new", path: "/settings/people/new"},
		{name: "person", path: "/settings/people/" + string(webtest.Technician(t, f))},
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
