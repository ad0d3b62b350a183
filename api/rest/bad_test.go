package rest_test

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/legal"
)

func TestBadInput(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	yard2 := y.do("POST", "/depots", depotBody()).want(201).at("id")
	stranger := y.as(models.Manager, yard2)
	viewer := y.as(models.Viewer)

	changed := func(change func(object)) object {
		i := y.inspection()
		change(i)
		return i
	}

	first := func(i object) object { return i["readings"].([]object)[0] }
	tests := []struct {
		name         string
		who          *client
		method, path string
		body         any
		headers      []string
		status       int
		field, says  string // of the first error, or in the detail if field is empty
	}{
		{
			name:   "unknown field",
			body:   changed(func(i object) { first(i)["depht"] = "7/32" }),
			status: 422,
			field:  "readings[0].depht",
			says:   "unexpected",
		},
		{
			name:   "field in another letter case",
			body:   changed(func(i object) { i["Note"] = "x" }),
			status: 422,
			field:  "Note",
			says:   "unexpected",
		},
		{
			name:   "wrong type",
			body:   changed(func(i object) { first(i)["hot"] = "yes" }),
			status: 422,
			field:  "readings[0].hot",
			says:   "boolean",
		},
		{
			name:   "number for a quantity",
			body:   changed(func(i object) { i["odometer"] = 101000 }),
			status: 422,
			field:  "odometer",
			says:   "string",
		},
		{
			name:   "quantity without unit",
			body:   changed(func(i object) { first(i)["pressure"] = "105" }),
			status: 422,
			field:  "readings[0].pressure",
			says:   "no unit",
		},
		{
			name:   "depth that is no number",
			body:   changed(func(i object) { first(i)["depths"] = [][]string{{"7/32", "NaN mm"}} }),
			status: 422,
			field:  "readings[0].depths[0][1]",
			says:   "not a number",
		},
		{
			name:   "negative depth",
			body:   changed(func(i object) { first(i)["depths"] = [][]string{{"-1/32"}} }),
			status: 422,
			field:  "readings[0].depths[0][0]",
			says:   "negative",
		},
		{
			name:   "position that is none",
			body:   changed(func(i object) { first(i)["position"] = "left front" }),
			status: 422,
			field:  "readings[0].position",
			says:   "1L",
		},
		{
			name:   "place the vehicle has not",
			body:   changed(func(i object) { first(i)["position"] = "9L" }),
			status: 422,
			field:  "readings[0].position",
		},
		{
			name: "only what is read",
			body: changed(func(i object) {
				i["readings"] = []object{{"position": "1L", "pressure": "100 psi", "depths_mm": [][]float64{{9}}}}
			}),
			status: 422,
			field:  "readings[0].depths_mm",
			says:   "write depths",
		},
		{
			name:   "a reading of nothing",
			body:   changed(func(i object) { i["readings"] = []object{{"position": "1L"}} }),
			status: 422,
			field:  "readings[0].depths",
			says:   "give depths, pressure, observations, photos or not_reached",
		},
		{
			name: "a note alone",
			body: changed(func(i object) {
				i["readings"], i["note"] = []object{}, "all fine"
			}),
			status: 422,
			field:  "readings",
			says:   "a note alone is no inspection",
		},
		{
			name:   "unknown code",
			body:   changed(func(i object) { first(i)["observations"] = []object{{"code": "sad"}} }),
			status: 422,
			field:  "readings[0].observations[0].code",
			says:   "cupping",
		},
		{
			name:   "future date",
			body:   changed(func(i object) { i["at"] = noon.AddDate(0, 0, 1) }),
			status: 422,
			field:  "at",
			says:   "future",
		},
		{
			name:   "date that is none",
			body:   changed(func(i object) { i["at"] = "yesterday" }),
			status: 422,
			field:  "at",
			says:   "RFC 3339",
		},
		{name: "no date", body: changed(func(i object) { delete(i, "at") }), status: 422, says: "errors names each"},
		{
			name:   "id that is no UUID",
			body:   changed(func(i object) { i["id"] = "42" }),
			status: 422,
			field:  "id",
			says:   "uuid",
		},
		{
			name:   "NUL in a text",
			body:   changed(func(i object) { first(i)["observations"] = []object{{"code": "dirt", "note": "a\x00b"}} }),
			status: 422,
			field:  "readings[0].observations[0].note",
			says:   "NUL",
		},
		{name: "NUL byte in the body", body: "{\"note\":\"a\x00b\"}", status: 422, field: "body", says: "NUL"},
		{
			name:   "NUL in a search",
			method: "GET",
			path:   "/vehicles?text=a%00b",
			status: 422,
			field:  "address",
			says:   "NUL",
		},
		{
			name:   "control character in a text",
			body:   changed(func(i object) { i["note"] = "a\x07b" }),
			status: 422,
			field:  "note",
			says:   "control character",
		},
		{name: "not JSON", body: `{"at":`, status: 400, field: "body"},
		{name: "no body", status: 400, says: "body is required"},
		{
			name:    "another media type",
			body:    "at=1",
			headers: []string{"Content-Type: application/x-www-form-urlencoded"},
			status:  415,
		},
		{
			name:   "body of 10 MB",
			body:   `{"note":"` + strings.Repeat("x", 10<<20) + `"}`,
			status: 413,
			says:   "1048576 bytes",
		},
		{name: "vehicle of another depot", who: stranger, body: y.inspection(), status: 404},
		{
			name:   "vehicle of another depot, read",
			who:    stranger,
			method: "GET",
			path:   "/vehicles/" + y.vehicle,
			status: 404,
		},
		{name: "unknown vehicle", method: "GET", path: "/vehicles/" + uuid.NewString(), status: 404},
		{
			name:   "path id that is no UUID",
			method: "GET",
			path:   "/vehicles/42",
			status: 422,
			field:  "path.id",
			says:   "uuid",
		},
		{name: "a viewer records", who: viewer, body: y.inspection(), status: 403, says: "viewer"},
		{
			name:   "unknown query parameter",
			method: "GET",
			path:   "/vehicles?colour=red",
			status: 422,
			field:  "query.colour",
			says:   "unknown",
		},
		{
			name:   "urgency that is none",
			method: "GET",
			path:   "/vehicles?urgency=soon",
			status: 422,
			field:  "query.urgency",
			says:   "off the road",
		},
		{
			name:   "page too long",
			method: "GET",
			path:   "/vehicles?limit=9999",
			status: 422,
			field:  "query.limit",
			says:   "500",
		},
		{name: "cursor that is none", method: "GET", path: "/vehicles?after=zzz", status: 422},
		{name: "no such address", method: "GET", path: "/nothing", status: 404, says: "docs"},
		{name: "no such method", method: "PATCH", path: "/vehicles", status: 405},
		{name: "calculator refuses", path: "/calc/double", body: `{"N":"x"}`, status: 422},
		{name: "no such calculator", path: "/calc/triple", body: `{}`, status: 404},
	}

	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			c := *y.client
			if tt.who != nil {
				c = *tt.who
			}
			c.t = t

			method, path := tt.method, tt.path
			if method == "" {
				method = "POST"
			}
			if path == "" {
				path = "/inspections"
			}

			a := c.do(method, path, tt.body, tt.headers...).want(tt.status)
			if got := a.header.Get("Content-Type"); got != "application/problem+json" {
				t.Errorf("content type %s", got)
			}
			if a.at("request") == "" || a.at("request") != a.header.Get("X-Request-Id") {
				t.Errorf("request number in body %q, in header %q", a.at("request"), a.header.Get("X-Request-Id"))
			}

			where, said := a.at("errors.0.field"), a.at("errors.0.remedy")
			if tt.field == "" {
				where, said = "", a.at("detail")
			}
			if where != tt.field || !strings.Contains(said, tt.says) {
				t.Errorf("%q: %q, want %q: ... %q ...\n%s", where, said, tt.field, tt.says, a.raw)
			}
		})
	}
}

