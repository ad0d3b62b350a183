package rest_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"rimledger/api"
	"rimledger/api/calc"
	"rimledger/api/rest"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/store"
)

// noon is the clock of every test.
var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// client talks to a server of its own as somebody.
type client struct {
	t      *testing.T
	url    string
	http   *http.Client
	secret string
	fleet  *fleet.Service
	store  *store.Store
	clock  *time.Time
}

// serve starts a server over an empty store, with a manager who is known by a token.
func serve(t *testing.T) *client {
	t.Helper()
	return serveWith(t, func(s models.Store) models.Store { return s }, 0)
}

// serveWith starts a server that reaches its store through wrap and reads a
// request for at most readTimeout; 0 is without limit.
func serveWith(t *testing.T, wrap func(models.Store) models.Store, readTimeout time.Duration) *client {
	t.Helper()
	ctx := t.Context()
	st, err := store.Open(ctx, filepath.Join(t.TempDir(), "test.sqlite"), store.Options{Migrate: true, Volatile: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })

	clock := noon
	now := func() time.Time { return clock }

	f := fleet.New(wrap(st), fleet.Options{Now: now})
	handler, err := api.New(api.Deps{Fleet: f, Sessions: st.Sessions(), Ping: st.Ping, Now: now, Version: "test",
		Calculators: []calc.Calculator{
			{Name: "double", Summary: "Doubles a number", Example: map[string]int{"n": 2}, Run: double},
		}})
	if err != nil {
		t.Fatal(err)
	}

	server := httptest.NewUnstartedServer(handler)
	server.Config.ReadTimeout = readTimeout
	server.Start()
	t.Cleanup(server.Close)
	c := &client{t: t, url: server.URL, http: http.DefaultClient, fleet: f, store: st, clock: &clock}
	return c.as(models.Manager)
}

func double(in []byte) (any, error) {
	var v struct{ N int }
	if err := json.Unmarshal(in, &v); err != nil {
		return nil, err
	}
	return map[string]int{"n": 2 * v.N}, nil
}

// as returns c as a new person of a role, who sees these depots, or all.
func (c *client) as(role models.Role, depots ...string) *client {
	c.t.Helper()
	u := models.User{Name: "Invented Person", Email: uuid.NewString() + "@fleet.example", Role: role}
	for _, d := range depots {
		u.Depots = append(u.Depots, models.DepotID(d))
	}
	u, err := c.fleet.AddUser(c.t.Context(), fleet.System(models.FromCLI), u, "")
	if err != nil {
		c.t.Fatal(err)
	}
	other := *c
	other.secret, _ = c.token(u, false)
	return &other
}

func (c *client) token(u models.User, readOnly bool) (string, models.Token) {
	c.t.Helper()
	a := fleet.System(models.FromCLI)
	t, secret, err := c.fleet.AddToken(
		context.Background(),
		a,
		models.Token{UserID: u.ID, Name: "test", ReadOnly: readOnly, ExpiresAt: c.clock.AddDate(0, 0, 300)},
	)
	if err != nil {
		c.t.Fatal(err)
	}
	return secret, t
}

// answer is what came back.
type answer struct {
	t      *testing.T
	status int
	header http.Header
	raw    []byte
	body   map[string]any
}

// do sends body, which is JSON text or a value, with headers "Name: value".
func (c *client) do(method, path string, body any, headers ...string) answer {
	c.t.Helper()

	var r io.Reader
	switch b := body.(type) {
	case nil:
	case string:
		r = strings.NewReader(b)
	default:
		j, err := json.Marshal(b)
		if err != nil {
			c.t.Fatal(err)
		}
		r = bytes.NewReader(j)
	}

	req, err := http.NewRequestWithContext(c.t.Context(), method, c.url+rest.Prefix+path, r)
	if err != nil {
		c.t.Fatal(err)
	}
	if c.secret != "" {
		req.Header.Set("Authorization", "Bearer "+c.secret)
	}
	if r != nil {
		req.Header.Set("Content-Type", "application/json")
	}

	for _, h := range headers {
		name, value, _ := strings.Cut(h, ": ")
		req.Header.Set(name, value)
	}

	res, err := c.http.Do(req)
	if err != nil {
		c.t.Fatal(err)
	}
	defer res.Body.Close()
	a := answer{t: c.t, status: res.StatusCode, header: res.Header}
	if a.raw, err = io.ReadAll(res.Body); err != nil {
		c.t.Fatal(err)
	}

	c.conforms(req, res, a.raw)
	_ = json.Unmarshal(a.raw, &a.body)
	return a
}

