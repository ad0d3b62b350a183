package web_test

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
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

// All names in these tests are invented.

const password = "a long enough word"

// testServer is a server with one depot, one tractor and people of each role.
type testServer struct {
	t       testing.TB
	server  *httptest.Server
	fleet   *fleet.Service
	system  fleet.Actor
	store   *store.Store
	depot   models.Depot
	vehicle models.Vehicle
	tires   map[models.Position]models.Tire
	start   time.Time
}

func newID[T ~string]() T { return T(uuid.Must(uuid.NewV7()).String()) }

func must[T any](v T, err error) func(testing.TB) T {
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

func mailsTo(id models.UserID) int {
	n, _ := mailed.Load(id)
	i, _ := n.(int)
	return i
}

func serve(t testing.TB, st *store.Store, f *fleet.Service) *httptest.Server {
	t.Helper()

	h, err := api.New(api.Deps{Fleet: f, Sessions: st.Sessions(), FirstKey: "first-key", Version: "test",
		DigestPreview: func(context.Context, fleet.Actor, models.DepotID) (string, string, string, error) {
			return "Week at Alder Yard", "Nothing is off the road.", `<p style="color:red">Nothing</p>`, nil
		},
		DigestToMe: func(_ context.Context, a fleet.Actor, _ models.DepotID) error {
			if a.User.Role == models.Technician {
				return models.Errorf(models.Unavailable, "421 at mail.internal")
			}
			mailed.Store(a.User.ID, 1+mailsTo(a.User.ID))
			return nil
		}, DigestNext: jobs.NextDigest})
	if err != nil {
		t.Fatal(err)
	}

	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	return server
}

func openStore(t testing.TB) *store.Store {
	t.Helper()
	st := must(
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

func newYard(t testing.TB) *testServer {
	t.Helper()
	st := openStore(t)
	y := &testServer{t: t, store: st, system: fleet.System(models.FromDemo), start: time.Now()}
	y.fleet = fleet.New(st, fleet.Options{})

	ctx := t.Context()
	y.depot = must(
		y.fleet.CreateDepot(
			ctx,
			y.system,
			models.Depot{ID: newID[models.DepotID](), Name: "Alder Yard", TimeZone: "America/Chicago",
				Jurisdiction: "US", Units: units.US, Currency: "USD"},
		),
	)(
		t,
	)

	y.vehicle = must(
		y.fleet.CreateVehicle(
			ctx,
			y.system,
			models.Vehicle{ID: newID[models.VehicleID](), DepotID: y.depot.ID, Number: "T-101",
				Class: models.Tractor, ParkingRow: "C", MaxMassKG: 20_000, Spares: 1, Axles: []models.Axle{
					{Steered: true, Pressure: must(models.ParsePressure("105 psi", units.BareNone))(t)},
					{Driven: true, Dual: true, Pressure: must(models.ParsePressure("100 psi", units.BareNone))(t)}}},
		),
	)(
		t,
	)

	y.tires = y.mount(y.vehicle, "A")
	y.server = serve(t, st, y.fleet)
	return y
}

// mount puts a tire on every place of a vehicle but the spares, two months ago;
// their numbers are the prefix and the place.
func (y *testServer) mount(v models.Vehicle, prefix string) map[models.Position]models.Tire {
	y.t.Helper()
	out := map[models.Position]models.Tire{}
	fit := &models.Fit{Meta: models.Meta{ID: newID[models.EventID](), VehicleID: v.ID, At: y.start.AddDate(0, -2, 0),
		Odometer: must(models.ParseOdometer("200,000 mi", units.BareNone))(y.t)}, Existing: true}

	for _, p := range v.Positions() {
		if p.IsSpare() {
			continue
		}

		tire := must(
			y.fleet.CreateTire(
				y.t.Context(),
				y.system,
				models.Tire{
					ID:      newID[models.TireID](),
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
			y.t,
		)

		out[p] = tire
		fit.Fittings = append(fit.Fittings, models.Fitting{TireID: tire.ID, Position: p})
	}

	must(y.fleet.Record(y.t.Context(), y.system, fit))(y.t)
	return out
}

// person is a browser without a script.
type person struct {
	y        *testServer
	client   *http.Client
	language string // what the browser asks for; empty: nothing
}

// answer is a page as it came.
type answer struct {
	Status   int
	Location string
	Body     string
	Header   http.Header
}

func (y *testServer) stranger() *person {
	jar, _ := cookiejar.New(nil)
	return &person{
		y: y,
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

func (y *testServer) addPerson(email string) {
	y.t.Helper()
	u := people[email]
	u.ID, u.Email = newID[models.UserID](), email
	if _, err := y.fleet.AddUser(y.t.Context(), y.system, u, password); err != nil {
		y.t.Fatal(err)
	}
}

func (y *testServer) signedIn(email string) *person {
	y.t.Helper()
	y.addPerson(email)
	p := y.stranger()
	if a := p.post("/sign-in", url.Values{"email": {email}, "password": {password}}); a.Status != http.StatusSeeOther {
		y.t.Fatalf("sign in: %d", a.Status)
	}
	return p
}

func (p *person) do(r *http.Request) answer {
	p.y.t.Helper()
	if p.language != "" {
		r.Header.Set("Accept-Language", p.language)
	}
	res, err := p.client.Do(r)
	if err != nil {
		p.y.t.Fatal(err)
	}
	defer res.Body.Close()
	b := must(io.ReadAll(res.Body))(p.y.t)
	return answer{res.StatusCode, res.Header.Get("Location"), string(b), res.Header}
}

func (p *person) get(path string) answer {
	p.y.t.Helper()
	return p.do(must(http.NewRequestWithContext(p.y.t.Context(), http.MethodGet, p.y.server.URL+path, nil))(p.y.t))
}

func (p *person) post(path string, form url.Values) answer {
	p.y.t.Helper()

	r := must(
		http.NewRequestWithContext(
			p.y.t.Context(),
			http.MethodPost,
			p.y.server.URL+path,
			strings.NewReader(form.Encode()),
		),
	)(
		p.y.t,
	)

	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return p.do(r)
}

// wants fails the test unless the page has this status and holds these texts.
func (a answer) wants(t *testing.T, status int, texts ...string) {
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

func newFleet(st *store.Store) *fleet.Service { return fleet.New(st, fleet.Options{}) }
