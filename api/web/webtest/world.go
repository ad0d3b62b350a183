package webtest

import (
	"context"
	"fmt"
	"net/http/httptest"
	"net/url"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"

	"rimledger/api"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
	"rimledger/models/store"
	"rimledger/models/units"
	"rimledger/reports/jobs"
)

// All names in these tests are invented.

// Password is that of every person of a World.
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
	Start   time.Time // when the World was made
}

// EmptyWorld is a server without a depot, a vehicle or a person.
func EmptyWorld(t testing.TB) *World {
	t.Helper()
	y := &World{T: t, Store: emptyRecord.open(t), System: fleet.System(models.FromDemo), Start: Now()}
	y.Fleet = fleet.New(y.Store, fleet.Options{Now: Now})
	y.Server = serve(t, y.Store, y.Fleet)
	return y
}

// NewWorld is a server with a depot in Chicago and a tractor on six tires, two months old.
func NewWorld(t testing.TB) *World {
	t.Helper()
	y := EmptyWorld(t)
	ctx := t.Context()

	depot := models.Depot{
		ID:           modeltest.NewID[models.DepotID](),
		Name:         "Alder Yard",
		TimeZone:     "America/Chicago",
		Jurisdiction: "US",
		Units:        units.US,
		Currency:     "USD",
	}
	y.Depot = modeltest.Must(y.Fleet.CreateDepot(ctx, y.System, depot))(t)

	pressure := func(s string) models.Pressure {
		return modeltest.Must(models.ParsePressure(s, units.BareNone))(t)
	}
	tractor := models.Vehicle{
		ID:         modeltest.NewID[models.VehicleID](),
		DepotID:    y.Depot.ID,
		Number:     "T-101",
		Class:      models.Tractor,
		ParkingRow: "C",
		MaxMassKG:  20_000,
		Spares:     1,
		Axles: []models.Axle{
			{Steered: true, Pressure: pressure("105 psi")},
			{Driven: true, Dual: true, Pressure: pressure("100 psi")},
		},
	}
	y.Vehicle = modeltest.Must(y.Fleet.CreateVehicle(ctx, y.System, tractor))(t)

	y.Tires = y.Mount(y.Vehicle, "A")
	return y
}

// serve serves a fleet by the clock of the tests.
func serve(t testing.TB, st *store.Store, f *fleet.Service) *httptest.Server {
	t.Helper()

	h, err := api.New(api.Deps{
		Fleet:    f,
		Sessions: st.Sessions(),
		FirstKey: "first-key",
		Version:  "test",
		Now:      Now,
		DigestPreview: func(context.Context, fleet.Actor, models.DepotID) (api.Mail, error) {
			return api.Mail{
				Subject: "Week at Alder Yard",
				Text:    "Nothing is off the road.",
				HTML:    `<p style="color:red">Nothing</p>`,
			}, nil
		},
		DigestToMe: mailToMe,
		DigestNext: jobs.NextDigest,
	})
	if err != nil {
		t.Fatal(err)
	}

	server := httptest.NewServer(onClock(h))
	t.Cleanup(server.Close)
	return server
}

// mailed counts the digests that a person asked for and was sent.
var mailed sync.Map // int by models.UserID

// mailToMe counts a digest as sent; technicians get an error of the mail server instead.
func mailToMe(_ context.Context, a fleet.Actor, _ models.DepotID) error {
	if a.User.Role == models.Technician {
		return models.Errorf(models.Unavailable, "421 at mail.internal")
	}
	mailed.Store(a.User.ID, 1+MailsTo(a.User.ID))
	return nil
}

// MailsTo returns how many digests a person asked for and was sent.
func MailsTo(id models.UserID) int {
	n, _ := mailed.Load(id)
	i, _ := n.(int)
	return i
}

