package api_test

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"rimledger/api"
	"rimledger/api/calc"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
	"rimledger/models/store"
	"rimledger/models/units"
)

// noon is the clock of the permission tests.
var noon = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)

// personPassword is that of everybody who signs in.
const personPassword = "a long enough word"

// The word of a depot stands in every name and number that belongs to it, so that
// an answer that gives something away is found. All names are invented.
const (
	ownWord     = "Alder"
	secondWord  = "Birch"
	foreignWord = "Zinnia"
)

// gate is a server over three depots and people who see one, two or all of them.
type gate struct {
	t       *testing.T
	store   *store.Store
	fleet   *fleet.Service
	handler http.Handler
	system  fleet.Actor
	own     *place
	second  *place
	foreign *place
	boss    *caller // a manager of all depots
	callers []*caller
	serial  int
}

func newID[T ~string]() T { return modeltest.NewID[T]() }

func must[T any](v T, err error) func(testing.TB) T { return modeltest.Must(v, err) }

func newGate(t *testing.T) *gate {
	t.Helper()
	st := open(t)
	now := func() time.Time { return noon }
	g := &gate{t: t, store: st, fleet: fleet.New(st, fleet.Options{Now: now}), system: fleet.System(models.FromCLI)}

	same := func(in []byte) (any, error) { return json.RawMessage(in), nil }
	g.handler = must(api.New(api.Deps{Fleet: g.fleet, Sessions: st.Sessions(), Now: now, Version: "test",
		Calculators: []calc.Calculator{{Name: "same", Summary: "Gives back what it is given", Example: 1, Run: same}},
		DigestPreview: func(context.Context, fleet.Actor, models.DepotID) (api.Mail, error) {
			return api.Mail{Subject: "This week", Text: "Nothing is off the road.", HTML: "<p>Nothing</p>"}, nil
		},
		DigestToMe: func(context.Context, fleet.Actor, models.DepotID) error { return nil },
		DigestNext: func(models.Depot, time.Time) (time.Time, bool) { return noon, true },
	}))(t)

	g.own, g.second, g.foreign = g.place(ownWord), g.place(secondWord), g.place(foreignWord)

	g.boss = g.signedIn(models.Manager, g.own, g.second, g.foreign)
	for _, role := range models.Roles {
		g.callers = append(g.callers, g.signedIn(role, g.own), g.signedIn(role, g.own, g.second))
	}
	for _, role := range []models.Role{models.Viewer, models.Technician} {
		g.callers = append(g.callers, g.signedIn(role, g.own, g.second, g.foreign))
	}

	g.addOthers()
	return g
}

// addOthers adds who may only read, and who is not let in.
func (g *gate) addOthers() {
	g.t.Helper()
	ctx := g.t.Context()

	reader := g.caller(models.Manager, g.own)
	reader.name, reader.readOnly = "read-only token of "+reader.name, true
	reader.header = http.Header{"Authorization": {"Bearer " + g.token(reader.user, true)}}
	g.callers = append(g.callers, reader)

	// The tokens are made while their people may still sign in.
	former := g.caller(models.Manager, g.own)
	former.name, former.nobody = "disabled "+former.name, true
	former.header = http.Header{"Authorization": {"Bearer " + g.token(former.user, false)}}
	former.user.Disabled = true
	former.user = must(g.fleet.EditUser(ctx, g.system, former.user))(g.t)

	gone := g.signedIn(models.Manager, g.own)
	gone.name, gone.nobody = "session of a disabled person", true
	gone.user.Disabled = true
	gone.user = must(g.fleet.EditUser(ctx, g.system, gone.user))(g.t)
	g.callers = append(g.callers, &caller{name: "nobody", nobody: true}, former, gone)
}

// caller is who sends requests.
type caller struct {
	name     string
	role     models.Role
	user     models.User
	sees     []*place
	header   http.Header
	readOnly bool
	nobody   bool // is not let in at all
}

// hidden is what the names of things hold that c does not see.
func (g *gate) hidden(c *caller) []string {
	var out []string
	for _, p := range []*place{g.own, g.second, g.foreign} {
		if !slices.Contains(c.sees, p) {
			out = append(out, p.word)
		}
	}
	return out
}

