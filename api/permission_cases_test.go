package api_test

import (
	"rimledger/models"
)

// The least roles of the table.
const (
	viewer     = models.Viewer
	technician = models.Technician
	manager    = models.Manager
)

// spin is a check spin as the API takes it.
func spin(more object) object {
	plane := func(name string) object { return object{"plane": name, "mass": "0 oz", "angle_deg": 0} }
	o := object{"why": "interval", "mode": "two_plane", "planes": "flanges", "check_spin": true,
		"shown": []object{plane("outer"), plane("inner")}}
	return o.with(more)
}

// at1L is work at 1L on the second thing that is named, its tire.
func at1L(more object) object { return object{"position": "1L", "tire_id": "{1}"}.with(more) }

// at1R is the same at 1R.
func at1R(more object) object { return object{"position": "1R", "tire_id": "{1}"}.with(more) }

// apiCases are the operations of the API. In addresses and bodies {0}, {1} ... are
// the ids of the things named behind them.
func apiCases() []permitted {
	depot := object{"name": "Invented Yard {number}", "time_zone": "America/Chicago", "jurisdiction": "US",
		"currency": "USD", "units": object{"depth": "32nd", "pressure": "psi", "distance": "mi", "mass": "oz"}}
	vehicle := object{"id": "{new}", "number": "{number}", "class": "trailer", "axles": []object{{}}}
	tire := object{"id": "{new}", "number": "{number}", "size": "295/75R22.5 144/141L", "new_depths": []string{"18/32"}}
	wheel := object{"id": "{new}", "number": "{number}", "diameter_in": 22.5, "width_in": 8.25, "material": "steel"}

	person := object{"name": "Invented Person", "email": "{number}@fleet.example", "role": "viewer"}

	return []permitted{
		// Events.
		onAPI("POST /alignments", technician, event(object{"found": "toe out"}), aTrailer),
		onAPI(
			"POST /balance-jobs",
			technician,
			event(spin(at1L(object{"wheel_id": "{2}"}))),
			aTrailer,
			tire1L,
			wheel1L,
		),
		onAPI(
			"POST /balance-jobs",
			technician,
			loose(spin(object{"tire_id": "{0}", "wheel_id": "{1}"})),
			aTire,
			aWheel,
		),
		onAPI("POST /clearances", technician, event(at1L(object{"codes": []string{"bulge"}, "note": "a ripple"})),
			aTrailer, tire1L),
		onAPI("POST /fitments", technician,
			event(object{"fittings": []object{at1R(object{"wheel_id": "{2}"})}}), aVehicle, aTire, aWheel),
		onAPI("POST /inspections", technician, event(object{"readings": []object{
			at1R(object{"depths": [][]string{{"14/32"}}, "photos": []string{"{2}"}})}}), aTrailer, tire1R, aPhoto),
		onAPI("POST /inspections", technician, event(object{"supersedes": "{2}", "reason": "read wrongly",
			"readings": []object{at1R(object{"depths": [][]string{{"14/32"}}})}}), aTrailer, tire1R, anInspection),
		onAPI("POST /odometers", technician, event(object{"odometer": "101,200 mi"}), aTrailer),
		onAPI("POST /removals", technician,
			event(object{"removed": []object{at1R(object{"reason": "cut_snag", "to": "stock"})}}), aTrailer, tire1R),
		onAPI("POST /repairs", technician, event(at1L(object{"what": "plug and patch"})), aTrailer, tire1L),
		onAPI("POST /repairs", technician, loose(object{"tire_id": "{0}", "what": "plug and patch"}), aTire),
		onAPI("POST /retorques", technician, event(object{"torque_nm": 600}), aTrailer),
		onAPI("POST /rotations", technician, event(object{"moves": []object{
			{"from": "1L", "to": "1R", "tire_id": "{1}"}, {"from": "1R", "to": "1L", "tire_id": "{2}"}}}),
			aTrailer, tire1L, tire1R),
		onAPI("POST /services", technician, event(object{"what": "dampers"}), aTrailer),
		onAPI("POST /tire-moves", technician, loose(object{"tire_id": "{0}", "to": "at_retreader"}), aTire),
		onAPI("POST /vibration-reports", technician, event(object{"settles": "{1}"}), aTrailer, aComplaint),
		onAPI(
			"POST /voids",
			technician,
			event(object{"supersedes": "{1}", "reason": "another truck"}),
			aTrailer,
			anOdometer,
		),
		onAPI("POST /voids", technician, loose(object{"supersedes": "{0}", "reason": "another tire"}), aRepair),
		onAPI("POST /wheel-checks", technician, event(at1R(object{"wheel_id": "{2}",
			"measures": []object{{"what": "tire_radial", "value": "0.060 in"}}})), aTrailer, tire1R, wheel1R),
		onAPI("GET /events/{id}", viewer, nil, anInspection),
		onAPI("POST /photos", technician, object{"id": "{new}", "vehicle_id": "{0}", "data": pictureText()}, aVehicle),
		onAPI("GET /photos/{id}", viewer, nil, aPhoto),

		// Findings.
		onAPI("GET /findings", viewer, nil).listing(),
		onAPI("GET /findings", viewer, nil, narrow(aDepot), narrow(aTrailer)).at("/findings?depot={0}&vehicle={1}"),
		onAPI("GET /due", viewer, nil, narrow(aDepot), narrow(aTrailer)).at("/due?depot={0}&vehicle={1}"),
		onAPI("GET /findings/{id}", viewer, nil, aFinding),
		onAPI("PUT /findings/{id}/acknowledgement", manager, object{"until": "{day}T12:00:00Z", "why": "tire on order"},
			aFinding),
		onAPI("DELETE /findings/{id}/acknowledgement", manager, nil, anAcknowledged),
		onAPI("POST /bookings", manager, object{"id": "{new}", "vehicle_ids": []string{"{0}", "{1}"}, "day": "{day}"},
			aTrailer, anotherTrailer),
		onAPI("GET /counts", viewer, nil),

		// Depots and policies.
		onAPI("GET /depots", viewer, nil).listing(),
		onAPI("GET /depots/{id}", viewer, nil, aDepot),
		onAPI("POST /depots", manager, depot).ofAllDepots(),
		onAPI(
			"PUT /depots/{id}",
			manager,
			depot.with(object{"name": "{place} Yard"}),
			aDepot,
		).from((*place).depotVersion),
		onAPI("GET /depots/{id}/policies", viewer, nil, aDepot),
		onAPI("GET /depots/{id}/policies/{class}", viewer, nil, aDepot),
		onAPI("PUT /depots/{id}/policies/{class}", manager, object{"policy": object{"rotate_km": 50000}}, aDepot).
			from((*place).policyVersion),
		onAPI("GET /depots/{id}/policies/{class}/effective", viewer, nil, aDepot),
		onAPI("GET /policies/{class}", viewer, nil),
		onAPI("GET /depots/{id}/sheets/{kind}", viewer, nil, aDepot),
		onAPI("GET /depots/{id}/sheets/{kind}", viewer, nil, aDepot).at("/depots/{0}/sheets/findings"),
		onAPI("POST /depots/{id}/imports/{kind}", manager, sheet("number,class,axles\n{number},trailer,F2\n"), aDepot),
		onAPI(
			"POST /depots/{id}/imports/{kind}",
			technician,
			sheet(
				"vehicle,at,odometer\n{vehicle},{hour},\"100,000 mi\"\n",
			),
			aDepot,
		).at("/depots/{0}/imports/odometers"),

		// Vehicles.
		onAPI("GET /vehicles", viewer, nil).listing(),
		onAPI("GET /vehicles", viewer, nil, narrow(aDepot)).at("/vehicles?depot={0}"),
		onAPI("GET /attention", viewer, nil).listing(),
		onAPI("GET /attention", viewer, nil, narrow(aDepot)).at("/attention?depot={0}"),
		onAPI("POST /vehicles", manager, vehicle.with(object{"depot_id": "{0}"}), aDepot),
		onAPI("GET /vehicles/{id}", viewer, nil, aTrailer),
		onAPI("PUT /vehicles/{id}", manager, vehicle.with(object{"id": "{0}", "depot_id": "{1}"}), aVehicle, aDepot),
		onAPI("GET /vehicles/{id}/due", viewer, nil, aTrailer),
		onAPI("GET /vehicles/{id}/events", viewer, nil, aTrailer),
		onAPI("GET /vehicles/{id}/positions/{position}", viewer, nil, aTrailer),

		// Tires and wheels.
		onAPI("GET /tires", viewer, nil).listing(),
		onAPI("GET /tires", viewer, nil, narrow(aDepot)).at("/tires?depot={0}"),
		onAPI("GET /tires-to-order", viewer, nil, narrow(aDepot)).at("/tires-to-order?depot={0}"),
		onAPI("POST /tires", manager, tire.with(object{"depot_id": "{0}"}), aDepot),
		onAPI("GET /tires/{id}", viewer, nil, tire1L),
		onAPI("PUT /tires/{id}", manager, tire.with(object{"id": "{0}", "depot_id": "{1}"}), aTire, aDepot),
		onAPI("GET /tires/{id}/balance-jobs", viewer, nil, tire1L),
		onAPI("GET /tires/{id}/events", viewer, nil, tire1L),
		onAPI("GET /tires/{id}/outlook", viewer, nil, tire1L),
		onAPI("GET /wheels", viewer, nil, aDepot).at("/wheels?depot={0}"),
		onAPI("POST /wheels", manager, wheel.with(object{"depot_id": "{0}"}), aDepot),
		onAPI("GET /wheels/{id}", viewer, nil, wheel1L),
		onAPI("PUT /wheels/{id}", manager, wheel.with(object{"id": "{0}", "depot_id": "{1}"}), aWheel, aDepot),
		onAPI("GET /wheels/{id}/balance-jobs", viewer, nil, wheel1L),

		// People, tokens, the audit trail.
		onAPI("GET /users", manager, nil).listing(),
		onAPI("POST /users", manager, person.with(object{"id": "{new}", "depots": []string{"{0}"}}), aDepot),
		onAPI("GET /users/{id}", manager, nil, aPerson),
		onAPI("PUT /users/{id}", manager, person.with(object{"depots": []string{"{1}"}}), aPerson, aDepot),
		onAPI("PUT /users/{id}/password", manager, object{"password": personPassword}, aPerson),
		onAPI("GET /me", viewer, nil),
		onAPI("GET /tokens", viewer, nil),
		onAPI("POST /tokens", viewer, object{"name": "a board", "expires_at": "{day}T12:00:00Z"}),
		onAPI("DELETE /tokens/{id}", viewer, nil, aToken),
		onAPI("GET /changes", manager, nil).listing(),
		onAPI("GET /changes", manager, nil, narrow(aTrailer)).at("/changes?entity=vehicle&id={0}"),
		onAPI("GET /changes", manager, nil, narrow(aPerson)).at("/changes?by={0}"),

		// What is the same for everybody.
		onAPI(
			"GET /calc",
			viewer,
			nil,
		), onAPI("GET /jurisdictions", viewer, nil), onAPI("GET /legal-rules", viewer, nil),
		onAPI("POST /calc/{name}", viewer, object{"n": 1}).reading(),
	}
}

