package api_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
)

// pageCases are the addresses of the pages.
func pageCases() []permitted {
	reads := func(route string, address func(p *place, c *caller) (string, []named)) permitted {
		return permitted{op: "GET " + route, least: models.Viewer, make: func(p *place, c *caller) request {
			at, list := address(p, c)
			return get(at, list...)
		}}
	}
	plain := func(route string) permitted {
		return reads(route, func(*place, *caller) (string, []named) { return route, nil })
	}
	lists := func(route string) permitted { p := plain(route); p.lists = true; return p }
	managed := func(p permitted) permitted { p.least = models.Manager; return p }
	narrowed := func(route string) permitted {
		return reads(route, func(p *place, _ *caller) (string, []named) {
			return route + "?depot=" + string(p.depot), []named{narrow("depot", p.depot)}
		})
	}
	ofDepot := func(route, query string) permitted {
		return reads(route, func(p *place, _ *caller) (string, []named) {
			return route + "?" + query + "depot=" + string(p.depot), []named{id("depot", p.depot)}
		})
	}
	ofVehicle := func(route string) permitted {
		return reads(route, func(p *place, _ *caller) (string, []named) {
			return strings.NewReplacer(":id", string(p.shared.ID), ":position", "1L", ":kind", "rotate").Replace(route), []named{id("vehicle", p.shared.ID)}
		})
	}
	ofTire := func(route string) permitted {
		return reads(route, func(p *place, _ *caller) (string, []named) {
			t := p.shared.tires["1R"]
			return strings.Replace(route, ":id", string(t), 1), []named{id("tire", t)}
		})
	}
	ofWheel := func(route string) permitted {
		return reads(route, func(p *place, _ *caller) (string, []named) {
			w := p.shared.wheels["1R"]
			return strings.Replace(route, ":id", string(w), 1), []named{id("wheel", w)}
		})
	}
	writes := func(route string, least models.Role, make func(p *place, c *caller) request) permitted {
		return permitted{op: "POST " + route, least: least, make: make}
	}
	// work is the form of one kind of work on a vehicle.
	work := func(kind string, fill func(p *place, v models.VehicleID, tr *trailer) (pairs []string, ids []named)) permitted {
		return writes("/vehicles/:id/do/:kind", models.Technician, func(p *place, _ *caller) request {
			tr := p.trailer()
			pairs, ids := fill(p, tr.ID, tr)
			address := "/vehicles/" + string(tr.ID) + "/do/" + kind
			return p.filled(address, address, pairs...).about(append([]named{id("vehicle", tr.ID)}, ids...)...)
		})
	}
	checkSpin := []string{"do", "save", "why", "complaint", "mode", "two_plane", "planes", "flanges", "check_spin", "1", "shown.outer.mass", "0", "shown.inner.mass", "0"}

	return []permitted{
		// Lists.
		lists("/"), narrowed("/"), lists("/changed"), narrowed("/changed"), lists("/vehicles"), narrowed("/vehicles"), lists("/tires"), narrowed("/tires"),
		lists("/due"), narrowed("/due"), lists("/order"), narrowed("/order"), plain("/due/calendar"), narrowed("/due/calendar"),
		plain("/labels"), ofDepot("/labels", ""), plain("/wheels"), ofDepot("/wheels", ""), lists("/digest"), ofDepot("/digest", ""),
		lists("/sheets"), ofDepot("/sheets/file", "kind=vehicles&as=csv&"), plain("/help"), plain("/bench"),
		plain("/yard"), plain("/yard/waiting"), lists("/yard/who"), ofDepot("/yard/sheet", ""),
		reads("/yard/sheet", func(p *place, _ *caller) (string, []named) {
			return "/yard/sheet?vehicle=" + string(p.shared.ID), []named{id("vehicle", p.shared.ID)}
		}),

		// A vehicle.
		ofVehicle("/vehicles/:id"), ofVehicle("/vehicles/:id/at/:position"), ofVehicle("/vehicles/:id/inspect"), ofVehicle("/vehicles/:id/find-wheel"),
		ofVehicle("/vehicles/:id/bench/:position"), managed(ofVehicle("/vehicles/:id/edit")), managed(plain("/vehicles/new")),
		reads("/vehicles/:id/compare", func(p *place, _ *caller) (string, []named) {
			return "/vehicles/" + string(p.shared.ID) + "/compare?old=" + string(p.shared.inspection), []named{id("vehicle", p.shared.ID), narrow("event", p.shared.inspection)}
		}),
		reads("/vehicles/:id/do/:kind", func(p *place, _ *caller) (string, []named) {
			return "/vehicles/" + string(p.shared.ID) + "/do/withdraw?supersedes=" + string(p.shared.odometer), []named{id("vehicle", p.shared.ID), narrow("event", p.shared.odometer)}
		}),
		writes("/vehicles/new", models.Manager, func(p *place, _ *caller) request {
			return p.filled("/vehicles/new", "/vehicles/new", "depot", string(p.depot), "number", p.plainNumber(), "class", "trailer", "axles", "F2 F2").about(id("depot", p.depot))
		}),
		writes("/vehicles/:id/edit", models.Manager, func(p *place, _ *caller) request {
			v := p.vehicle().ID
			address := "/vehicles/" + string(v) + "/edit"
			return p.filled(address, address, "parking_row", "Z", "number", p.plainNumber()).about(id("vehicle", v))
		}),
		writes("/vehicles/:id/inspect", models.Technician, func(p *place, _ *caller) request {
			v := p.trailer().ID
			address := "/vehicles/" + string(v) + "/inspect"
			return p.filled(address+"?plain=1", address, "p.1L.d0.0", "14", "p.1L.d1.0", "14", "p.1L.d2.0", "14", "odometer_unknown", "1").about(id("vehicle", v))
		}),
		writes("/vehicles/:id/bench/:position", models.Technician, func(p *place, _ *caller) request {
			v := p.trailer().ID
			address := "/vehicles/" + string(v) + "/bench/1L"
			return p.filled(address, address, checkSpin...).about(id("vehicle", v))
		}),
		work("odometer", func(*place, models.VehicleID, *trailer) ([]string, []named) {
			return []string{"odometer", "101,200"}, nil
		}),
		work("withdraw", func(_ *place, _ models.VehicleID, tr *trailer) ([]string, []named) {
			return []string{"supersedes", string(tr.odometer), "reason", "another truck"}, []named{id("event", tr.odometer)}
		}),
		work("vibration", func(p *place, v models.VehicleID, _ *trailer) ([]string, []named) {
			report := p.complaint(v)
			return []string{"settles", string(report)}, []named{id("event", report)}
		}),
		work("remove", func(*place, models.VehicleID, *trailer) ([]string, []named) {
			return []string{"reason.1R", "worn_even", "to.1R", "stock"}, nil
		}),
		writes("/vehicles/:id/do/:kind", models.Technician, func(p *place, _ *caller) request {
			v, t := p.vehicle().ID, p.tire().ID
			address := "/vehicles/" + string(v) + "/do/fit"
			return p.filled(address, address, "tire.1L", string(t)).about(id("vehicle", v), id("tire", t))
		}),
		reads("/balance-jobs/:id", func(p *place, _ *caller) (string, []named) {
			job := p.job(p.trailer().ID)
			return "/balance-jobs/" + string(job), []named{id("job", job)}
		}),

		// Findings and bookings.
		reads("/findings/:id", func(p *place, _ *caller) (string, []named) {
			return "/findings/" + string(p.shared.finding), []named{id("finding", p.shared.finding)}
		}),
		writes("/findings/:id/acknowledge", models.Manager, func(p *place, _ *caller) request {
			f := p.trailer().finding
			return form("/findings/"+string(f)+"/acknowledge", url.Values{"until": {noon.AddDate(0, 0, 2).Format(time.DateOnly)}, "why": {"tire on order"}}, id("finding", f))
		}),
		writes("/", models.Manager, func(p *place, _ *caller) request {
			v := p.trailer().ID
			return form("/", url.Values{"id": {newID[string]()}, "vehicle": {string(v)}, "day": {noon.AddDate(0, 0, 2).Format(time.DateOnly)}, "note": {"bay 2"}}, id("vehicle", v))
		}),
		writes("/digest", models.Viewer, func(p *place, _ *caller) request {
			return form("/digest", url.Values{"id": {newID[string]()}, "depot": {string(p.depot)}}, id("depot", p.depot))
		}),
		writes("/sheets", models.Manager, func(p *place, _ *caller) request {
			return upload("/sheets", map[string]string{"depot": string(p.depot), "kind": "vehicles"}, "number,class,axles\n"+p.plainNumber()+",trailer,F2\n", id("depot", p.depot))
		}),

		// Tires and wheels.
		ofTire("/tires/:id"), managed(ofTire("/tires/:id/edit")), managed(ofTire("/tires/:id/move")), managed(plain("/tires/new")),
		reads("/tires/:id/bench", func(p *place, _ *caller) (string, []named) {
			t := p.tire().ID
			return "/tires/" + string(t) + "/bench", []named{id("tire", t)}
		}),
		reads("/tires/:id/withdraw", func(p *place, _ *caller) (string, []named) {
			t := p.tire().ID
			e := p.looseRepair(t)
			return "/tires/" + string(t) + "/withdraw?supersedes=" + string(e), []named{id("tire", t), narrow("event", e)}
		}),
		writes("/tires/new", models.Manager, func(p *place, _ *caller) request {
			return p.filled("/tires/new", "/tires/new", "depot", string(p.depot), "number", p.plainNumber(), "size", "295/75R22.5", "new_depths", "18 mm").about(id("depot", p.depot))
		}),
		writes("/tires/:id/edit", models.Manager, func(p *place, _ *caller) request {
			t := p.tire().ID
			address := "/tires/" + string(t) + "/edit"
			return p.filled(address, address, "design", "rib", "number", p.plainNumber()).about(id("tire", t))
		}),
		writes("/tires/:id/move", models.Manager, func(p *place, _ *caller) request {
			t := p.tire().ID
			address := "/tires/" + string(t) + "/move"
			return p.filled(address, address, "to", "at_retreader").about(id("tire", t))
		}),
		writes("/tires/:id/bench", models.Technician, func(p *place, _ *caller) request {
			t := p.tire().ID
			address := "/tires/" + string(t) + "/bench"
			return p.filled(address, address, checkSpin...).about(id("tire", t))
		}),
		writes("/tires/:id/bench", models.Technician, func(p *place, _ *caller) request {
			t, w := p.tire().ID, p.wheel().ID
			address := "/tires/" + string(t) + "/bench"
			return p.filled(address, address, append([]string{"wheel_id", string(w)}, checkSpin...)...).about(id("tire", t), id("wheel", w))
		}),
		writes("/tires/:id/withdraw", models.Technician, func(p *place, _ *caller) request {
			t := p.tire().ID
			e := p.looseRepair(t)
			address := "/tires/" + string(t) + "/withdraw"
			return p.filled(address, address, "supersedes", string(e), "reason", "another tire").about(id("tire", t), id("event", e))
		}),
		ofWheel("/wheels/:id"), managed(ofWheel("/wheels/:id/edit")), managed(plain("/wheels/new")),
		writes("/wheels/new", models.Manager, func(p *place, _ *caller) request {
			return p.filled("/wheels/new", "/wheels/new", "depot", string(p.depot), "number", p.plainNumber(), "diameter_in", "22.5", "width_in", "8.25", "material", "steel").about(id("depot", p.depot))
		}),
		writes("/wheels/:id/edit", models.Manager, func(p *place, _ *caller) request {
			w := p.wheel().ID
			address := "/wheels/" + string(w) + "/edit"
			return p.filled(address, address, "width_in", "9", "number", p.plainNumber()).about(id("wheel", w))
		}),

		// Depots.
		lists("/settings"), plain("/settings/rules"), plain("/settings/depots/new"),
		reads("/settings/depots/:id", func(p *place, _ *caller) (string, []named) {
			return "/settings/depots/" + string(p.depot), []named{id("depot", p.depot)}
		}),
		reads("/settings/depots/:id/policy/:class", func(p *place, _ *caller) (string, []named) {
			return "/settings/depots/" + string(p.depot) + "/policy/tractor", []named{id("depot", p.depot)}
		}),
		{op: "POST /settings/depots/new", least: models.Manager, allDepots: true, make: func(p *place, _ *caller) request {
			return p.filled("/settings/depots/new", "/settings/depots/new", "name", "Invented Yard "+p.plainNumber(), "time_zone", "Europe/Oslo", "jurisdiction", "US", "currency", "EUR")
		}},
		writes("/settings/depots/:id", models.Manager, func(p *place, _ *caller) request {
			address := "/settings/depots/" + string(p.depot)
			return p.filled(address, address, "currency", "EUR").about(id("depot", p.depot))
		}),
		writes("/settings/depots/:id/policy/:class", models.Manager, func(p *place, _ *caller) request {
			address := "/settings/depots/" + string(p.depot) + "/policy/tractor"
			return p.filled(address, address, "InspectDays", "20").about(id("depot", p.depot))
		}),

		// People.
		managed(lists("/settings/people")), plain("/settings/people/new"), managed(lists("/settings/audit")),
		managed(reads("/settings/audit", func(p *place, _ *caller) (string, []named) {
			return "/settings/audit?entity=vehicle&id=" + string(p.shared.ID), []named{narrow("vehicle", p.shared.ID)}
		})),
		managed(reads("/settings/people/:id", func(p *place, _ *caller) (string, []named) {
			u := p.person().ID
			return "/settings/people/" + string(u), []named{id("person", u)}
		})),
		writes("/settings/people/new", models.Manager, func(p *place, _ *caller) request {
			return p.filled("/settings/people/new", "/settings/people/new", "name", "Invented Person", "email", p.plainNumber()+"@fleet.example", "depots", string(p.depot)).about(id("depot", p.depot))
		}),
		writes("/settings/people/:id", models.Manager, func(p *place, _ *caller) request {
			u := p.person().ID
			address := "/settings/people/" + string(u)
			return p.filled(address, address, "name", "Invented Person", "email", p.plainNumber()+"@fleet.example", "depots", string(p.depot)).about(id("person", u), id("depot", p.depot))
		}),
		writes("/settings/people/:id/password", models.Manager, func(p *place, _ *caller) request {
			u := p.person().ID
			return form("/settings/people/"+string(u)+"/password", url.Values{"password": {personPassword}}, id("person", u))
		}),

		// One's own settings.
		{op: "POST /settings/password", least: models.Viewer, asksPassword: true, make: func(*place, *caller) request {
			return form("/settings/password", url.Values{"old_password": {personPassword}, "password": {personPassword}})
		}},
		writes("/settings/units", models.Viewer, func(_ *place, c *caller) request {
			return form("/settings/units", url.Values{"depth": {"mm"}, "pressure": {"bar"}, "distance": {"km"}, "mass": {"g"}})
		}),
		writes("/settings/tokens", models.Viewer, func(*place, *caller) request {
			return form("/settings/tokens", url.Values{"id": {newID[string]()}, "name": {"a board"}, "days": {"30"}})
		}),
		writes("/settings/tokens/:id/revoke", models.Viewer, func(p *place, c *caller) request {
			t := p.tokenFor(c)
			return form("/settings/tokens/"+string(t)+"/revoke", nil, id("token", t))
		}),
		writes("/settings/calendar", models.Viewer, func(*place, *caller) request {
			return form("/settings/calendar", url.Values{"id": {newID[string]()}})
		}),
	}
}