// caller makes a person of a role who sees these depots; who sees all three is
// not limited to depots.
func (g *gate) caller(role models.Role, sees ...*place) *caller {
	g.t.Helper()
	g.serial++

	last := sees[len(sees)-1]
	u := models.User{
		ID:    newID[models.UserID](),
		Name:  last.word + " " + string(role),
		Email: fmt.Sprintf("%s%d@fleet.example", strings.ToLower(last.word), g.serial),
		Role:  role,
	}

	if len(sees) < 3 {
		for _, p := range sees {
			u.Depots = append(u.Depots, p.depot)
		}
	}
	u = must(g.fleet.AddUser(g.t.Context(), g.system, u, ""))(g.t)

	return &caller{name: fmt.Sprintf("%s of %d depots", role, len(sees)), role: role, user: u, sees: sees}
}

func (g *gate) signedIn(role models.Role, sees ...*place) *caller {
	g.t.Helper()
	c := g.caller(role, sees...)
	if err := g.fleet.SetPassword(g.t.Context(), g.system, c.user.ID, personPassword); err != nil {
		g.t.Fatal(err)
	}

	c.user = must(g.fleet.User(g.t.Context(), g.system, c.user.ID))(g.t)
	a := g.send(&caller{}, request{method: http.MethodPost, path: "/sign-in",
		contentType: "application/x-www-form-urlencoded",
		body:        url.Values{"email": {c.user.Email}, "password": {personPassword}}.Encode()})
	if a.status != http.StatusSeeOther {
		g.t.Fatalf("%s cannot sign in: %d", c.name, a.status)
	}

	c.header = http.Header{"Cookie": {a.cookie}}
	return c
}

func (g *gate) token(u models.User, readOnly bool) string {
	g.t.Helper()
	k := models.Token{UserID: u.ID, Name: "invented", ReadOnly: readOnly, ExpiresAt: noon.AddDate(0, 1, 0)}
	_, secret, err := g.fleet.AddToken(g.t.Context(), g.system, k)
	if err != nil {
		g.t.Fatal(err)
	}
	return secret
}

// place is a depot with things in it.
type place struct {
	*gate
	word   string
	depot  models.DepotID
	shared *trailer // for requests that change nothing
}

func (g *gate) place(word string) *place {
	g.t.Helper()
	d := models.Depot{ID: newID[models.DepotID](), Name: word + " Yard", TimeZone: "America/Chicago",
		Jurisdiction: "US", Units: units.US, Currency: "USD", Recipients: []string{strings.ToLower(word) + "@fleet.example"}}
	d = must(g.fleet.CreateDepot(g.t.Context(), g.system, d))(g.t)

	p := &place{gate: g, word: word, depot: d.ID}
	p.shared = p.trailer()
	p.wheel()
	p.person()
	return p
}

// number is one that no other thing has; it tells its depot.
func (p *place) number() string {
	p.serial++
	return fmt.Sprintf("%s-%04d", p.word, p.serial)
}

// plainNumber is one that no other thing has and that tells no depot.
func (p *place) plainNumber() string {
	p.serial++
	return fmt.Sprintf("N-%04d", p.serial)
}

func (p *place) vehicle() models.Vehicle {
	p.t.Helper()
	v := models.Vehicle{ID: newID[models.VehicleID](), DepotID: p.depot, Number: p.number(), Class: models.Trailer,
		ParkingRow: p.word + " row", Axles: []models.Axle{{}}}
	return must(p.fleet.CreateVehicle(p.t.Context(), p.system, v))(p.t)
}

func (p *place) tire() models.Tire {
	p.t.Helper()
	t := models.Tire{ID: newID[models.TireID](), DepotID: p.depot, Number: p.number(), Size: "295/75R22.5 144/141L",
		Design: p.word + " rib", NewDepths: slices.Repeat([]units.Length{18 * units.ThirtySecond}, 3)}
	return must(p.fleet.CreateTire(p.t.Context(), p.system, t))(p.t)
}

func (p *place) wheel() models.Wheel {
	p.t.Helper()
	w := models.Wheel{
		ID:         newID[models.WheelID](),
		DepotID:    p.depot,
		Number:     p.number(),
		DiameterIn: 22.5,
		WidthIn:    8.25,
		Material:   "steel",
	}
	return must(p.fleet.CreateWheel(p.t.Context(), p.system, w))(p.t)
}

// person is a technician of this depot alone.
func (p *place) person() models.User {
	p.t.Helper()
	u := models.User{ID: newID[models.UserID](), Name: p.word + " Person", Role: models.Technician,
		Email: strings.ToLower(p.number()) + "@fleet.example", Depots: []models.DepotID{p.depot}}
	return must(p.fleet.AddUser(p.t.Context(), p.system, u, ""))(p.t)
}

