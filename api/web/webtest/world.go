package webtest

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"rimledger/api"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/store"
	"rimledger/models/units"
	"rimledger/reports/jobs"
)

// User returns the id of a person.
func (y *World) User(email string) models.UserID {
	y.T.Helper()
	for _, u := range Must(y.Fleet.Users(y.T.Context(), y.System))(y.T) {
		if u.Email == email {
			return u.ID
		}
	}
	y.T.Fatalf("nobody has the address %s", email)
	return ""
}

// ManyVehicles adds so many that no page of a list holds them all, and returns the last.
func (y *World) ManyVehicles() models.Vehicle {
	var v models.Vehicle
	for i := range 60 {
		v = y.Vehicle
		v.ID, v.Number, v.Spares = NewID[models.VehicleID](), fmt.Sprintf("T-2%02d", i), 0
		Must(y.Fleet.CreateVehicle(y.T.Context(), y.System, v))(y.T)
	}
	return v
}

// Inspection is a filled form of the yard's tractor, as the page would send it.
func (y *World) Inspection(depth string) url.Values {
	f := url.Values{
		"id":       {NewID[string]()},
		"made":     {time.Now().UTC().Format(time.RFC3339Nano)},
		"stations": {"1"},
		"odometer": {"205,000"},
	}

	for p := range y.Tires {
		for _, g := range []string{"0", "1", "2"} {
			f.Set("p."+string(p)+".d"+g+".0", depth)
		}
		f.Set("p."+string(p)+".pressure", "100")
	}

	return f
}

// All names in these tests are invented.

const Password = "a long enough word"

// World is a server with one depot, one tractor and people of each role.
type World struct {
	T       testing.TB
	Server  *httptest.Server
	Fleet   *fleet.Service
	System  fleet.Actor
	Store   *store.Store
	Depot   models.Depot
	Vehicle models.Vehicle
	Tires   map[models.Position]models.Tire
	Start   time.Time
}

func NewID[T ~string]() T { return T(uuid.Must(uuid.NewV7()).String()) }

