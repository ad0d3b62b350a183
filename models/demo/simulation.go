package demo

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/tiresize"
	"rimledger/models/units"
)

// simulation is the true state of one vehicle, which the record knows only from readings.
type simulation struct {
	vehicle  models.Vehicle
	plan     vehiclePlan
	depot    depotPlan
	story    story
	tires    map[models.Position]*tireTruth
	wheels   map[models.WheelID]bool // created in the record
	km       float64                 // true odometer
	kmDay    float64
	severity float64   // factor on the wear rate by its duty: 1 is usual
	at       time.Time // of the next event
	rotated  time.Time // of the last rotation
}

// tireTruth is the true state of one tire.
type tireTruth struct {
	id    models.TireID
	fresh []float64 // mm new, per groove
	depth []float64 // mm now, per groove
	rate  []float64 // mm per 1000 km, per groove
	cups  float64   // mm of cupping, peak to peak, on the outer groove
	leak  float64   // share of the pressure lost per month, in the last five months
}

// story is the condition that a vehicle demonstrates.
type story int

const (
	healthy story = iota
	neverMeasured
	longNotMeasured
	wornSteer   // a steer tire at its limit
	bulge       // damage that takes it off the road
	cupped      // imbalance: cups, a vibration report, a lost weight
	toeWear     // one shoulder: alignment
	duals       // pressures apart in a dual pair
	lowPressure // a slow leak, at last below the limit of run flat
	notBalanced // new tires never balanced
	noRetorque  // wheels were off, torque not checked
	pullSoon    // reaches its pull point within weeks
)

// stories is the share of each: a vehicle takes one by its number, and most are healthy.
var stories = []story{
	healthy, cupped, healthy, longNotMeasured, healthy, wornSteer, healthy, toeWear, healthy, duals, healthy, healthy,
	lowPressure, healthy, notBalanced, healthy, noRetorque, healthy, pullSoon, healthy, bulge, healthy, neverMeasured,
}

// vehicle creates v with tires and simulates its two years. n is its place among the like
// vehicles of its depot.
func (b *builder) vehicle(ctx context.Context, d depotPlan, plan vehiclePlan, v models.Vehicle, n int) error {
	start := b.until.AddDate(0, -months, n%9)
	b.clock = start
	if _, err := b.fleet.CreateVehicle(ctx, b.system, v); err != nil {
		return err
	}

	// The draws stay in this order: another one gives another fleet.
	p := &simulation{
		vehicle:  v,
		plan:     plan,
		depot:    d,
		wheels:   map[models.WheelID]bool{},
		rotated:  start,
		story:    stories[(n*7+3*int(plan.prefix[0]))%len(stories)],
		tires:    map[models.Position]*tireTruth{},
		severity: math.Exp(0.25 * b.rng.NormFloat64()),
		km:       20_000 + 180_000*b.rng.Float64(),
		kmDay:    plan.kmDay * (0.8 + 0.4*b.rng.Float64()),
		at:       start,
	}
	if p.story == duals && !slices.ContainsFunc(v.Axles, func(a models.Axle) bool { return a.Dual }) {
		p.story = healthy
	}

	if err := b.fit(ctx, p, v.Positions(), start); err != nil {
		return err
	}
	if p.story == neverMeasured {
		return nil
	}

	every := 30 // days between inspections
	if !v.Class.Heavy() {
		every = 85
	}

	end := b.until.Add(-time.Duration(2+n%5) * 24 * time.Hour)
	if p.story == longNotMeasured {
		end = end.AddDate(0, 0, -every*3)
	}

	for next := start.AddDate(0, 0, every); !next.After(end); next = next.AddDate(0, 0, every) {
		// In the first year the depot measured half as often.
		if b.until.Sub(next) > 400*24*time.Hour {
			next = next.AddDate(0, 0, every)
		}

		last := next.AddDate(0, 0, every).After(end)
		b.drive(p, next)
		if err := b.visit(ctx, p, last); err != nil {
			return err
		}
	}

	return nil
}