func TestEveryBadFieldAtOnce(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	i := y.inspection()
	r := i["readings"].([]object)
	r[0]["pressure"], r[1]["pressure"], r[2]["depths"] = "105", "7.2 furlongs", [][]string{{"99/32"}}

	a := y.do("POST", "/inspections", i).want(422)
	for n, field := range []string{"readings[0].pressure", "readings[1].pressure", "readings[2].depths[0][0]"} {
		found := false
		for m := range 3 {
			found = found || a.at("errors."+string(rune('0'+m))+".field") == field
		}
		if !found {
			t.Errorf("%d: %s is not named: %s", n, field, a.raw)
		}
	}
}

func TestTokens(t *testing.T) {
	t.Parallel()

	y := serve(t).truckDepot()
	u, err := y.fleet.AddUser(
		t.Context(),
		fleet.System(models.FromCLI),
		models.User{Name: "Invented", Email: "tokens@fleet.example", Role: models.Technician},
		"",
	)
	if err != nil {
		t.Fatal(err)
	}

	c := *y.client
	c.secret = ""
	if got := c.do("GET", "/me", nil).want(401).header.Get("WWW-Authenticate"); !strings.HasPrefix(got, "Bearer") {
		t.Errorf("WWW-Authenticate %q", got)
	}

	const wrong = "rl_not_a_token_but_long_enough"
	c.secret = wrong
	if a := c.do("GET", "/me", nil).want(401); strings.Contains(string(a.raw), wrong) {
		t.Errorf("the token is repeated: %s", a.raw)
	}
	c.do("GET", "/me", nil, "Authorization: Basic eDp5").want(401)

	var readOnly models.Token

	c.secret, readOnly = c.token(u, true)
	if c.do("GET", "/me", nil).want(200).at("token.read_only") != "true" {
		t.Error("the token does not say that it is read-only")
	}
	c.do("POST", "/inspections", y.inspection()).want(403)
	y.do("DELETE", "/tokens/"+string(readOnly.ID), nil).want(204)

	if a := c.do("GET", "/me", nil).want(401); !strings.Contains(a.at("detail"), "revoked") {
		t.Errorf("revoked: %s", a.raw)
	}

	c.secret, _ = c.token(u, false)
	c.do("POST", "/tokens", object{"name": "x", "expires_at": noon.AddDate(0, 1, 0)}).
		want(403)

		// only a signed-in person makes one
	*y.clock = noon.AddDate(2, 0, 0)
	if a := c.do("GET", "/me", nil).want(401); !strings.Contains(a.at("detail"), "expired") {
		t.Errorf("expired: %s", a.raw)
	}
}