func Must[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// mailed counts the digests that a person asked for and was sent.
var mailed sync.Map // int by models.UserID

func MailsTo(id models.UserID) int {
	n, _ := mailed.Load(id)
	i, _ := n.(int)
	return i
}

func Serve(t testing.TB, st *store.Store, f *fleet.Service) *httptest.Server {
	t.Helper()

	h, err := api.New(api.Deps{Fleet: f, Sessions: st.Sessions(), FirstKey: "first-key", Version: "test",
		DigestPreview: func(context.Context, fleet.Actor, models.DepotID) (api.Mail, error) {
			return api.Mail{
				Subject: "Week at Alder Yard",
				Text:    "Nothing is off the road.",
				HTML:    `<p style="color:red">Nothing</p>`,
			}, nil
		},
		DigestToMe: func(_ context.Context, a fleet.Actor, _ models.DepotID) error {
			if a.User.Role == models.Technician {
				return models.Errorf(models.Unavailable, "421 at mail.internal")
			}
			mailed.Store(a.User.ID, 1+MailsTo(a.User.ID))
			return nil
		}, DigestNext: jobs.NextDigest})
	if err != nil {
		t.Fatal(err)
	}

	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	return server
}

func OpenStore(t testing.TB) *store.Store {
	t.Helper()
	st := Must(
		store.Open(
			t.Context(),
			filepath.Join(t.TempDir(), "fleet.sqlite"),
			store.Options{Migrate: true, Volatile: true},
		),
	)(
		t,
	)
	t.Cleanup(func() { _ = st.Close() })
	return st
}

func NewWorld(t testing.TB) *World {
	t.Helper()
	st := OpenStore(t)
	y := &World{T: t, Store: st, System: fleet.System(models.FromDemo), Start: time.Now()}
	y.Fleet = fleet.New(st, fleet.Options{})

	ctx := t.Context()
	y.Depot = Must(
		y.Fleet.CreateDepot(
			ctx,
			y.System,
			models.Depot{ID: NewID[models.DepotID](), Name: "Alder Yard", TimeZone: "America/Chicago",
				Jurisdiction: "US", Units: units.US, Currency: "USD"},
		),
	)(
		t,
	)

	y.Vehicle = Must(
		y.Fleet.CreateVehicle(
			ctx,
			y.System,
			models.Vehicle{ID: NewID[models.VehicleID](), DepotID: y.Depot.ID, Number: "T-101",
				Class: models.Tractor, ParkingRow: "C", MaxMassKG: 20_000, Spares: 1, Axles: []models.Axle{
					{Steered: true, Pressure: Must(models.ParsePressure("105 psi", units.BareNone))(t)},
					{Driven: true, Dual: true, Pressure: Must(models.ParsePressure("100 psi", units.BareNone))(t)}}},
		),
	)(
		t,
	)

	y.Tires = y.Mount(y.Vehicle, "A")
	y.Server = Serve(t, st, y.Fleet)
	return y
}

// Mount puts a tire on every place of a vehicle but the spares, two months ago;
// their numbers are the prefix and the place.
func (y *World) Mount(v models.Vehicle, prefix string) map[models.Position]models.Tire {
	y.T.Helper()
	out := map[models.Position]models.Tire{}
	fit := &models.Fit{Meta: models.Meta{ID: NewID[models.EventID](), VehicleID: v.ID, At: y.Start.AddDate(0, -2, 0),
		Odometer: Must(models.ParseOdometer("200,000 mi", units.BareNone))(y.T)}, Existing: true}

	for _, p := range v.Positions() {
		if p.IsSpare() {
			continue
		}

		tire := Must(
			y.Fleet.CreateTire(
				y.T.Context(),
				y.System,
				models.Tire{
					ID:      NewID[models.TireID](),
					DepotID: v.DepotID,
					Number:  prefix + string(p),
					Size:    "295/75R22.5 144/141L",
					NewDepths: []units.Length{
						18 * units.ThirtySecond,
						18 * units.ThirtySecond,
						18 * units.ThirtySecond,
					},
				},
			),
		)(
			y.T,
		)

		out[p] = tire
		fit.Fittings = append(fit.Fittings, models.Fitting{TireID: tire.ID, Position: p})
	}

	Must(y.Fleet.Record(y.T.Context(), y.System, fit))(y.T)
	return out
}

// Person is a browser without a script.
type Person struct {
	Y        *World
	client   *http.Client
	Language string // what the browser asks for; empty: nothing
}

// Answer is a page as it came.
type Answer struct {
	Status   int
	Location string
	Body     string
	Header   http.Header
}

func (y *World) Stranger() *Person {
	jar, _ := cookiejar.New(nil)
	return &Person{
		Y: y,
		client: &http.Client{
			Jar:           jar,
			CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		},
	}
}

// people are made when they first sign in: hashing their passwords takes time.
var people = map[string]models.User{
	"mara@fleet.example": {Name: "Mara Quill", Role: models.Manager},
	"odd@fleet.example":  {Name: "Odd Fennimore", Role: models.Technician},
	"vic@fleet.example":  {Name: "Vic Harrow", Role: models.Viewer},
}

func (y *World) AddPerson(email string) {
	y.T.Helper()
	u := people[email]
	u.ID, u.Email = NewID[models.UserID](), email
	if _, err := y.Fleet.AddUser(y.T.Context(), y.System, u, Password); err != nil {
		y.T.Fatal(err)
	}
}

func (y *World) SignedIn(email string) *Person {
	y.T.Helper()
	y.AddPerson(email)
	p := y.Stranger()
	if a := p.Post("/sign-in", url.Values{"email": {email}, "password": {Password}}); a.Status != http.StatusSeeOther {
		y.T.Fatalf("sign in: %d", a.Status)
	}
	return p
}

func (p *Person) Do(r *http.Request) Answer {
	p.Y.T.Helper()
	if p.Language != "" {
		r.Header.Set("Accept-Language", p.Language)
	}
	res, err := p.client.Do(r)
	if err != nil {
		p.Y.T.Fatal(err)
	}
	defer res.Body.Close()
	b := Must(io.ReadAll(res.Body))(p.Y.T)
	return Answer{res.StatusCode, res.Header.Get("Location"), string(b), res.Header}
}

func (p *Person) Get(path string) Answer {
	p.Y.T.Helper()
	return p.Do(Must(http.NewRequestWithContext(p.Y.T.Context(), http.MethodGet, p.Y.Server.URL+path, nil))(p.Y.T))
}

func (p *Person) Post(path string, form url.Values) Answer {
	p.Y.T.Helper()

	r := Must(
		http.NewRequestWithContext(
			p.Y.T.Context(),
			http.MethodPost,
			p.Y.Server.URL+path,
			strings.NewReader(form.Encode()),
		),
	)(
		p.Y.T,
	)

	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return p.Do(r)
}

// Wants fails the test unless the page has this status and holds these texts.
func (a Answer) Wants(t *testing.T, status int, texts ...string) {
	t.Helper()
	_, main, _ := strings.Cut(a.Body, "<main")
	if a.Status != status {
		t.Errorf("status %d, want %d:\n%.600s", a.Status, status, main)
	}
	for _, s := range texts {
		if !strings.Contains(breakable(a.Body), s) {
			t.Errorf("the page lacks %q:\n%.1500s", s, main)
		}
	}
}

func NewFleet(st *store.Store) *fleet.Service { return fleet.New(st, fleet.Options{}) }

// Edit changes a person as a manager would.
func (y *World) Edit(email string, change func(*models.User)) {
	y.T.Helper()
	list := Must(y.Fleet.Users(y.T.Context(), y.System))(y.T)
	u := list[slices.IndexFunc(list, func(u models.User) bool { return u.Email == email })]
	change(&u)
	Must(y.Fleet.EditUser(y.T.Context(), y.System, u))(y.T)
}

func (y *World) Inspections(v models.VehicleID) []models.Event {
	y.T.Helper()
	list, _, err := y.Fleet.Events(
		y.T.Context(),
		y.System,
		models.EventFilter{VehicleID: v, Kinds: []models.EventKind{models.KindInspection}},
		models.Page{Limit: 50},
	)
	if err != nil {
		y.T.Fatal(err)
	}
	return list
}
