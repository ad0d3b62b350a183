// Package demo makes an invented fleet with two years of history, through the
// use-cases, so that every demo record obeys every rule. All names, numbers
// and people in it are made up; it is reproducible: the same end date gives
// the same record.
//
// The wear that it plays is a simulation with its assumptions in wear.go; it is
// no measurement of anything.
package demo

import (
	"context"
	"fmt"
	"math/rand/v2"
	"time"

	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// Operator is the invented operator.
const Operator = "Larkfield Haulage (invented)"

// Person is somebody the demo made up, with the password to sign in.
type Person struct {
	Name, Email, Password string
	Role                  models.Role
	Depot                 string // empty: all
}

// People are the invented people of the demo.
var People = []Person{
	{"Mara Quill", "mara@larkfield.example", "manager-demo", models.Manager, ""},
	{"Odd Fennimore", "odd@larkfield.example", "yard-demo-pass", models.Technician, "Alder Yard"},
	{"Tilda Brandt", "tilda@larkfield.example", "shop-demo-pass", models.Technician, "Brennhof"},
	{"Vic Harrow", "vic@larkfield.example", "viewer-demo", models.Viewer, "Cask Lane"},
}

// months is how far back the history begins.
const months = 24

// Build makes the fleet in an empty store, with history up to until. The
// progress function, which may be nil, is told each vehicle's number.
func Build(ctx context.Context, store models.Store, until time.Time, progress func(number string)) error {
	b := &builder{rng: rand.New(rand.NewPCG(20260704, 11)), until: until.UTC().Truncate(time.Minute)}
	b.clock = b.until.AddDate(0, -months, 0)
	b.fleet = fleet.New(store, fleet.Options{Now: func() time.Time { return b.clock }, NewID: b.id})
	b.system = fleet.System(models.FromDemo)
	for _, d := range depots {
		if err := b.depot(ctx, d, progress); err != nil {
			return fmt.Errorf("demo depot %s: %w", d.name, err)
		}
	}
	b.clock = b.until
	return b.people(ctx)
}

type builder struct {
	fleet  *fleet.Service
	system fleet.Actor
	rng    *rand.Rand
	clock  time.Time
	until  time.Time
	depots map[string]models.DepotID
	tires  int
}

// id makes reproducible ids.
func (b *builder) id() string {
	var u uuid.UUID
	for i := range u {
		u[i] = byte(b.rng.UintN(256))
	}
	u[6], u[8] = u[6]&0x0f|0x40, u[8]&0x3f|0x80
	return u.String()
}

type depotPlan struct {
	name, zone, jurisdiction, currency string
	units                              units.Set
	mail                               string
	yards                              []string // persons who inspect, invented
	vehicles                           []vehiclePlan
}

type vehiclePlan struct {
	class  models.Class
	prefix string
	count  int
	axles  []models.Axle
	spares int
	mass   int
	seats  int
	torque float64
	size   string
	fresh  units.Length // new depth of the thinnest groove
	kmDay  float64
}

func steer(p string) models.Axle { return axle(models.Axle{Steered: true}, p) }
func drive(p string, dual bool) models.Axle {
	return axle(models.Axle{Driven: true, Dual: dual}, p)
}
func free(p string, dual bool) models.Axle { return axle(models.Axle{Dual: dual}, p) }

func axle(a models.Axle, pressure string) models.Axle {
	p, err := models.ParsePressure(pressure, units.BareNone)
	if err != nil {
		panic(err) // a constant of this file
	}
	a.Pressure = p
	return a
}

var depots = []depotPlan{
	{name: "Alder Yard", zone: "America/Chicago", jurisdiction: "US", currency: "USD", units: units.US,
		mail: "alder@larkfield.example", yards: []string{"Odd Fennimore", "Prue Castellan"},
		vehicles: []vehiclePlan{
			{
				models.Tractor,
				"T",
				9,
				[]models.Axle{steer("110psi"), drive("100psi", true), drive("100psi", true)},
				0,
				23600,
				0,
				610,
				"295/75R22.5 144/141L",
				20 * units.ThirtySecond,
				420,
			},
			{
				models.Trailer,
				"X",
				7,
				[]models.Axle{free("100psi", true), free("100psi", true)},
				1,
				30800,
				0,
				610,
				"295/75R22.5 144/141L",
				12 * units.ThirtySecond,
				260,
			},
			{
				models.LightTruck,
				"L",
				6,
				[]models.Axle{steer("60psi"), drive("70psi", false)},
				1,
				5200,
				2,
				190,
				"LT245/75R17 121/118S",
				14 * units.ThirtySecond,
				110,
			},
		}},
	{name: "Brennhof", zone: "Europe/Berlin", jurisdiction: "DE", currency: "EUR", units: units.Metric,
		mail: "brennhof@larkfield.example", yards: []string{"Tilda Brandt", "Jorn Ackerl"},
		vehicles: []vehiclePlan{
			{
				models.RigidTruck,
				"R",
				8,
				[]models.Axle{steer("850kPa"), drive("800kPa", true)},
				0,
				18000,
				2,
				600,
				"315/80R22.5 156/150L",
				units.LengthFromMillimetres(15),
				210,
			},
			{
				models.Bus,
				"B",
				6,
				[]models.Axle{steer("850kPa"), drive("800kPa", true)},
				0,
				19500,
				45,
				600,
				"295/80R22.5 152/148M",
				units.LengthFromMillimetres(15),
				230,
			},
			{
				models.Car,
				"C",
				6,
				[]models.Axle{steer("250kPa"), drive("250kPa", false)},
				0,
				2100,
				4,
				120,
				"205/55R16 91V",
				units.LengthFromMillimetres(8),
				60,
			},
		}},
	{name: "Cask Lane", zone: "Europe/London", jurisdiction: "GB", currency: "GBP",
		units: units.Set{Depth: units.MM, Pressure: units.Psi, Distance: units.Mi, Mass: units.G},
		mail:  "cask@larkfield.example", yards: []string{"Neve Osgood", "Bram Tolliver"},
		vehicles: []vehiclePlan{
			{
				models.RigidTruck,
				"K",
				7,
				[]models.Axle{steer("120psi"), drive("110psi", true)},
				0,
				18000,
				2,
				600,
				"295/80R22.5 152/148M",
				units.LengthFromMillimetres(16),
				190,
			},
			{
				models.LightTruck,
				"V",
				8,
				[]models.Axle{steer("55psi"), drive("60psi", false)},
				1,
				3500,
				2,
				180,
				"205/75R16C 110/108R",
				units.LengthFromMillimetres(9),
				120,
			},
			{
				models.Trailer,
				"Y",
				5,
				[]models.Axle{free("125psi", false), free("125psi", false), free("125psi", false)},
				0,
				36000,
				0,
				600,
				"385/65R22.5 160K",
				units.LengthFromMillimetres(14),
				230,
			},
		}},
}

// box is an invented shop's weights, in its unit.
func box(u units.Unit) models.Box {
	sizes := func(list ...float64) (out []models.Mass) {
		for _, v := range list {
			m := units.Mass(v)
			if u == units.Oz {
				m *= units.Ounce
			}
			out = append(out, models.Mass{Value: m, Text: fmt.Sprintf("%g %s", v, u)})
		}
		return out
	}

	if u == units.Oz {
		return models.Box{
			LightClips:    sizes(0.25, 0.5, 0.75, 1, 1.25, 1.5, 1.75, 2, 2.5, 3),
			LightSegments: sizes(0.25, 0.5),
			HeavyClips:    sizes(1, 2, 3, 4, 5, 6, 8, 10, 12),
			HeavySegments: sizes(1),
		}
	}

	return models.Box{
		LightClips:    sizes(5, 10, 15, 20, 25, 30, 35, 40, 45, 50),
		LightSegments: sizes(5, 10),
		HeavyClips:    sizes(25, 50, 75, 100, 150, 200, 250, 300),
		HeavySegments: sizes(25),
	}
}

func (b *builder) depot(ctx context.Context, d depotPlan, progress func(string)) error {
	id := models.DepotID(b.id())
	if b.depots == nil {
		b.depots = map[string]models.DepotID{}
	}
	b.depots[d.name] = id

	b.clock = b.until.AddDate(0, -months, -1)
	_, err := b.fleet.CreateDepot(
		ctx,
		b.system,
		models.Depot{ID: id, Name: d.name, TimeZone: d.zone, Jurisdiction: d.jurisdiction,
			Units: d.units, Currency: d.currency, DigestCron: "0 6 * * 1", Recipients: []string{d.mail}, Box: box(d.units.Mass)},
	)
	if err != nil {
		return err
	}

	for _, plan := range d.vehicles {
		if err := b.policy(ctx, id, d, plan.class); err != nil {
			return err
		}

		for n := range plan.count {
			v := models.Vehicle{
				ID:          models.VehicleID(b.id()),
				DepotID:     id,
				Number:      fmt.Sprintf("%s-%02d", plan.prefix, n+1),
				Class:       plan.class,
				Description: "invented",
				ParkingRow:  string(rune('A' + n%4)),
				Axles:       plan.axles,
				Spares:      plan.spares,
				MaxMassKG:   plan.mass,
				Seats:       plan.seats,
				TorqueNM:    plan.torque,
				NoOdometer:  plan.class == models.Trailer && n%2 == 1,
			}

			if progress != nil {
				progress(v.Number)
			}
			if err := b.vehicle(ctx, d, plan, v, n); err != nil {
				return fmt.Errorf("vehicle %s: %w", v.Number, err)
			}
		}
	}

	return nil
}

// policy gives depots that measure in millimetres pull points in millimetres.
func (b *builder) policy(ctx context.Context, id models.DepotID, d depotPlan, c models.Class) error {
	if d.units.Depth != units.MM {
		return nil
	}
	steered, others := 3*units.Millimetre, 3*units.Millimetre
	if c.Heavy() {
		steered, others = 5*units.Millimetre, 4*units.Millimetre
	}
	_, err := b.fleet.SetDepotPolicy(ctx, b.system, models.DepotPolicy{DepotID: id, Class: c,
		Patch: models.PolicyPatch{PullSteer: &steered, PullDrive: &others, PullFree: &others}})
	return err
}

func (b *builder) people(ctx context.Context) error {
	for _, p := range People {
		u := models.User{ID: models.UserID(b.id()), Name: p.Name, Email: p.Email, Role: p.Role}
		if p.Depot != "" {
			u.Depots = []models.DepotID{b.depots[p.Depot]}
		}
		if _, err := b.fleet.AddUser(ctx, b.system, u, p.Password); err != nil {
			return fmt.Errorf("person %s: %w", p.Name, err)
		}
	}
	return nil
}