// newTire creates a tire in stock for a position, and returns its true state.
func (b *builder) newTire(ctx context.Context, p *simulation, pos models.Position) (*tireTruth, error) {
	b.tires++
	mm := p.plan.fresh.Millimetres()
	t := &tireTruth{id: models.TireID(b.id())}
	asset := models.Tire{
		ID:         t.id,
		DepotID:    p.vehicle.DepotID,
		Number:     fmt.Sprintf("R%05d", b.tires),
		Size:       p.plan.size,
		Design:     "invented rib",
		TIN:        fmt.Sprintf("DOT B9JA XK2 %02d%02d", 1+b.rng.IntN(50), (p.at.Year()-1)%100),
		PriceCents: int64(90+30*mm) * 100,
	}

	// Assumption: a tire lasts about 250,000 km on a heavy vehicle, 60,000 on a light one,
	// down to 1.6 mm. Steered axles wear 15 % faster, outer grooves up to 5 %.
	life := 60.0
	if p.vehicle.Class.Heavy() {
		life = 250
	}

	rate := (mm - 1.6) / life * p.severity * math.Exp(0.04*b.rng.NormFloat64())
	if p.vehicle.AxleAt(pos).Role() == models.RoleSteer {
		rate *= 1.15
	}

	for g := range 3 {
		asset.NewDepths = append(asset.NewDepths, p.plan.fresh)
		t.fresh, t.depth = append(t.fresh, mm), append(t.depth, mm)
		t.rate = append(t.rate, rate*(1+0.05*float64(1-g)*b.rng.Float64()))
	}

	t.follow(p.story, pos, p.vehicle.AxleAt(pos).Steered)
	_, err := b.fleet.CreateTire(ctx, b.system, asset)
	return t, err
}

// follow gives a tire the wear or the leak of its vehicle's story.
func (t *tireTruth) follow(s story, pos models.Position, steered bool) {
	switch {
	case s == toeWear && steered:
		t.rate[0] *= 1.5
	case s == wornSteer && pos == "1L":
		for g := range t.rate {
			t.rate[g] *= 1.4
		}
	case s == lowPressure && pos == "1R":
		t.leak = 0.05
	}
}

// fit creates tires, fits them, and does the work that follows: balancing and a check of
// the torque, unless the story is that nobody did.
func (b *builder) fit(ctx context.Context, p *simulation, places []models.Position, at time.Time) error {
	b.clock = at

	// The first tires were on the vehicle when its record began, except in stories about
	// the work of fitting.
	existing := len(p.tires) == 0 && p.story != notBalanced && p.story != noRetorque
	e := &models.Fit{Meta: b.meta(p), TorqueNM: p.plan.torque, Existing: existing}
	for _, pos := range places {
		t, err := b.newTire(ctx, p, pos)
		if err != nil {
			return err
		}
		p.tires[pos] = t

		wheel, err := b.wheel(ctx, p, pos)
		if err != nil {
			return err
		}
		e.Fittings = append(e.Fittings, models.Fitting{TireID: t.id, Position: pos, WheelID: wheel})
	}

	if err := b.record(ctx, p, e); err != nil {
		return err
	}
	if existing {
		return nil
	}

	if p.story != notBalanced {
		for _, pos := range places {
			if pos.IsSpare() {
				continue
			}
			if err := b.balance(ctx, p, pos, models.BalanceFitted); err != nil {
				return err
			}
		}
	}

	if p.story == noRetorque {
		return nil
	}
	return b.retorque(ctx, p)
}

// retorque records a check of the wheel nuts.
func (b *builder) retorque(ctx context.Context, p *simulation) error {
	p.at = p.at.Add(20 * time.Minute)
	return b.record(ctx, p, &models.Retorque{Meta: b.meta(p), TorqueNM: p.plan.torque})
}