// want ends the test unless the status is as given.
func (a answer) want(status int) answer {
	a.t.Helper()
	if a.status != status {
		a.t.Fatalf("status %d, want %d: %s", a.status, status, a.raw)
	}
	return a
}

// at returns what is at a path such as open.0.code, as text.
func (a answer) at(path string) string {
	a.t.Helper()

	var v any = a.body
	for _, name := range strings.Split(path, ".") {
		switch in := v.(type) {
		case map[string]any:
			v = in[name]
		case []any:
			var i int
			if _, err := fmt.Sscan(name, &i); err != nil || i >= len(in) {
				return ""
			}
			v = in[i]
		}
	}

	if v == nil {
		return ""
	}
	return fmt.Sprint(v)
}

type object = map[string]any

func depotBody() object {
	return object{
		"name":         "Invented Yard " + uuid.NewString()[:8],
		"time_zone":    "America/Chicago",
		"jurisdiction": "US",
		"currency":     "USD",
		"units":        object{"depth": "32nd", "pressure": "psi", "distance": "mi", "mass": "oz"},
	}
}

// truckDepot is a depot with a two-axle truck on six mounted tires.
type truckDepot struct {
	*client
	depot, vehicle string
	tires          map[string]string // by position
}

func (c *client) truckDepot() truckDepot {
	c.t.Helper()
	y := truckDepot{client: c, tires: map[string]string{}}

	y.depot = c.do("POST", "/depots", depotBody()).want(201).at("id")
	y.vehicle = c.do("POST", "/vehicles", object{"depot_id": y.depot,
		"number": "T-" + uuid.NewString()[:8], "class": "rigid_truck",
		"axles": []object{
			{"steered": true, "pressure": "105 psi"},
			{"driven": true, "dual": true, "pressure": "95 psi"},
		}}).
		want(201).
		at("id")

	var fittings []object
	for _, p := range []string{"1L", "1R", "2LO", "2LI", "2RI", "2RO"} {
		y.tires[p] = c.do("POST", "/tires", object{"depot_id": y.depot,
			"number": "N-" + uuid.NewString()[:8], "size": "295/75R22.5 144/141L",
			"new_depths": []string{"18/32", "18/32", "18/32"}}).
			want(201).
			at("id")
		fittings = append(fittings, object{"tire_id": y.tires[p], "position": p})
	}

	c.do("POST", "/fitments", object{"vehicle_id": y.vehicle, "at": noon.AddDate(0, 0, -30), "odometer": "100,000 mi",
		"existing": true, "fittings": fittings}).
		want(201)
	return y
}

// inspection is one of the yard's truck where every place is good.
func (y truckDepot) inspection() object {
	var readings []object
	for i, p := range []string{"1L", "1R", "2LO", "2LI", "2RI", "2RO"} {
		pressure := "95 psi"
		if i < 2 {
			pressure = "105 psi"
		}
		d := fmt.Sprintf("%d/32", 14-i%2)
		readings = append(readings, object{"position": p, "depths": [][]string{{d}, {d}, {d}}, "pressure": pressure})
	}

	return object{
		"id":         uuid.NewString(),
		"vehicle_id": y.vehicle,
		"at":         noon.Add(-time.Hour),
		"odometer":   "101,000 mi",
		"readings":   readings,
	}
}

