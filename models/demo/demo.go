// Package demo creates an invented fleet with two years of history, through the
// use-cases, so that every demo record obeys every rule. All names, numbers
// and people in it are invented. It is reproducible: the same end date gives
// the same record, since every random number comes from one seeded generator in a
// fixed order.
//
// Wear and work are simulated (simulation.go), with assumptions chosen by us; they are
// no measurements of anything.
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

// Person is an invented user, with the password to sign in.
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

// months is the length of the history.
const months = 24

// Build creates the fleet in an empty store, with history up to until. It calls
// progress, unless that is nil, with each vehicle's number.
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
	if err := b.figures(ctx); err != nil {
		return fmt.Errorf("demo figures: %w", err)
	}
	return b.people(ctx)
}

// weeks is how far back the demo has figures, one a week.
const weeks = 26

// figures keeps how the depots stood each week, and yesterday.
func (b *builder) figures(ctx context.Context) error {
	times := []time.Time{b.until.AddDate(0, 0, -1)}
	for w := 1; w <= weeks; w++ {
		times = append(times, b.until.AddDate(0, 0, -7*w))
	}
	return b.fleet.KeepPastFigures(ctx, times)
}

// builder creates the demo fleet.
type builder struct {
	fleet  *fleet.Service
	system fleet.Actor
	rng    *rand.Rand
	clock  time.Time // what the use-cases take for now
	until  time.Time // end of the history
	depots map[string]models.DepotID
	tires  int // created so far
}

// id returns a reproducible id.
func (b *builder) id() string {
	var u uuid.UUID
	for i := range u {
		u[i] = byte(b.rng.UintN(256))
	}

	// Version 4 and the variant of RFC 9562.
	u[6], u[8] = u[6]&0x0f|0x40, u[8]&0x3f|0x80
	return u.String()
}

// depotPlan is a depot to create.
type depotPlan struct {
	name, zone, jurisdiction, currency string
	units                              units.Set
	mail                               string
	inspectors                         []string // invented
	vehicles                           []vehiclePlan
}

// vehiclePlan is a group of like vehicles to create.
type vehiclePlan struct {
	class  models.Class
	prefix string // of their numbers
	count  int
	axles  []models.Axle
	spares int
	mass   int // largest permitted, kg
	seats  int
	torque float64 // of the wheel nuts, Nm
	size   string
	fresh  units.Length // new depth
	kmDay  float64
}

// steer returns a steered axle with a cold target pressure.
func steer(pressure string) models.Axle { return axle(models.Axle{Steered: true}, pressure) }

// drive returns a driven axle with a cold target pressure.
func drive(pressure string, dual bool) models.Axle {
	return axle(models.Axle{Driven: true, Dual: dual}, pressure)
}

// free returns an axle that is neither steered nor driven.
func free(pressure string, dual bool) models.Axle { return axle(models.Axle{Dual: dual}, pressure) }

// axle returns a with its cold target pressure.
func axle(a models.Axle, pressure string) models.Axle {
	p, err := models.ParsePressure(pressure, units.BareNone)
	if err != nil {
		panic(err) // the constant is wrong
	}
	a.Pressure = p
	return a
}