// Mount puts a tire on every place of a vehicle but the spares, two months ago;
// their numbers are the prefix and the place.
func (y *World) Mount(v models.Vehicle, prefix string) map[models.Position]models.Tire {
	y.T.Helper()
	odometer := modeltest.Must(models.ParseOdometer("200,000 mi", units.BareNone))(y.T)
	fit := &models.Fit{
		Meta: models.Meta{
			ID:        modeltest.NewID[models.EventID](),
			VehicleID: v.ID,
			At:        y.Start.AddDate(0, -2, 0),
			Odometer:  odometer,
		},
		Existing: true,
	}

	out := map[models.Position]models.Tire{}
	deep := 18 * units.ThirtySecond
	for _, p := range v.Positions() {
		if p.IsSpare() {
			continue
		}

		tire := modeltest.Must(y.Fleet.CreateTire(y.T.Context(), y.System, models.Tire{
			ID:        modeltest.NewID[models.TireID](),
			DepotID:   v.DepotID,
			Number:    prefix + string(p),
			Size:      "295/75R22.5 144/141L",
			NewDepths: []units.Length{deep, deep, deep},
		}))(y.T)

		out[p] = tire
		fit.Fittings = append(fit.Fittings, models.Fitting{TireID: tire.ID, Position: p})
	}

	modeltest.Must(y.Fleet.Record(y.T.Context(), y.System, fit))(y.T)
	return out
}

// ManyVehicles adds more than one page of a list shows, and returns the last.
func (y *World) ManyVehicles() models.Vehicle {
	var v models.Vehicle
	for i := range 60 {
		v = y.Vehicle
		v.ID, v.Number, v.Spares = modeltest.NewID[models.VehicleID](), fmt.Sprintf("T-2%02d", i), 0
		modeltest.Must(y.Fleet.CreateVehicle(y.T.Context(), y.System, v))(y.T)
	}
	return v
}

// Inspection is a filled form of the tractor, as the page would send it: this depth
// in every groove, in the units of its depot.
func (y *World) Inspection(depth string) url.Values {
	f := url.Values{
		"id":       {modeltest.NewID[string]()},
		"made":     {Now().Format(time.RFC3339Nano)},
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

// Inspections returns the recorded inspections of a vehicle.
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

// people are added by a test that needs them.
var people = map[string]models.User{
	"mara@fleet.example": {Name: "Mara Quill", Role: models.Manager},
	"odd@fleet.example":  {Name: "Odd Fennimore", Role: models.Technician},
	"vic@fleet.example":  {Name: "Vic Harrow", Role: models.Viewer},
}

// cheapHash is a hash of Password that takes little time to check.
var cheapHash = sync.OnceValues(func() (string, error) {
	cheap := &argon2id.Params{Memory: 64, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}
	return argon2id.CreateHash(Password, cheap)
})

// AddPerson adds one of the three people by their address.
func (y *World) AddPerson(email string) {
	y.T.Helper()
	u := people[email]
	u.ID, u.Email = modeltest.NewID[models.UserID](), email
	u = modeltest.Must(y.Fleet.AddUser(y.T.Context(), y.System, u, ""))(y.T)

	u.PasswordHash = modeltest.Must(cheapHash())(y.T)
	put := func(tx models.Tx) error { return tx.PutUser(y.T.Context(), u) }
	if err := y.Store.Write(y.T.Context(), put); err != nil {
		y.T.Fatal(err)
	}
}

// Edit changes a person as a manager would.
func (y *World) Edit(email string, change func(*models.User)) {
	y.T.Helper()
	u := y.person(email)
	change(&u)
	modeltest.Must(y.Fleet.EditUser(y.T.Context(), y.System, u))(y.T)
}

// User returns the id of a person.
func (y *World) User(email string) models.UserID {
	y.T.Helper()
	return y.person(email).ID
}

func (y *World) person(email string) models.User {
	y.T.Helper()
	list := modeltest.Must(y.Fleet.Users(y.T.Context(), y.System))(y.T)
	i := slices.IndexFunc(list, func(u models.User) bool { return u.Email == email })
	if i < 0 {
		y.T.Fatalf("nobody has the address %s", email)
	}
	return list[i]
}