// balance records a job: an unbalance shown in both planes, weights fitted against it, and
// zero shown after that.
func (b *builder) balance(ctx context.Context, p *simulation, pos models.Position, why models.BalanceWhy) error {
	p.at = p.at.Add(7 * time.Minute)
	checked := p.at.AddDate(0, 0, -3)
	e := &models.BalanceJob{
		Meta:       b.meta(p),
		Position:   pos,
		Why:        why,
		Mode:       "two_plane",
		Machine:    "bench 1 (invented)",
		SelfCheck:  &checked,
		Planes:     "flanges",
		WeightsOff: true,
		TorqueNM:   p.plan.torque,
		Checks:     []string{"clean", "stones", "seated", "centered", "run_out"},
		Geometry:   rim(p.plan.size, p.vehicle.Class.Heavy()),
	}

	step, most := units.Mass(5), 45.0
	if p.vehicle.Class.Heavy() {
		step, most = 25, 250
	}

	for _, plane := range []string{"outer", "inner"} {
		g := units.Mass(math.Round(b.rng.Float64()*most/float64(step))) * step
		angle := units.Angle(b.rng.IntN(120) * 3)
		mass := models.Mass{Value: g, Text: units.FormatMass(g, units.G)}

		e.Shown = append(e.Shown, models.PlaneUnbalance{Plane: plane, Mass: mass, Angle: angle})
		if g > 0 {
			e.Fitted = append(e.Fitted,
				models.FittedWeight{Plane: plane, Type: "clip", Mass: mass, Angle: angle, Place: "flange"})
		}
		e.ShownAfter = append(e.ShownAfter, models.PlaneUnbalance{Plane: plane, Mass: models.Mass{Text: "0 g"}})
	}

	return b.record(ctx, p, e)
}

// wheel returns the wheel at a steered position, which stays when its tire is changed; it
// creates the wheel at the first call. This fleet has no record of other wheels.
func (b *builder) wheel(ctx context.Context, p *simulation, pos models.Position) (models.WheelID, error) {
	if pos.IsSpare() || !p.vehicle.AxleAt(pos).Steered {
		return "", nil
	}

	number := p.vehicle.Number + "-" + string(pos)
	w := models.Wheel{
		ID:         models.WheelID(uuid.NewSHA1(uuid.NameSpaceURL, []byte(string(p.vehicle.ID)+number)).String()),
		DepotID:    p.vehicle.DepotID,
		Number:     number,
		DiameterIn: 22.5,
		WidthIn:    8.25,
		Material:   "steel",
	}

	if size, err := tiresize.Parse(p.plan.size); err == nil {
		w.DiameterIn = size.RimCode
	}
	if !p.vehicle.Class.Heavy() {
		w.WidthIn = 6.5
	}
	if p.vehicle.Class == models.Car {
		w.Material = "alloy"
	}
	if p.wheels[w.ID] {
		return w.ID, nil
	}

	p.wheels[w.ID] = true
	_, err := b.fleet.CreateWheel(ctx, b.system, w)
	return w.ID, err
}

// rim returns where weights sit on a wheel for a size: at the rim's nominal radius, on
// flanges 178 mm apart, 210 mm on heavy wheels (chosen by us); nil if the size has no rim
// diameter.
func rim(size string, heavy bool) *models.WheelGeometry {
	var code float64
	_, after, _ := strings.Cut(size, "R")
	if _, err := fmt.Sscanf(after, "%g", &code); err != nil {
		return nil
	}

	r, deep := units.Length(code/2*float64(units.Inch)), 178*units.Millimetre
	if heavy {
		deep = 210 * units.Millimetre
	}

	return &models.WheelGeometry{OuterRadius: r, InnerRadius: r, InnerOffset: deep}
}

// drive moves the time on to the day of next and wears the tires by the distance.
func (b *builder) drive(p *simulation, next time.Time) {
	days := next.Sub(p.at).Hours() / 24
	km := days * p.kmDay * (0.8 + 0.4*b.rng.Float64())
	p.km += km

	for pos, t := range p.tires {
		if pos.IsSpare() {
			continue
		}

		for g := range t.depth {
			t.depth[g] = math.Max(t.depth[g]-t.rate[g]*km/1000, 0.4)
		}
		if p.story == cupped && pos == "1R" {
			t.cups = math.Min(t.cups+0.25*days/30, 3.2)
		}
	}

	p.at = next.Add(time.Duration(6+b.rng.IntN(9)) * time.Hour)
}

// visit records an inspection and the work that follows from it.
func (b *builder) visit(ctx context.Context, p *simulation, last bool) error {
	e := &models.Inspection{Meta: b.meta(p), Gauge: models.Gauge{Name: "G1", Resolution: b.step(p)}}
	for _, pos := range p.vehicle.WalkingOrder() {
		if t := p.tires[pos]; t != nil {
			e.Readings = append(e.Readings, b.reading(p, pos, t, last))
		}
	}

	if err := b.record(ctx, p, e); err != nil {
		return err
	}

	if last && p.story == cupped {
		p.at = p.at.Add(time.Hour)
		return b.record(ctx, p, &models.Vibration{
			Meta:      b.meta(p),
			StartsKMH: 70,
			WorstKMH:  95,
			FadesKMH:  115,
			FeltAt:    "steering_wheel",
			Braking:   "same",
			Throttle:  "same",
			Neutral:   "same",
			Since:     "gradual",
		})
	}

	if err := b.replaceWorn(ctx, p, last); err != nil {
		return err
	}
	if p.at.Sub(p.rotated) > 170*24*time.Hour && !last {
		p.rotated = p.at
		return b.shopDay(ctx, p)
	}
	return nil
}