func TestInspectionOpensFinding(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	i := y.inspection()

	// 3/32 in on a steer tire is below 4/32 in: 49 CFR 393.75(b).
	i["readings"].([]object)[0]["depths"] = [][]string{{"3/32"}, {"3/32"}, {"3/32"}}
	a := y.do("POST", "/inspections", i).want(201)
	if got := a.at("event.readings.0.depths.0.0"); got != "3/32" {
		t.Errorf("depth comes back as %q, not as typed", got)
	}
	if got := a.at("event.readings.0.depths_mm.0.0"); got != "2.38125" { // 3 x 25.4 / 32
		t.Errorf("depth in mm %s", got)
	}

	if got := a.at("event.odometer_km"); got != "162543.744" { // 101,000 x 1.609344
		t.Errorf("odometer in km %s", got)
	}
	if !strings.Contains(string(a.raw), `"code":"below_legal"`) {
		t.Errorf("no finding below_legal: %s", a.raw)
	}

	again := y.do("POST", "/inspections", i).want(200)
	if again.at("repeated") != "true" || again.at("event.recorded_at") != a.at("event.recorded_at") {
		t.Errorf("repeating gave another answer: %s", again.raw)
	}

	i["note"] = "another content"
	y.do("POST", "/inspections", i).want(409)

	list := y.do("GET", "/attention?depot="+y.depot, nil).want(200)
	if list.at("items.0.vehicle.id") != y.vehicle || list.at("items.0.standing.worst") == "" {
		t.Errorf("attention list: %s", list.raw)
	}

	view := y.do("GET", "/vehicles/"+y.vehicle, nil).want(200)
	if view.at("tires.0.state.last.reading.depths.0.0") != "3/32" || view.header.Get("ETag") != `"1"` {
		t.Errorf("vehicle: %s %s", view.header.Get("ETag"), view.raw)
	}

	// The groups hold each finding once, and each code with its urgency stands once.
	var grouped struct {
		Findings []struct{ ID string }
		Groups   []struct {
			Code, Urgency string
			FindingIDs    []string `json:"finding_ids"`
		}
	}
	if err := json.Unmarshal(view.raw, &grouped); err != nil {
		t.Fatal(err)
	}
	named, ids := map[string]bool{}, map[string]bool{}
	for _, g := range grouped.Groups {
		named[g.Code+g.Urgency] = true
		for _, id := range g.FindingIDs {
			ids[id] = true
		}
	}
	if len(named) != len(grouped.Groups) || len(ids) != len(grouped.Findings) || len(ids) == 0 {
		t.Errorf("%d findings in groups %+v", len(grouped.Findings), grouped.Groups)
	}

	finding := y.do("GET", "/findings?vehicle="+y.vehicle+"&code=below_legal", nil).want(200).at("items.0.id")
	ack := y.do("PUT", "/findings/"+finding+"/acknowledgement",
		object{"until": noon.AddDate(0, 0, 2), "why": "tire on order"}).
		want(200)
	if ack.at("acknowledged.why") != "tire on order" {
		t.Errorf("acknowledged: %s", ack.raw)
	}
	y.do("DELETE", "/findings/"+finding+"/acknowledgement", nil).want(200)

	y.do("GET", "/due", nil).want(200)
	if y.do("GET", "/counts", nil).want(200).at("items.0.depot_id") != y.depot {
		t.Error("no counts")
	}
}

func TestHeldThenConfirmed(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	y.do("POST", "/inspections", y.inspection()).want(201)
	*y.clock = noon.AddDate(0, 0, 7)
	i := y.inspection()
	i["at"], i["odometer"] = noon.AddDate(0, 0, 7), "102,000 mi"
	i["readings"] = []object{{"position": "1L", "depths": [][]string{{"17/32"}, {"17/32"}, {"17/32"}}}}

	held := y.do("POST", "/inspections", i).want(422)
	if held.at("kind") != "held" || held.at("errors.0.code") == "" ||
		!strings.Contains(held.at("errors.0.remedy"), "14/32") {
		t.Fatalf("not held with both numbers: %s", held.raw)
	}

	var codes []string
	for n := 0; held.at(fmt.Sprintf("errors.%d.code", n)) != ""; n++ {
		codes = append(codes, held.at(fmt.Sprintf("errors.%d.code", n)))
	}

	i["confirmed"] = codes
	y.do("POST", "/inspections", i).want(201)
}