// TestCalendarOfDepots reads the calendar by the key in its address, which is that
// of a person: it holds what that person sees and nothing else.
func TestCalendarOfDepots(t *testing.T) {
	t.Parallel()
	g := newGate(t)
	for _, p := range []*place{g.own, g.second, g.foreign} { // what is booked in stands in the calendar
		booking := fleet.Booking{ID: newID[string](), Vehicles: []models.VehicleID{p.shared.ID}, Day: noon.AddDate(0, 0, 2).Format(time.DateOnly)}
		must(g.fleet.BookIn(t.Context(), g.system, booking))(t)
	}

	for _, c := range g.callers {
		if c.nobody || c.readOnly {
			continue
		}
		_, key, err := g.fleet.AddToken(t.Context(), g.system, models.Token{UserID: c.user.ID, Name: "calendar", Feed: true, ReadOnly: true, ExpiresAt: noon.AddDate(0, 1, 0)})
		if err != nil {
			t.Fatal(err)
		}

		whole := g.send(&caller{}, get("/calendar.ics?key="+key))
		if whole.status != http.StatusOK || !strings.Contains(whole.body, "BEGIN:VEVENT") {
			t.Errorf("%s: status %d: %.300s", c.name, whole.status, whole.body)
		}
		g.discreet(c, request{}, whole)
		for _, seen := range c.sees {
			if !strings.Contains(whole.body, seen.word) {
				t.Errorf("%s: the calendar lacks %s", c.name, seen.word)
			}
		}

		address := "/calendar.ics?key=" + key + "&depot="
		g.alike(c, "another depot", get(address+string(g.foreign.depot)), get(address+newID[string]()), false)
		if own := g.send(&caller{}, get(address+string(g.own.depot))); own.status != http.StatusOK {
			t.Errorf("%s: the calendar of one depot: status %d", c.name, own.status)
		}
	}
}