func TestPeople(t *testing.T) {
	t.Parallel()
	c := serve(t)

	body := object{
		"id":       uuid.NewString(),
		"name":     "Invented Second",
		"email":    "second@fleet.example",
		"role":     "technician",
		"password": "a long enough one",
	}

	a := c.do("POST", "/users", body).want(201)
	if strings.Contains(string(a.raw), "long enough") || strings.Contains(strings.ToLower(string(a.raw)), "password") {
		t.Errorf("the answer tells of the password: %s", a.raw)
	}
	body["password"] = strings.Repeat("secret ", 40)
	if a := c.do("POST", "/users", body).want(422); strings.Contains(string(a.raw), "secret secret") {
		t.Errorf("a refused password is repeated: %s", a.raw)
	}

	id := a.at("id")
	c.do("PUT", "/users/"+id+"/password", object{"password": "another long one"}).want(204)
	c.do("PUT", "/users/"+id+"/password", object{"password": "short"}).want(422)
	delete(body, "password")
	body["role"] = "manager"
	c.do("PUT", "/users/"+id, body, `If-Match: "2"`).want(200) // setting the password was an edit

	if c.do("GET", "/users/"+id, nil).want(200).at("role") != "manager" {
		t.Error("the role was not changed")
	}
	if n := len(c.do("GET", "/users", nil).want(200).body["items"].([]any)); n != 2 {
		t.Errorf("%d people", n)
	}

	changes := c.do("GET", "/changes?entity=user&id="+id, nil).want(200)
	if changes.at("items.0.what") != "edited" || strings.Contains(string(changes.raw), "argon2") {
		t.Errorf("audit trail: %s", changes.raw)
	}

	c.as(models.Technician).do("GET", "/users", nil).want(403)
}