func TestEveryKindOfEvent(t *testing.T) {
	t.Parallel()

	y := serve(t).truckDepot()
	at := func(hours int) object {
		return object{
			"id":         uuid.NewString(),
			"vehicle_id": y.vehicle,
			"at":         noon.Add(time.Duration(hours-24) * time.Hour),
			"odometer":   "unknown",
		}
	}

	with := func(o object, name string, v any, more ...any) object {
		o[name] = v
		for i := 0; i+1 < len(more); i += 2 {
			o[more[i].(string)] = more[i+1]
		}
		return o
	}

	odometer := with(at(1), "odometer", "100,500 mi")
	steps := []struct {
		path string
		body object
	}{
		{"/odometers", odometer},
		{
			"/rotations",
			with(at(2), "moves", []object{{"from": "1l", "to": "1R"}, {"from": "1R", "to": "1L"}}, "torque_nm", 600),
		},
		{
			"/balance-jobs",
			with(
				at(3),
				"position",
				"1L",
				"why",
				"fitted",
				"mode",
				"two_plane",
				"planes",
				"flanges",
				"weights_off",
				true,
				"shown",
				[]object{
					{"plane": "outer", "mass": "3.5 oz", "angle_deg": 450},
					{"plane": "inner", "mass": "0 oz", "angle_deg": 0},
				},
				"fitted",
				[]object{{"plane": "outer", "type": "clip", "mass": "3.5 oz", "angle_deg": 90, "place": "flange"}},
				"shown_after",
				[]object{
					{"plane": "outer", "mass": "0 oz", "angle_deg": 0},
					{"plane": "inner", "mass": "0 oz", "angle_deg": 0},
				},
				"geometry",
				object{"outer_radius": "285 mm", "inner_radius": "285 mm", "inner_offset": "210 mm"},
				"checks",
				[]string{"clean", "seated"},
				"media",
				object{"type": "beads (invented)", "dose": "8 oz by the chart", "in": noon.Add(-40 * time.Hour)},
			),
		},
		{"/repairs", with(at(4), "position", "2LO", "what", "nail hole plugged and patched", "demounted", true)},
		{"/alignments", with(at(5), "axles", []int{1}, "found", "toe out", "set", "toe zero")},
		{"/retorques", with(at(6), "torque_nm", 600)},
		{"/services", with(at(7), "what", "dampers", "axle", 1)},
		{
			"/vibration-reports",
			with(at(8), "starts_kmh", 85, "worst_kmh", 100, "felt_at", "steering_wheel", "braking", "same"),
		},
		{
			"/inspections",
			with(
				at(9),
				"readings",
				[]object{
					{
						"position":     "2RO",
						"observations": []object{{"code": "bulge", "size": "20 mm", "place": "sidewall_outer"}},
					},
				},
			),
		},
		{"/clearances", with(at(10), "position", "2RO", "codes", []string{"bulge"}, "note", "a ripple, not a bulge")},
		{
			"/removals",
			with(
				at(11),
				"removed",
				[]object{{"position": "2RI", "reason": "cut_snag", "to": "stock", "min_depth": "12/32"}},
			),
		},
		{
			"/tire-moves",
			object{
				"id":      uuid.NewString(),
				"at":      noon.Add(-12 * time.Hour),
				"tire_id": y.tires["2RI"],
				"to":      "scrapped",
				"scrap":   "cut_snag",
			},
		},
		{
			"/wheel-checks",
			with(
				at(14),
				"position",
				"1R",
				"on_vehicle",
				true,
				"measures",
				[]object{
					{"what": "bead_gap", "place": "outer", "value": "3/32 in", "high_at_deg": 45},
					{"what": "tire_radial", "value": "0.060 in"},
				},
			),
		},
		{"/voids", with(at(13), "supersedes", odometer["id"], "reason", "read on another truck")},
	}

	for _, s := range steps {
		a := y.do("POST", s.path, s.body)
		if a.status != 201 {
			t.Fatalf("POST %s: %d %s", s.path, a.status, a.raw)
		}

		one := y.do("GET", "/events/"+s.body["id"].(string), nil).want(200)
		for name := range s.body {
			if name == "at" {
				continue
			}
			// Every field that was sent comes back; nested ones are compared by the first name.
			if one.at(name) == "" {
				t.Errorf("%s: %s does not come back: %s", s.path, name, one.raw)
			}
		}
	}

	all := y.do("GET", "/vehicles/"+y.vehicle+"/events?limit=4", nil).want(200)

	seen := 0
	for {
		seen += len(all.body["items"].([]any))
		next := all.at("next")
		if next == "" {
			break
		}
		all = y.do("GET", "/vehicles/"+y.vehicle+"/events?limit=4&after="+next, nil).want(200)
	}

	if seen != len(
		steps,
	)-2 { // the fit and all steps, without the tire's own move, the withdrawn reading and the withdrawal
		t.Errorf("pages hold %d events", seen)
	}

	tire := y.do("GET", "/tires/"+y.tires["2RI"], nil).want(200)
	if seat := y.do("GET", "/tires/"+y.tires["1L"], nil).want(200); seat.at("state.measures.0.value") != "3/32 in" ||
		seat.at("state.measures.0.value_mm") != "2.38125" ||
		seat.at("state.measures.0.high_at_deg") != "45" {
		t.Errorf("bead seat: %s", seat.raw)
	}

	if tire.at("state.status") != "scrapped" || tire.at("fitments.0.to.at") == "" ||
		tire.at("tire.new_depths.0") != "18/32 in" {
		t.Errorf("tire: %s", tire.raw)
	}

	if y.do("GET", "/tires/"+y.tires["1L"]+"/events?kind=rotation,fit&sort=oldest", nil).
		want(200).
		at("items.1.kind") !=
		"rotation" {
		t.Error("the tire's events do not end with the rotation")
	}
}