// tokenFor is a token that c may revoke: of a person here for a manager, else c's own.
func (p *place) tokenFor(c *caller) models.TokenID {
	p.t.Helper()
	owner := c.user
	if c.role == models.Manager || owner.ID == "" {
		owner = p.person()
	}
	t := models.Token{UserID: owner.ID, Name: p.word + " token", ExpiresAt: noon.AddDate(0, 1, 0)}
	t, _, err := p.fleet.AddToken(p.t.Context(), p.system, t)
	if err != nil {
		p.t.Fatal(err)
	}
	return t.ID
}

// trailer is a vehicle on two tires with damage found at 1L.
type trailer struct {
	models.Vehicle
	tires      map[models.Position]models.TireID
	wheels     map[models.Position]models.WheelID
	inspection models.EventID
	odometer   models.EventID
	finding    models.FindingID
}

func (p *place) trailer() *trailer {
	p.t.Helper()
	tr := &trailer{
		Vehicle: p.vehicle(),
		tires:   map[models.Position]models.TireID{},
		wheels:  map[models.Position]models.WheelID{},
	}

	fit := &models.Fit{Meta: p.meta(tr.Vehicle.ID, 30*24*time.Hour, "100,000 mi"), Existing: true}
	for _, at := range tr.Positions() {
		tr.tires[at], tr.wheels[at] = p.tire().ID, p.wheel().ID
		fit.Fittings = append(fit.Fittings, models.Fitting{TireID: tr.tires[at], WheelID: tr.wheels[at], Position: at})
	}

	p.record(fit)

	e := &models.Inspection{Meta: p.meta(tr.Vehicle.ID, 48*time.Hour, "101,000 mi"), Readings: []models.Reading{
		{Position: "1L", Observations: []models.Observation{{Code: models.ObsBulge, Note: p.word + " bulge"}}}}}
	depth := must(models.ParseDepth("14/32", units.BareNone))(p.t)
	e.Readings[0].Depths = [][]*models.Depth{{&depth}, {&depth}, {&depth}}
	done := p.record(e)
	tr.inspection, tr.finding = e.ID, done.Open[0].ID

	odometer := &models.OdometerEntry{Meta: p.meta(tr.Vehicle.ID, 24*time.Hour, "101,100 mi")}
	p.record(odometer)
	tr.odometer = odometer.ID

	return tr
}

// meta is what an event of a vehicle says that happened this long ago.
func (p *place) meta(v models.VehicleID, ago time.Duration, odometer string) models.Meta {
	p.t.Helper()
	m := models.Meta{
		ID:        newID[models.EventID](),
		VehicleID: v,
		At:        noon.Add(-ago),
		Person:    p.word + " Person",
		Note:      p.word + " note",
	}
	if odometer != "" {
		m.Odometer = must(models.ParseOdometer(odometer, units.BareNone))(p.t)
	}
	return m
}

func (p *place) record(e models.Event) fleet.Recorded {
	p.t.Helper()
	return must(p.fleet.Record(p.t.Context(), p.system, e))(p.t)
}

// complaint is an open report of a shake.
func (p *place) complaint(v models.VehicleID) models.EventID {
	e := &models.Vibration{Meta: p.meta(v, 3*time.Hour, ""), WorstKMH: 90}
	p.record(e)
	return e.ID
}

// job is a check spin of the assembly at 1L.
func (p *place) job(v models.VehicleID) models.EventID {
	e := &models.BalanceJob{
		Meta:      p.meta(v, 3*time.Hour, ""),
		Position:  "1L",
		Why:       "interval",
		Mode:      "two_plane",
		Planes:    "flanges",
		CheckSpin: true,
		Shown:     []models.PlaneUnbalance{{Plane: "outer"}, {Plane: "inner"}},
	}
	p.record(e)
	return e.ID
}

// looseRepair is an entry about a tire on no vehicle.
func (p *place) looseRepair(t models.TireID) models.EventID {
	e := &models.Repair{Meta: p.meta("", 3*time.Hour, ""), TireID: t, What: "plug and patch"}
	p.record(e)
	return e.ID
}

// policyVersion is that of what the depot changes for buses, 0 if nothing.
func (p *place) policyVersion() int64 {
	p.t.Helper()
	for _, d := range must(p.fleet.DepotPolicies(p.t.Context(), p.system, p.depot))(p.t) {
		if d.Class == models.Bus {
			return d.Version
		}
	}
	return 0
}

func (p *place) depotVersion() int64 {
	p.t.Helper()
	return must(p.fleet.Depot(p.t.Context(), p.system, p.depot))(p.t).Version
}

