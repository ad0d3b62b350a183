package api_test

import (
	"time"

	"rimledger/api/rest"
	"rimledger/models"
)

// testedApart are operations without a case in the table, and why.
var testedApart = map[string]string{
	"GET /sign-in":         "a stranger's page; package auth tests it",
	"POST /sign-in":        "a stranger's page; package auth tests it",
	"POST /sign-out":       "ends the sender's own session, whoever it is",
	"GET /first":           "takes a key that the server printed; package auth tests it",
	"POST /first":          "takes a key that the server printed; package auth tests it",
	"GET /static/:name":    "the same files for everybody",
	"GET /worker.js":       "the same script for everybody",
	"GET /app.webmanifest": "the same file for everybody",
	"GET /calendar.ics":    "takes a key of its own: TestCalendarOfDepots",
}

// event is the body of an event of an hour ago.
func event(more object) object {
	o := object{"id": newID[string](), "at": noon.Add(-time.Hour), "odometer": "unknown"}
	for name, v := range more {
		o[name] = v
	}
	return o
}

// apiCases are the operations of the API.
func apiCases() []permitted {
	const api = rest.Prefix
	reads := func(path string, ids func(p *place, c *caller) (string, []named)) permitted {
		return permitted{op: "GET " + api + path, least: models.Viewer, make: func(p *place, c *caller) request {
			at, list := ids(p, c)
			return get(api+at, list...)
		}}
	}
	plain := func(path string) permitted {
		return reads(path, func(*place, *caller) (string, []named) { return path, nil })
	}
	lists := func(path string) permitted { p := plain(path); p.lists = true; return p }
	ofVehicle := func(path, rest string) permitted {
		return reads(path, func(p *place, _ *caller) (string, []named) {
			return "/vehicles/" + string(p.shared.ID) + rest, []named{id("vehicle", p.shared.ID)}
		})
	}
	ofTire := func(path, rest string) permitted {
		return reads(path, func(p *place, _ *caller) (string, []named) {
			return "/tires/" + string(p.shared.tires["1L"]) + rest, []named{id("tire", p.shared.tires["1L"])}
		})
	}
	ofDepot := func(path, rest string) permitted {
		return reads(path, func(p *place, _ *caller) (string, []named) {
			return "/depots/" + string(p.depot) + rest, []named{id("depot", p.depot)}
		})
	}
	byDepot := func(path string) permitted {
		return reads(path, func(p *place, _ *caller) (string, []named) {
			return path + "?depot=" + string(p.depot), []named{narrow("depot", p.depot)}
		})
	}
	byVehicle := func(path string) permitted {
		return reads(path, func(p *place, _ *caller) (string, []named) {
			return path + "?depot=" + string(p.depot) + "&vehicle=" + string(p.shared.ID), []named{narrow("depot", p.depot), narrow("vehicle", p.shared.ID)}
		})
	}
	managed := func(p permitted) permitted { p.least = models.Manager; return p }
	writes := func(op string, least models.Role, make func(p *place, c *caller) request) permitted {
		return permitted{op: op, least: least, make: make}
	}
	// onTrailer is an event of a trailer with its tires.
	onTrailer := func(path string, body func(p *place, tr *trailer) (object, []named)) permitted {
		return writes("POST "+api+path, models.Technician, func(p *place, _ *caller) request {
			tr := p.trailer()
			more, ids := body(p, tr)
			more["vehicle_id"] = tr.ID
			return post(path, event(more), append([]named{id("vehicle", tr.ID)}, ids...)...)
		})
	}
	simple := func(path string, more object) permitted {
		return onTrailer(path, func(*place, *trailer) (object, []named) {
			o := object{}
			for name, v := range more {
				o[name] = v
			}
			return o, nil
		})
	}

	depot := func(name string) object {
		return object{"name": name, "time_zone": "America/Chicago", "jurisdiction": "US", "currency": "USD",
			"units": object{"depth": "32nd", "pressure": "psi", "distance": "mi", "mass": "oz"}}
	}
	vehicle := func(p *place) object {
		return object{"depot_id": p.depot, "number": p.plainNumber(), "class": "trailer", "axles": []object{{}}}
	}
	tire := func(p *place) object {
		return object{"depot_id": p.depot, "number": p.plainNumber(), "size": "295/75R22.5 144/141L", "new_depths": []string{"18/32"}}
	}
	wheel := func(p *place) object {
		return object{"depot_id": p.depot, "number": p.plainNumber(), "diameter_in": 22.5, "width_in": 8.25, "material": "steel"}
	}
	person := func(p *place) object {
		return object{"name": "Invented Person", "email": p.plainNumber() + "@fleet.example", "role": "viewer", "depots": []models.DepotID{p.depot}}
	}
	make := func(body func(*place) object, path string) func(*place, *caller) request {
		return func(p *place, _ *caller) request {
			o := body(p)
			o["id"] = newID[string]()
			return post(path, o, id("depot", p.depot))
		}
	}

	return []permitted{
		// Events.
		simple("/alignments", object{"found": "toe out"}),
		onTrailer("/balance-jobs", func(p *place, tr *trailer) (object, []named) {
			return object{"position": "1L", "tire_id": tr.tires["1L"], "wheel_id": tr.wheels["1L"], "why": "interval", "mode": "two_plane", "planes": "flanges", "check_spin": true,
					"shown": []object{{"plane": "outer", "mass": "0 oz", "angle_deg": 0}, {"plane": "inner", "mass": "0 oz", "angle_deg": 0}}},
				[]named{id("tire", tr.tires["1L"]), id("wheel", tr.wheels["1L"])}
		}),
		writes("POST "+api+"/balance-jobs", models.Technician, func(p *place, _ *caller) request {
			t, w := p.tire().ID, p.wheel().ID
			return post("/balance-jobs", event(object{"tire_id": t, "wheel_id": w, "why": "fitted", "mode": "two_plane", "planes": "flanges", "check_spin": true,
				"shown": []object{{"plane": "outer", "mass": "0 oz", "angle_deg": 0}}}), id("tire", t), id("wheel", w))
		}),
		onTrailer("/clearances", func(p *place, tr *trailer) (object, []named) {
			return object{"position": "1L", "tire_id": tr.tires["1L"], "codes": []string{"bulge"}, "note": "a ripple"}, []named{id("tire", tr.tires["1L"])}
		}),
		writes("POST "+api+"/fitments", models.Technician, func(p *place, _ *caller) request {
			v, t, w := p.vehicle().ID, p.tire().ID, p.wheel().ID
			return post("/fitments", event(object{"vehicle_id": v, "fittings": []object{{"position": "1R", "tire_id": t, "wheel_id": w}}}),
				id("vehicle", v), id("tire", t), id("wheel", w))
		}),
		onTrailer("/inspections", func(p *place, tr *trailer) (object, []named) {
			photo := p.photo(tr.ID)
			return object{"readings": []object{{"position": "1R", "tire_id": tr.tires["1R"], "depths": [][]string{{"14/32"}}, "photos": []models.PhotoID{photo}}}},
				[]named{id("tire", tr.tires["1R"]), id("photo", photo)}
		}),
		onTrailer("/inspections", func(p *place, tr *trailer) (object, []named) { // a correction
			return object{"readings": []object{{"position": "1R", "depths": [][]string{{"14/32"}}}}, "supersedes": tr.inspection, "reason": "read wrongly", "at": noon.Add(-47 * time.Hour)},
				[]named{id("event", tr.inspection)}
		}),
		simple("/odometers", object{"odometer": "101,200 mi"}),
		onTrailer("/removals", func(p *place, tr *trailer) (object, []named) {
			return object{"removed": []object{{"position": "1R", "tire_id": tr.tires["1R"], "reason": "cut_snag", "to": "stock"}}}, []named{id("tire", tr.tires["1R"])}
		}),
		onTrailer("/repairs", func(p *place, tr *trailer) (object, []named) {
			return object{"position": "1L", "tire_id": tr.tires["1L"], "what": "plug and patch"}, []named{id("tire", tr.tires["1L"])}
		}),
		writes("POST "+api+"/repairs", models.Technician, func(p *place, _ *caller) request {
			t := p.tire().ID
			return post("/repairs", event(object{"tire_id": t, "what": "plug and patch"}), id("tire", t))
		}),
		simple("/retorques", object{"torque_nm": 600}),
		onTrailer("/rotations", func(p *place, tr *trailer) (object, []named) {
			return object{"moves": []object{{"from": "1L", "to": "1R", "tire_id": tr.tires["1L"]}, {"from": "1R", "to": "1L", "tire_id": tr.tires["1R"]}}},
				[]named{id("tire", tr.tires["1L"]), id("other tire", tr.tires["1R"])}
		}),
		simple("/services", object{"what": "dampers"}),
		onTrailer("/vibration-reports", func(p *place, tr *trailer) (object, []named) {
			report := p.complaint(tr.ID)
			return object{"settles": report}, []named{id("event", report)}
		}),
		writes("POST "+api+"/tire-moves", models.Technician, func(p *place, _ *caller) request {
			t := p.tire().ID
			return post("/tire-moves", event(object{"tire_id": t, "to": "at_retreader"}), id("tire", t))
		}),
		onTrailer("/wheel-checks", func(p *place, tr *trailer) (object, []named) {
			return object{"position": "1R", "tire_id": tr.tires["1R"], "wheel_id": tr.wheels["1R"], "measures": []object{{"what": "tire_radial", "value": "0.060 in"}}},
				[]named{id("tire", tr.tires["1R"]), id("wheel", tr.wheels["1R"])}
		}),
		onTrailer("/voids", func(p *place, tr *trailer) (object, []named) {
			return object{"supersedes": tr.odometer, "reason": "read on another truck"}, []named{id("event", tr.odometer)}
		}),
		writes("POST "+api+"/voids", models.Technician, func(p *place, _ *caller) request {
			e := p.looseRepair(p.tire().ID)
			return post("/voids", event(object{"supersedes": e, "reason": "another tire"}), id("event", e))
		}),
		reads("/events/{id}", func(p *place, _ *caller) (string, []named) {
			return "/events/" + string(p.shared.inspection), []named{id("event", p.shared.inspection)}
		}),
		writes("POST "+api+"/photos", models.Technician, func(p *place, _ *caller) request {
			v := p.vehicle().ID
			return post("/photos", object{"id": newID[string](), "vehicle_id": v, "data": pictureText()}, id("vehicle", v))
		}),
		reads("/photos/{id}", func(p *place, _ *caller) (string, []named) {
			photo := p.photo(p.shared.ID)
			return "/photos/" + string(photo), []named{id("photo", photo)}
		}),

		// Findings.
		lists("/findings"), byVehicle("/findings"), byVehicle("/due"),
		reads("/findings/{id}", func(p *place, _ *caller) (string, []named) {
			return "/findings/" + string(p.shared.finding), []named{id("finding", p.shared.finding)}
		}),
		writes("PUT "+api+"/findings/{id}/acknowledgement", models.Manager, func(p *place, _ *caller) request {
			f := p.trailer().finding
			return post("/findings/"+string(f)+"/acknowledgement", object{"until": noon.AddDate(0, 0, 2), "why": "tire on order"}, id("finding", f)).as("PUT")
		}),
		writes("DELETE "+api+"/findings/{id}/acknowledgement", models.Manager, func(p *place, _ *caller) request {
			f := p.trailer().finding
			must(p.fleet.Acknowledge(p.t.Context(), p.system, f, noon.AddDate(0, 0, 2), "tire on order"))(p.t)
			return get(api+"/findings/"+string(f)+"/acknowledgement", id("finding", f)).as("DELETE")
		}),
		writes("POST "+api+"/bookings", models.Manager, func(p *place, _ *caller) request {
			v, w := p.trailer().ID, p.trailer().ID
			return post("/bookings", object{"id": newID[string](), "vehicle_ids": []models.VehicleID{v, w}, "day": noon.AddDate(0, 0, 2).Format(time.DateOnly)}, id("vehicle", v), id("other vehicle", w))
		}),
		plain("/counts"),

		// Depots and policies.
		lists("/depots"), ofDepot("/depots/{id}", ""), ofDepot("/depots/{id}/policies", "/policies"), ofDepot("/depots/{id}/policies/{class}", "/policies/tractor"),
		ofDepot("/depots/{id}/policies/{class}/effective", "/policies/tractor/effective"), reads("/policies/{class}", func(*place, *caller) (string, []named) { return "/policies/tractor", nil }),
		{op: "POST " + api + "/depots", least: models.Manager, allDepots: true, make: func(p *place, _ *caller) request {
			return post("/depots", depot("Invented Yard "+p.plainNumber()))
		}},
		writes("PUT "+api+"/depots/{id}", models.Manager, func(p *place, _ *caller) request {
			d := must(p.fleet.Depot(p.t.Context(), p.system, p.depot))(p.t)
			return post("/depots/"+string(p.depot), depot(d.Name), id("depot", p.depot)).edit(d.Version)
		}),
		writes("PUT "+api+"/depots/{id}/policies/{class}", models.Manager, func(p *place, _ *caller) request {
			return post("/depots/"+string(p.depot)+"/policies/bus", object{"policy": object{"rotate_km": 50000}}, id("depot", p.depot)).edit(p.policyVersion(models.Bus))
		}),
		ofDepot("/depots/{id}/sheets/{kind}", "/sheets/vehicles"), ofDepot("/depots/{id}/sheets/{kind}", "/sheets/findings"),
		writes("POST "+api+"/depots/{id}/imports/{kind}", models.Manager, func(p *place, _ *caller) request {
			return request{method: "POST", path: api + "/depots/" + string(p.depot) + "/imports/vehicles", contentType: "text/csv",
				body: "number,class,axles\n" + p.plainNumber() + ",trailer,F2\n", ids: []named{id("depot", p.depot)}}
		}),
		writes("POST "+api+"/depots/{id}/imports/{kind}", models.Technician, func(p *place, _ *caller) request {
			return request{method: "POST", path: api + "/depots/" + string(p.depot) + "/imports/odometers", contentType: "text/csv",
				body: "vehicle,at,odometer\n" + p.vehicle().Number + "," + noon.Add(-time.Hour).Format(time.RFC3339) + ",\"100,000 mi\"\n", ids: []named{id("depot", p.depot)}}
		}),

		// Vehicles.
		lists("/vehicles"), byDepot("/vehicles"), lists("/attention"), byDepot("/attention"),
		ofVehicle("/vehicles/{id}", ""), ofVehicle("/vehicles/{id}/due", "/due"), ofVehicle("/vehicles/{id}/events", "/events"), ofVehicle("/vehicles/{id}/positions/{position}", "/positions/1L"),
		writes("POST "+api+"/vehicles", models.Manager, make(vehicle, "/vehicles")),
		writes("PUT "+api+"/vehicles/{id}", models.Manager, func(p *place, _ *caller) request {
			v := p.vehicle().ID
			return post("/vehicles/"+string(v), vehicle(p), id("vehicle", v), id("depot", p.depot)).edit(1)
		}),

		// Tires and wheels.
		lists("/tires"), byDepot("/tires"), byDepot("/tires-to-order"),
		ofTire("/tires/{id}", ""), ofTire("/tires/{id}/balance-jobs", "/balance-jobs"), ofTire("/tires/{id}/events", "/events"), ofTire("/tires/{id}/outlook", "/outlook"),
		writes("POST "+api+"/tires", models.Manager, make(tire, "/tires")),
		writes("PUT "+api+"/tires/{id}", models.Manager, func(p *place, _ *caller) request {
			t := p.tire().ID
			return post("/tires/"+string(t), tire(p), id("tire", t), id("depot", p.depot)).edit(1)
		}),
		reads("/wheels", func(p *place, _ *caller) (string, []named) {
			return "/wheels?depot=" + string(p.depot), []named{id("depot", p.depot)}
		}),
		reads("/wheels/{id}", func(p *place, _ *caller) (string, []named) {
			return "/wheels/" + string(p.shared.wheels["1L"]), []named{id("wheel", p.shared.wheels["1L"])}
		}),
		reads("/wheels/{id}/balance-jobs", func(p *place, _ *caller) (string, []named) {
			return "/wheels/" + string(p.shared.wheels["1L"]) + "/balance-jobs", []named{id("wheel", p.shared.wheels["1L"])}
		}),
		writes("POST "+api+"/wheels", models.Manager, make(wheel, "/wheels")),
		writes("PUT "+api+"/wheels/{id}", models.Manager, func(p *place, _ *caller) request {
			w := p.wheel().ID
			return post("/wheels/"+string(w), wheel(p), id("wheel", w), id("depot", p.depot)).edit(1)
		}),

		// People, tokens, the audit trail.
		managed(lists("/users")), plain("/me"),
		managed(reads("/users/{id}", func(p *place, _ *caller) (string, []named) {
			u := p.person().ID
			return "/users/" + string(u), []named{id("person", u)}
		})),
		writes("POST "+api+"/users", models.Manager, make(person, "/users")),
		writes("PUT "+api+"/users/{id}", models.Manager, func(p *place, _ *caller) request {
			u := p.person().ID
			return post("/users/"+string(u), person(p), id("person", u), id("depot", p.depot)).edit(1)
		}),
		{op: "PUT " + api + "/users/{id}/password", least: models.Manager, make: func(p *place, _ *caller) request {
			u := p.person().ID
			return post("/users/"+string(u)+"/password", object{"password": personPassword}, id("person", u)).as("PUT")
		}},
		plain("/tokens"),
		writes("POST "+api+"/tokens", models.Viewer, func(*place, *caller) request {
			return post("/tokens", object{"name": "a board", "expires_at": noon.AddDate(0, 1, 0)})
		}),
		writes("DELETE "+api+"/tokens/{id}", models.Viewer, func(p *place, c *caller) request {
			t := p.tokenFor(c)
			return get(api+"/tokens/"+string(t), id("token", t)).as("DELETE")
		}),
		managed(lists("/changes")),
		managed(reads("/changes", func(p *place, _ *caller) (string, []named) {
			return "/changes?entity=vehicle&id=" + string(p.shared.ID), []named{narrow("vehicle", p.shared.ID)}
		})),
		managed(reads("/changes", func(p *place, _ *caller) (string, []named) {
			u := p.person().ID
			return "/changes?by=" + string(u), []named{narrow("person", u)}
		})),

		// What is the same for everybody.
		plain("/calc"), plain("/jurisdictions"), plain("/legal-rules"),
		{op: "POST " + api + "/calc/{name}", least: models.Viewer, reads: true, make: func(*place, *caller) request { return post("/calc/same", object{"n": 1}) }},
	}
}