func TestEdits(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	path := "/vehicles/" + y.vehicle
	v := y.do("GET", path, nil).want(200).body["vehicle"].(object)
	v["parking_row"] = "Row 7"
	if a := y.do("PUT", path, v).want(428); a.at("errors.0.field") != "If-Match" {
		t.Errorf("without If-Match: %s", a.raw)
	}

	y.do("PUT", path, v, "If-Match: soon").want(422)
	if a := y.do("PUT", path, v, `If-Match: "1"`).want(200); a.header.Get("ETag") != `"2"` ||
		a.at("parking_row") != "Row 7" {
		t.Errorf("edited: %s %s", a.header.Get("ETag"), a.raw)
	}

	v["parking_row"] = "Row 9"

	a := y.do("PUT", path, v, `If-Match: "1"`).want(412)
	if a.at("errors.0.field") != "parking_row" || !strings.Contains(a.at("errors.0.value"), "Row 9") ||
		!strings.Contains(
			a.at("errors.0.remedy"),
			"Row 7",
		) || a.at("errors.1.field") != "" || a.at("current.parking_row") != "Row 7" {
		t.Errorf("stale: %s", a.raw)
	}

	v["id"] = uuid.NewString()
	y.do("PUT", path, v, `If-Match: "2"`).want(422)

	body := object{
		"id":           uuid.NewString(),
		"depot_id":     y.depot,
		"number":       "W-1",
		"diameter_in":  22.5,
		"width_in":     8.25,
		"material":     "steel",
		"flange":       "C",
		"outer_radius": "280 mm",
	}

	y.do("POST", "/wheels", body).want(201)
	y.do("POST", "/wheels", body).want(201) // the same again
	body["width_in"] = 9.0
	y.do("POST", "/wheels", body).want(409)

	if y.do("GET", "/wheels?depot="+y.depot, nil).want(200).at("items.0.outer_radius") != "280 mm" {
		t.Error("the wheel is not in the list")
	}
	if y.do("GET", "/vehicles?text=Row", nil).want(200).at("items.0.vehicle.id") != y.vehicle {
		t.Error("not found by its row")
	}
}

func TestPolicies(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	path := "/depots/" + y.depot + "/policies/rigid_truck"
	if got := y.do("GET", path, nil).want(200).header.Get("ETag"); got != `"0"` {
		t.Errorf("ETag of no policy %s", got)
	}
	y.do("PUT", path, object{"policy": object{"rotate_km": 50000, "pull_steer": "5/32", "dual_pressure": "4 psi"}}, `If-Match: "0"`).
		want(200)

	p := y.do("GET", path+"/effective", nil).want(200)
	for name, want := range map[string]string{"rotate_km": "50000", "pull_steer": "5/32 in", "dual_pressure": "4 psi", "pull_drive": "4/32 in", "inspect_days": "30"} {
		if got := p.at(name); got != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}

	y.do("PUT", path, object{"policy": object{"rotate_km": 60000}}, `If-Match: "0"`).want(412)
	if a := y.do("PUT", path, object{"policy": object{"rotate_km": -1}}, `If-Match: "1"`).want(422); a.at(
		"errors.0.field",
	) == "" {
		t.Errorf("no field: %s", a.raw)
	}

	rules := y.do("GET", "/legal-rules?jurisdiction=US", nil).want(200)
	if rules.at("items.0.citation") == "" || rules.at("items.0.read") == "" || rules.at("items.0.explanation") == "" {
		t.Errorf("rules: %s", rules.raw)
	}

	// A rule names its statute, when it was read and how sure that is, never a page on the web.
	address := regexp.MustCompile(`(?i)https?:|www\.|\b[a-z0-9-]+\.(com|org|net|info|online|co\.[a-z]{2}|[a-z]{2})\b`)
	for _, code := range legal.Codes() {
		all := y.do("GET", "/legal-rules?jurisdiction="+code, nil).want(200)
		if found := address.FindString(string(all.raw)); found != "" {
			t.Errorf("the rules of %s name the address %q", code, found)
		}
	}
	german := y.do("GET", "/legal-rules?jurisdiction=DE", nil).want(200)
	if german.at("items.0.citation") != "StVZO § 36(3)" || german.at("items.0.status") != "F" {
		t.Errorf("the first rule of Germany: %s; want the text of StVZO § 36(3), read", german.raw)
	}

	y.do("GET", "/jurisdictions", nil).want(200)
	if y.do("GET", "/calc", nil).want(200).at("items.0.name") != "double" ||
		y.do("POST", "/calc/double", `{"n":4}`).want(200).at("n") != "8" {
		t.Error("calculator")
	}
}

// A depot that an event names must be that of its vehicle: it is not silently
// replaced.
func TestDepotOfAnEvent(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	other := y.do("POST", "/depots", depotBody()).want(201).at("id")
	entry := func(depot string) object {
		return object{"vehicle_id": y.vehicle, "at": noon.Add(-time.Hour), "odometer": "101,000 mi", "depot_id": depot}
	}

	a := y.do("POST", "/odometers", entry(other)).want(422)
	if a.at("errors.0.field") != "depot_id" || a.at("errors.0.value") != other {
		t.Errorf("another depot: %s", a.raw)
	}
	a = y.as(models.Technician, y.depot).do("POST", "/odometers", entry(other)).want(404)
	if a.at("errors.0.field") != "depot_id" {
		t.Errorf("a depot that is not seen: %s", a.raw)
	}
	y.do("POST", "/odometers", entry(y.depot)).want(201)
}