// shopDay rotates the last axle and balances: every wheel of a light vehicle,
// the steered axle of a heavy one.
func (b *builder) shopDay(ctx context.Context, p *simulation) error {
	if err := b.rotate(ctx, p); err != nil {
		return err
	}

	for _, pos := range p.vehicle.Positions() {
		if pos.IsSpare() || p.vehicle.Class.Heavy() && !p.vehicle.AxleAt(pos).Steered {
			continue
		}
		if err := b.balance(ctx, p, pos, models.BalanceInterval); err != nil {
			return err
		}
	}

	return b.retorque(ctx, p)
}

// step returns the step of the depot's gauge.
func (b *builder) step(p *simulation) units.Length {
	if p.depot.units.Depth == units.In32 {
		return units.ThirtySecond
	}
	return units.Millimetre / 10
}

// reading returns what an inspector reads of a tire.
func (b *builder) reading(p *simulation, pos models.Position, t *tireTruth, last bool) models.Reading {
	return models.Reading{
		Position:     pos,
		Depths:       b.depths(p, t),
		Pressure:     b.pressure(p, pos, t),
		Observations: observations(p, pos, t, last),
	}
}

// depths returns the depths as the gauge shows them, with an error of 0.15 mm standard
// deviation. A cupped tire is read at eight stations, with three cups on the outer groove.
func (b *builder) depths(p *simulation, t *tireTruth) [][]*models.Depth {
	stations := 1
	if t.cups > 1 {
		stations = 8
	}

	var grid [][]*models.Depth
	for g, mm := range t.depth {
		var groove []*models.Depth
		for k := range stations {
			read := mm + 0.15*b.rng.NormFloat64()
			if g == 0 && stations > 1 {
				read -= t.cups / 2 * (1 - math.Cos(2*math.Pi*3*float64(k)/float64(stations)))
			}
			groove = append(groove, b.typed(p, math.Min(math.Max(read, 0.2), t.fresh[g])))
		}
		grid = append(grid, groove)
	}
	return grid
}

// pressure returns the pressure as typed: up to 4 % below the target, less by the story;
// nil if the position has no target.
func (b *builder) pressure(p *simulation, pos models.Position, t *tireTruth) *models.Pressure {
	target := p.vehicle.AxleAt(pos).Pressure.Value
	if target <= 0 {
		return nil
	}

	share := 1 - 0.01*b.rng.Float64()*4
	if t.leak > 0 {
		months := max(p.at.Sub(b.until.AddDate(0, -5, 0)).Hours(), 0) / 24 / 30
		share = math.Max(0.6, share-t.leak*months)
	}
	if p.story == duals && pos.IsInner() && b.until.Sub(p.at) < 70*24*time.Hour {
		share = 0.88
	}

	text := units.FormatPressure(target*units.Pressure(share), p.depot.units.Pressure)
	typed, err := models.ParsePressure(text, units.BareNone)
	if err != nil {
		return nil
	}
	return &typed
}

// observations returns what hand and eye find of the vehicle's story. last says that it is
// the last inspection.
func observations(p *simulation, pos models.Position, t *tireTruth, last bool) []models.Observation {
	var out []models.Observation
	if t.cups > 1 {
		out = append(out, models.Observation{Code: models.ObsCupping, Count: 3, Place: "outer_shoulder"})
		if last {
			out = append(out, models.Observation{Code: models.ObsMissingWeight, Note: "clean mark on the flange"})
		}
	}

	if p.story == toeWear && p.vehicle.AxleAt(pos).Steered && t.fresh[0]-t.depth[0] > 3 {
		out = append(out, models.Observation{Code: models.ObsFeathering, Direction: "inward"})
	}
	if p.story == bulge && last && pos == "1R" {
		out = append(out, models.Observation{
			Code:  models.ObsBulge,
			Place: "sidewall_outer",
			Size:  35 * units.Millimetre,
		})
	}
	return out
}