// depots are the depots and vehicles of the demo: three countries, each class at least
// once.
var depots = []depotPlan{
	{name: "Alder Yard", zone: "America/Chicago", jurisdiction: "US", currency: "USD", units: units.US,
		mail: "alder@larkfield.example", inspectors: []string{"Odd Fennimore", "Prue Castellan"},
		vehicles: []vehiclePlan{
			{class: models.Tractor, prefix: "T", count: 9,
				axles: []models.Axle{steer("110psi"), drive("100psi", true), drive("100psi", true)},
				mass:  23600, torque: 610, kmDay: 420,
				size: "295/75R22.5 144/141L", fresh: 20 * units.ThirtySecond},
			{class: models.Trailer, prefix: "X", count: 7,
				axles:  []models.Axle{free("100psi", true), free("100psi", true)},
				spares: 1, mass: 30800, torque: 610, kmDay: 260,
				size: "295/75R22.5 144/141L", fresh: 12 * units.ThirtySecond},
			{class: models.LightTruck, prefix: "L", count: 6,
				axles:  []models.Axle{steer("60psi"), drive("70psi", false)},
				spares: 1, seats: 2, mass: 5200, torque: 190, kmDay: 110,
				size: "LT245/75R17 121/118S", fresh: 14 * units.ThirtySecond},
		}},
	{name: "Brennhof", zone: "Europe/Berlin", jurisdiction: "DE", currency: "EUR", units: units.Metric,
		mail: "brennhof@larkfield.example", inspectors: []string{"Tilda Brandt", "Jorn Ackerl"},
		vehicles: []vehiclePlan{
			{class: models.RigidTruck, prefix: "R", count: 8,
				axles: []models.Axle{steer("850kPa"), drive("800kPa", true)},
				seats: 2, mass: 18000, torque: 600, kmDay: 210,
				size: "315/80R22.5 156/150L", fresh: units.LengthFromMillimetres(15)},
			{class: models.Bus, prefix: "B", count: 6,
				axles: []models.Axle{steer("850kPa"), drive("800kPa", true)},
				seats: 45, mass: 19500, torque: 600, kmDay: 230,
				size: "295/80R22.5 152/148M", fresh: units.LengthFromMillimetres(15)},
			{class: models.Car, prefix: "C", count: 6,
				axles: []models.Axle{steer("250kPa"), drive("250kPa", false)},
				seats: 4, mass: 2100, torque: 120, kmDay: 60,
				size: "205/55R16 91V", fresh: units.LengthFromMillimetres(8)},
		}},
	{name: "Cask Lane", zone: "Europe/London", jurisdiction: "GB", currency: "GBP",
		units: units.Set{Depth: units.MM, Pressure: units.Psi, Distance: units.Mi, Mass: units.G},
		mail:  "cask@larkfield.example", inspectors: []string{"Neve Osgood", "Bram Tolliver"},
		vehicles: []vehiclePlan{
			{class: models.RigidTruck, prefix: "K", count: 7,
				axles: []models.Axle{steer("120psi"), drive("110psi", true)},
				seats: 2, mass: 18000, torque: 600, kmDay: 190,
				size: "295/80R22.5 152/148M", fresh: units.LengthFromMillimetres(16)},
			{class: models.LightTruck, prefix: "V", count: 8,
				axles:  []models.Axle{steer("55psi"), drive("60psi", false)},
				spares: 1, seats: 2, mass: 3500, torque: 180, kmDay: 120,
				size: "205/75R16C 110/108R", fresh: units.LengthFromMillimetres(9)},
			{class: models.Trailer, prefix: "Y", count: 5,
				axles: []models.Axle{free("125psi", false), free("125psi", false), free("125psi", false)},
				mass:  36000, torque: 600, kmDay: 230,
				size: "385/65R22.5 160K", fresh: units.LengthFromMillimetres(14)},
		}},
}

// box returns the weights that a shop has, in its unit.
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

// depot creates a depot with its policies and vehicles.
func (b *builder) depot(ctx context.Context, d depotPlan, progress func(string)) error {
	id := models.DepotID(b.id())
	if b.depots == nil {
		b.depots = map[string]models.DepotID{}
	}
	b.depots[d.name] = id

	b.clock = b.until.AddDate(0, -months, -1)
	_, err := b.fleet.CreateDepot(ctx, b.system, models.Depot{
		ID:           id,
		Name:         d.name,
		TimeZone:     d.zone,
		Jurisdiction: d.jurisdiction,
		Units:        d.units,
		Currency:     d.currency,
		DigestCron:   "0 6 * * 1",
		Recipients:   []string{d.mail},
		Box:          box(d.units.Mass),
	})
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

// policy sets pull points of whole millimetres for depots that measure in millimetres
// (chosen by us).
func (b *builder) policy(ctx context.Context, id models.DepotID, d depotPlan, c models.Class) error {
	if d.units.Depth != units.MM {
		return nil
	}

	steered, others := 3*units.Millimetre, 3*units.Millimetre
	if c.Heavy() {
		steered, others = 5*units.Millimetre, 4*units.Millimetre
	}

	_, err := b.fleet.SetDepotPolicy(ctx, b.system, models.DepotPolicy{
		DepotID: id,
		Class:   c,
		Patch:   models.PolicyPatch{PullSteer: &steered, PullDrive: &others, PullFree: &others},
	})
	return err
}

// people creates the users.
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