// pageCases are the addresses of the pages. A form is that of the page at the same
// address, unless it says otherwise, with values put over its own.
func pageCases() []permitted {
	checkSpin := filled("do", "save", "why", "complaint", "mode", "two_plane", "planes", "flanges", "check_spin", "1",
		"shown.outer.mass", "0", "shown.inner.mass", "0")
	number := []string{"number", "{number}"}

	var out []permitted
	for _, list := range []string{"/", "/changed", "/vehicles", "/tires", "/due", "/order"} {
		out = append(out, onPage("GET "+list, viewer, nil).listing(),
			onPage("GET "+list, viewer, nil, narrow(aDepot)).at(list+"?depot={0}"))
	}

	return append(
		out,
		// Lists.
		onPage("GET /due/calendar", viewer, nil),
		onPage("GET /due/calendar", viewer, nil, narrow(aDepot)).at("/due/calendar?depot={0}"),
		onPage("GET /labels", viewer, nil),
		onPage("GET /labels", viewer, nil, aDepot).at("/labels?depot={0}"),
		onPage("GET /wheels", viewer, nil),
		onPage("GET /wheels", viewer, nil, aDepot).at("/wheels?depot={0}"),
		onPage(
			"GET /digest",
			viewer,
			nil,
		).listing(),
		onPage("GET /digest", viewer, nil, aDepot).at("/digest?depot={0}"),
		onPage("POST /digest", viewer, typed("id", "{new}", "depot", "{0}"), aDepot),
		onPage("GET /sheets", viewer, nil).listing(),
		onPage("GET /sheets/file", viewer, nil, aDepot).at("/sheets/file?kind=vehicles&as=csv&depot={0}"),
		onPage("POST /sheets", manager,
			upload("number,class,axles\n{number},trailer,F2\n", "depot", "{0}", "kind", "vehicles"), aDepot),
		onPage("GET /help", viewer, nil),
		onPage("GET /bench", viewer, nil),
		onPage("GET /yard", viewer, nil),
		onPage("GET /yard/waiting", viewer, nil),
		onPage("GET /yard/who", viewer, nil).listing(),
		onPage("GET /yard/sheet", viewer, nil, aDepot).at("/yard/sheet?depot={0}"),
		onPage("GET /yard/sheet", viewer, nil, aTrailer).at("/yard/sheet?vehicle={0}"),

		// A vehicle.
		onPage("GET /vehicles/:id", viewer, nil, aTrailer),
		onPage("GET /vehicles/:id/at/:position", viewer, nil, aTrailer),
		onPage(
			"GET /vehicles/:id/compare",
			viewer,
			nil,
			aTrailer,
			narrow(anInspection),
		).at("/vehicles/{0}/compare?old={1}"),
		onPage("GET /vehicles/:id/find-wheel", viewer, nil, aTrailer),
		onPage("GET /vehicles/new", manager, nil),
		onPage("POST /vehicles/new", manager, filled("depot", "{0}", "class", "trailer", "axles", "F2 F2").and(number),
			aDepot),
		onPage("GET /vehicles/:id/edit", manager, nil, aTrailer),
		onPage("POST /vehicles/:id/edit", manager, filled("parking_row", "Z").and(number), aVehicle),
		onPage("GET /vehicles/:id/inspect", viewer, nil, aTrailer),
		onPage(
			"POST /vehicles/:id/inspect",
			technician,
			filled(
				"p.1L.d0.0",
				"14",
				"p.1L.d1.0",
				"14",
				"p.1L.d2.0",
				"14",
				"odometer_unknown",
				"1",
			).of("?plain=1"),
			aTrailer,
		),
		onPage("GET /vehicles/:id/bench/:position", viewer, nil, aTrailer),
		onPage("POST /vehicles/:id/bench/:position", technician, checkSpin, aTrailer),
		onPage("GET /vehicles/:id/do/:kind", viewer, nil, aTrailer,
			narrow(anOdometer)).at("/vehicles/{0}/do/withdraw?supersedes={1}"),
		onPage("POST /vehicles/:id/do/:kind", technician, filled("odometer", "101,200"),
			aTrailer).at("/vehicles/{0}/do/odometer"),
		onPage("POST /vehicles/:id/do/:kind", technician, filled("supersedes", "{1}", "reason", "another truck"),
			aTrailer, anOdometer).at("/vehicles/{0}/do/withdraw"),
		onPage("POST /vehicles/:id/do/:kind", technician, filled("settles", "{1}"), aTrailer,
			aComplaint).at("/vehicles/{0}/do/vibration"),
		onPage("POST /vehicles/:id/do/:kind", technician, filled("reason.1R", "worn_even", "to.1R", "stock"), aTrailer).
			at("/vehicles/{0}/do/remove"),
		onPage("POST /vehicles/:id/do/:kind", technician, filled("tire.1L", "{1}"), aVehicle,
			aTire).at("/vehicles/{0}/do/fit"),
		onPage("GET /balance-jobs/:id", viewer, nil, aJob),

		// Findings and bookings.
		onPage("GET /findings/:id", viewer, nil, aFinding),
		onPage("POST /findings/:id/acknowledge", manager, typed("until", "{day}", "why", "tire on order"), aFinding),
		onPage("POST /", manager, typed("id", "{new}", "vehicle", "{0}", "day", "{day}", "note", "bay 2"), aTrailer),

		// Tires and wheels.
		onPage("GET /tires/:id", viewer, nil, tire1R),
		onPage("GET /tires/new", manager, nil),
		onPage(
			"POST /tires/new",
			manager,
			filled("depot", "{0}", "size", "295/75R22.5", "new_depths", "18 mm").and(number),
			aDepot,
		),
		onPage("GET /tires/:id/edit", manager, nil, tire1R),
		onPage("POST /tires/:id/edit", manager, filled("design", "rib").and(number), aTire),
		onPage("GET /tires/:id/move", manager, nil, tire1R),
		onPage("POST /tires/:id/move", manager, filled("to", "at_retreader"), aTire),
		onPage("GET /tires/:id/bench", viewer, nil, aTire),
		onPage("POST /tires/:id/bench", technician, checkSpin, aTire),
		onPage("POST /tires/:id/bench", technician, checkSpin.and([]string{"wheel_id", "{1}"}), aTire, aWheel),
		onPage("GET /tires/:id/withdraw", viewer, nil, aTire, narrow(aRepair)).at("/tires/{0}/withdraw?supersedes={1}"),
		onPage(
			"POST /tires/:id/withdraw",
			technician,
			filled("supersedes", "{1}", "reason", "another tire"),
			aTire,
			aRepair,
		),
		onPage("GET /wheels/:id", viewer, nil, wheel1R),
		onPage("GET /wheels/new", manager, nil),
		onPage("POST /wheels/new", manager,
			filled("depot", "{0}", "diameter_in", "22.5", "width_in", "8.25", "material", "steel").and(number), aDepot),
		onPage("GET /wheels/:id/edit", manager, nil, wheel1R),
		onPage("POST /wheels/:id/edit", manager, filled("width_in", "9").and(number), aWheel),

		// Depots.
		onPage("GET /settings", viewer, nil).listing(),
		onPage("GET /settings/rules", viewer, nil),
		onPage("GET /settings/depots/new", manager, nil).ofAllDepots(),
		onPage("POST /settings/depots/new", manager,
			filled("name", "Invented Yard {number}", "time_zone", "Europe/Oslo", "jurisdiction", "US", "currency",
				"EUR")).ofAllDepots(),
		onPage("GET /settings/depots/:id", viewer, nil, aDepot),
		onPage("POST /settings/depots/:id", manager, filled("currency", "EUR"), aDepot),
		onPage("GET /settings/depots/:id/policy/:class", viewer, nil, aDepot),
		onPage("POST /settings/depots/:id/policy/:class", manager, filled("InspectDays", "20"), aDepot),

		// People.
		onPage("GET /settings/people", manager, nil).listing(),
		onPage("GET /settings/people/new", manager, nil),
		onPage("POST /settings/people/new", manager,
			filled("name", "Invented Person", "email", "{number}@fleet.example", "depots", "{0}"), aDepot),
		onPage("GET /settings/people/:id", manager, nil, aPerson),
		onPage("POST /settings/people/:id", manager,
			filled("name", "Invented Person", "email", "{number}@fleet.example", "depots", "{1}"), aPerson, aDepot),
		onPage("POST /settings/people/:id/password", manager, typed("password", personPassword), aPerson),
		onPage("GET /settings/audit", manager, nil).listing(),
		onPage("GET /settings/audit", manager, nil, narrow(aTrailer)).at("/settings/audit?entity=vehicle&id={0}"),

		// One's own settings.
		onPage("POST /settings/password", viewer,
			typed("old_password", personPassword, "password", personPassword)).askingPassword(),
		onPage("POST /settings/units", viewer, typed("depth", "mm", "pressure", "bar", "distance", "km", "mass", "g")),
		onPage("POST /settings/tokens", viewer, typed("id", "{new}", "name", "a board", "days", "30")),
		onPage("POST /settings/tokens/:id/revoke", viewer, typed(), aToken),
		onPage("POST /settings/calendar", viewer, typed("id", "{new}")),
	)
}

// testedApart are addresses without a case in the table, and why.
var testedApart = map[string]string{
	"GET /sign-in":         "a stranger's page; package auth tests it",
	"POST /sign-in":        "a stranger's page; package auth tests it",
	"POST /sign-out":       "ends the sender's own session, whoever it is",
	"GET /first":           "takes a key that the server printed; package auth tests it",
	"POST /first":          "takes a key that the server printed; package auth tests it",
	"GET /static/*":        "the same files for everybody",
	"GET /worker.js":       "the same script for everybody",
	"GET /app.webmanifest": "the same file for everybody",
	"GET /calendar.ics":    "takes a key of its own: TestCalendarOfDepots",
}