// acknowledged acknowledges a finding and returns it.
func (p *place) acknowledged(f models.FindingID) models.FindingID {
	p.t.Helper()
	must(p.fleet.Acknowledge(p.t.Context(), p.system, f, noon.AddDate(0, 0, 2), "tire on order"))(p.t)
	return f
}

func (p *place) photo(v models.VehicleID) models.PhotoID {
	p.t.Helper()
	photo := models.Photo{ID: newID[models.PhotoID](), VehicleID: v, Data: picture()}
	return must(p.fleet.AddPhoto(p.t.Context(), p.system, photo))(p.t).ID
}

func picture() []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 2, 2))); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func pictureText() string { return base64.StdEncoding.EncodeToString(picture()) }

// request is what is sent.
type request struct {
	method, path, contentType, body string
	ifMatch                         string // of an edit
	ids                             []named
}

func get(path string) request { return request{method: http.MethodGet, path: path} }

// replaced is r with another id in the place of one of its own, wherever it stands.
func (r request) replaced(old, by string) request {
	r.path, r.body = strings.ReplaceAll(r.path, old, by), strings.ReplaceAll(r.body, old, by)
	return r
}

// reply is what came back.
type reply struct {
	status int
	body   string
	cookie string
}

func (g *gate) send(c *caller, r request) reply {
	g.t.Helper()
	in := httptest.NewRequestWithContext(g.t.Context(), r.method, r.path, strings.NewReader(r.body))
	for name, values := range c.header {
		in.Header[name] = values
	}

	if r.contentType != "" {
		in.Header.Set("Content-Type", r.contentType)
	}
	if r.ifMatch != "" {
		in.Header.Set("If-Match", r.ifMatch)
	}
	if !strings.HasPrefix(r.path, "/api/") {
		in.Header.Set("Accept", "text/html")
	}

	out := httptest.NewRecorder()
	g.handler.ServeHTTP(out, in)

	a := reply{status: out.Code, body: out.Body.String()}
	for _, cookie := range out.Result().Cookies() {
		if cookie.Name == "rimledger" {
			a.cookie = cookie.Name + "=" + cookie.Value
		}
	}

	if a.cookie != "" && c.header.Get("Cookie") != "" {
		c.header = http.Header{"Cookie": {a.cookie}} // the session goes on under another number
	}
	return a
}

// records counts what is recorded, table by table.
func (g *gate) records() string {
	g.t.Helper()
	var parts []string
	for _, table := range strings.Fields("events changes receipts photos users tokens depots depot_policies " +
		"vehicles tires wheels findings fitments") {
		parts = append(parts, "'"+table+" ' || (SELECT COUNT(*) FROM "+table+")")
	}
	var counts string
	if err := g.store.DB().QueryRow("SELECT " + strings.Join(parts, " || ', ' || ")).Scan(&counts); err != nil {
		g.t.Fatal(err)
	}
	return counts
}

// formOf is what a form of a page that is sent to action holds, as a manager of all
// depots gets it.
func (p *place) formOf(page, action string) url.Values {
	p.t.Helper()
	a := p.send(p.boss, get(page))
	doc, err := html.Parse(strings.NewReader(a.body))
	if err != nil || a.status != http.StatusOK {
		p.t.Fatalf("page %s: %d, %v", page, a.status, err)
	}

	for n := range doc.Descendants() {
		if n.Type == html.ElementNode && n.Data == "form" && strings.EqualFold(attribute(n, "method"), "post") &&
			attribute(n, "action") == action {
			values := url.Values{}
			for field := range n.Descendants() {
				takeField(field, values)
			}
			return values
		}
	}

	p.t.Fatalf("page %s has no form that is sent to %s", page, action)
	return nil
}

func attribute(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// takeField puts what a browser would send of an untouched field into values.
func takeField(n *html.Node, values url.Values) {
	name := attribute(n, "name")
	if n.Type != html.ElementNode || name == "" {
		return
	}

	has := func(n *html.Node, key string) bool {
		return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == key })
	}

	switch n.Data {
	case "input":
		kind := attribute(n, "type")
		if kind != "checkbox" && kind != "radio" || has(n, "checked") {
			values.Add(name, attribute(n, "value"))
		}
	case "textarea":
		if n.FirstChild != nil {
			values.Add(name, n.FirstChild.Data)
		}
	case "select":
		for o := range n.Descendants() {
			if o.Data == "option" && has(o, "selected") {
				values.Set(name, attribute(o, "value"))
			}
		}
	}
}