// typed returns a depth as the depot's gauge shows it.
func (b *builder) typed(p *simulation, mm float64) *models.Depth {
	step := b.step(p)
	l := units.Length(math.Round(mm*float64(units.Millimetre)/float64(step))) * step
	return &models.Depth{Value: l, Text: units.FormatLength(l, p.depot.units.Depth)}
}

// replaceWorn replaces the tires that are worn out, except at the last inspection and where
// the story is that nobody did.
func (b *builder) replaceWorn(ctx context.Context, p *simulation, last bool) error {
	if last {
		return nil
	}

	var worn []models.Position
	e := &models.Removal{}
	for _, pos := range p.vehicle.Positions() {
		if !b.replaces(p, pos) {
			continue
		}
		worn = append(worn, pos)
		e.Removed = append(e.Removed, models.Removed{Position: pos, Reason: models.WornEven, To: models.Scrapped})
	}
	if len(worn) == 0 {
		return nil
	}

	p.at = p.at.Add(24 * time.Hour)
	e.Meta = b.meta(p)
	if err := b.record(ctx, p, e); err != nil {
		return err
	}

	p.at = p.at.Add(30 * time.Minute)
	return b.fit(ctx, p, worn, p.at)
}

// replaces reports whether the shop replaces the tire at a position now: at 3.4 mm, on
// steered axles of heavy vehicles at 5 mm (chosen by us).
func (b *builder) replaces(p *simulation, pos models.Position) bool {
	t := p.tires[pos]
	if t == nil || pos.IsSpare() {
		return false
	}

	forgotten := p.story == wornSteer && pos == "1L" || p.story == pullSoon
	if forgotten && b.until.Sub(p.at) < 100*24*time.Hour {
		return false
	}

	limit := 3.4
	if p.vehicle.AxleAt(pos).Steered && p.vehicle.Class.Heavy() {
		limit += 1.6
	}
	return math.Min(t.depth[0], t.depth[1]) <= limit
}

// rotate swaps left and right on the last axle.
func (b *builder) rotate(ctx context.Context, p *simulation) error {
	p.at = p.at.Add(2 * time.Hour)
	e := &models.Rotation{Meta: b.meta(p), TorqueNM: p.plan.torque}

	axle := len(p.vehicle.Axles)
	for _, pos := range p.vehicle.Positions() {
		if pos.Axle() == axle {
			e.Moves = append(e.Moves, models.Move{From: pos, To: pos.AxleMate()})
		}
	}
	if err := b.record(ctx, p, e); err != nil {
		return err
	}

	moved := map[models.Position]*tireTruth{}
	for _, m := range e.Moves {
		moved[m.To] = p.tires[m.From]
	}
	maps.Copy(p.tires, moved)
	return nil
}

// meta returns the header of an event at the simulation's time and odometer, in the
// depot's unit.
func (b *builder) meta(p *simulation) models.Meta {
	m := models.Meta{
		ID:        models.EventID(b.id()),
		VehicleID: p.vehicle.ID,
		At:        p.at,
		Person:    p.depot.inspectors[b.rng.IntN(len(p.depot.inspectors))],
	}

	if !p.vehicle.NoOdometer {
		u := p.depot.units.Distance
		d := units.DistanceFromKilometres(math.Round(p.km))
		m.Odometer = models.Odometer{Known: true, Value: d, Text: units.FormatDistance(d, u)}
		if u == units.Mi {
			m.Odometer.Value = units.Distance(math.Round(d.Miles())) * units.Mile
		}
	}

	return m
}

// record records e at its time. If the fleet asks to confirm unusual readings, the
// invented inspector does.
func (b *builder) record(ctx context.Context, p *simulation, e models.Event) error {
	h := e.Header()
	b.clock = h.At.Add(5 * time.Minute)

	_, err := b.fleet.Record(ctx, b.system, e)
	var held *models.Error
	if errors.As(err, &held) && held.Kind == models.Held {
		for _, f := range held.Fields {
			h.Confirmed = append(h.Confirmed, f.Code)
		}
		_, err = b.fleet.Record(ctx, b.system, e)
	}
	if err != nil {
		return fmt.Errorf("%s at %s: %w", e.Kind(), h.At.Format(time.DateOnly), err)
	}
	return nil
}