// TestNoticesOfTheDepotsLaw: what a finding cites is in force where the depot is. No rule
// about bulges was read for the United States, GB C&U reg. 27(1)(d) names lumps. Austria
// wants winter tires on a drive axle of a truck from 1 November to 15 April (KFG § 102(8a)).
func TestNoticesOfTheDepotsLaw(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	i := y.inspection()
	i["readings"].([]object)[0]["observations"] = []object{{"code": "bulge"}}
	y.do("POST", "/inspections", i).want(201)

	finding := func(code string) answer {
		t.Helper()
		return y.do("GET", "/findings?vehicle="+y.vehicle+"&code="+code, nil).want(200)
	}
	move := func(code, etag string) {
		t.Helper()
		d := depotBody()
		d["jurisdiction"] = code
		y.do("PUT", "/depots/"+y.depot, d, etag).want(200)
	}

	if got := finding("damage").at("items.0.notice"); !strings.Contains(got, "common practice") ||
		strings.Contains(got, "27") {
		t.Errorf("a bulge in the United States: %q", got)
	}

	move("GB", `If-Match: "1"`)
	if got := finding("damage").at("items.0.notice"); !strings.Contains(got, "reg. 27(1)(d)") ||
		strings.Contains(got, "CFR") {
		t.Errorf("a bulge in Great Britain: %q", got)
	}

	for _, one := range []struct{ day, want string }{{"2026-04-15", "do now"}, {"2026-04-16", ""},
		{"2026-10-31", "plan"}, {"2026-11-01", "do now"}} {
		*y.clock, _ = time.Parse(time.DateOnly, one.day)
		*y.clock = y.clock.Add(18 * time.Hour)
		version := y.do("GET", "/depots/"+y.depot, nil).want(200).header.Get("ETag")
		move("GB", "If-Match: "+version)
		version = y.do("GET", "/depots/"+y.depot, nil).want(200).header.Get("ETag")
		move("AT", "If-Match: "+version)

		if got := finding("no_winter_mark").at("items.0.urgency"); got != one.want {
			t.Errorf("no winter mark in Austria on %s: %q, want %q", one.day, got, one.want)
		}
	}
}

// TestSidewallForms: a size is taken in the forms people read off a sidewall and kept in
// one; a number whose date is yet to come is refused at its field.
func TestSidewallForms(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	tire := func(size, tin string) answer {
		t.Helper()
		return y.do("POST", "/tires", object{"depot_id": y.depot, "number": "N-" + uuid.NewString()[:8], "size": size,
			"tin": tin, "new_depths": []string{"18/32"}})
	}

	for typed, kept := range map[string]string{
		"195R14C 106/104R": "195R14C 106/104R", "185R14C": "185R14C", "LT245/75R16E": "LT245/75R16 LRE",
		"11R22.5 G": "11R22.5 LRG", "315/80R22.5 156/150L (154/150M)": "315/80R22.5 156/150L (154/150M)",
		"7.50R16": "7.50R16", "7.50-16": "7.50-16", "8R19.5": "8R19.5", "9.5R17.5": "9.5R17.5", "12.00R24": "12.00R24",
	} {
		if got := tire(typed, "B9JA XK2 361").want(201).at("size"); got != kept {
			t.Errorf("%s is kept as %q, want %q", typed, got, kept)
		}
	}

	refused := tire("11R22.5", "B9JA XK2 2361").want(422)
	if refused.at("errors.0.field") != "tin" || !strings.Contains(string(refused.raw), "yet to come") {
		t.Errorf("a tire of 2061: %s", refused.raw)
	}
}

// TestPolicyOfADepotThatDrivesMiles: defaults are round miles, 50,000 mi is 80,467.2 km,
// and what is sent comes back as sent.
func TestPolicyOfADepotThatDrivesMiles(t *testing.T) {
	t.Parallel()
	y := serve(t).truckDepot()
	path := "/depots/" + y.depot + "/policies/rigid_truck"

	p := y.do("GET", path+"/effective", nil).want(200)
	for name, want := range map[string]string{"rebalance_km": "80467.2", "rotate_km": "120700.8",
		"retorque_km": "160.9344"} {
		if got := p.at(name); got != want {
			t.Errorf("%s is %s, want %s", name, got, want)
		}
	}

	y.do("PUT", path, object{"policy": object{"rotate_km": 48280.32}}, `If-Match: "0"`).want(200) // 30,000 mi
	if got := y.do("GET", path+"/effective", nil).want(200).at("rotate_km"); got != "48280.32" {
		t.Errorf("rotate every %s km, want 48280.32", got)
	}
	if got := y.do("GET", "/policies/rigid_truck", nil).want(200).at("rotate_km"); got != "120000" {
		t.Errorf("a policy in kilometres rotates every %s km, want 120000", got)
	}
}
