package web

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/history"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// vehiclesPage lists vehicles by number.
type vehiclesPage struct {
	Filter   listFilter
	Vehicles []vehicleLine
	listEnds
	Records bool
	Manages bool
	Now     time.Time
}

type vehicleLine struct {
	models.VehicleRow
	Depot models.Depot
	Zone  clock
	Units units.Style
}

func (s *site) vehicles(r *request) error {
	f, q := r.filter()
	rows, next, err := s.Fleet.Vehicles(r.ctx(), r.actor, q, r.page(perPage*2))
	if err != nil {
		return err
	}
	f.Apart = true
	p := vehiclesPage{Filter: f, Records: r.records(), Manages: r.manages(), Now: r.now}
	for _, row := range rows {
		d := r.depot(row.Vehicle.DepotID)
		p.Vehicles = append(p.Vehicles, vehicleLine{row, d, r.clock(d), r.units(d)})
	}
	if p.listEnds, err = s.vehicleEnds(r, q, len(rows), next, f.Any); err != nil {
		return err
	}
	return r.render("vehicles", "vehicles", "Vehicles", p)
}

// vehiclePage is one vehicle: its axles, what is open, what happened.
type vehiclePage struct {
	fleet.VehicleView
	Zone     clock
	Units    units.Style
	Now      time.Time
	Axles    []axleRow
	Spares   []place
	Places   []place // in the order of Positions, for the table
	Cards    []card
	Timeline []timelineEntry
	Kinds    []models.EventKind
	Kind     models.EventKind
	Next     string
	First    string
	Records  bool
	Manages  bool
	Works    []workLink
	UseText  string
	Due      schedule
	Booked   *booked
	Trend    *vehicleTrend
}

type axleRow struct {
	Number int
	Axle   models.Axle
	Role   models.AxleRole
	Target string
	Places []place
}

// place is one position as the pages show it.
type place struct {
	Position models.Position
	Tire     *models.TireWithState
	Bar      treadBar
	Urgency  models.Urgency
	Last     *models.Measured
	Typed    []string // depths as typed, a groove each
	Pressure string
	Notices  []string // damage that is open, missing weight
	Forecast string
}

func (s *site) vehicle(r *request) error {
	const entries = 15
	v, err := s.Fleet.Vehicle(r.ctx(), r.actor, models.VehicleID(r.Param("id")))
	if err != nil {
		return err
	}
	p := vehiclePage{VehicleView: v, Zone: r.clock(v.Depot), Units: r.units(v.Depot), Now: r.now, Records: r.records(), Manages: r.manages(), Works: s.works}
	p.Places = places(v, p.Units, r.now.In(p.Zone.Location))
	p.Booked = newBooked(v.Findings, r.now, p.Zone)
	p.Axles, p.Spares = byAxle(v.Vehicle, p.Places, p.Units)
	for _, f := range v.Findings {
		p.Cards = append(p.Cards, newCard(f, p.Zone, r.now, false))
	}
	sparing(p.Cards)
	if use := v.State.Use.PerDay(); v.State.Use.Known {
		p.UseText = p.Units.WriteDistance(units.DistanceFromKilometres(use.Median.Value)) + " a day"
	}
	if p.Trend, err = s.vehicleTrend(r, v, p.Units, r.now.In(p.Zone.Location)); err != nil {
		return err
	}
	if p.Due, err = s.schedule(r, v.Vehicle, p.Units, p.Zone); err != nil {
		return err
	}
	q := models.EventFilter{VehicleID: v.Vehicle.ID, Superseded: true}
	if k := models.EventKind(r.QueryParam("kind")); eventNames[k] != "" {
		p.Kind, q.Kinds = k, []models.EventKind{k}
	}
	events, next, err := s.Fleet.Events(r.ctx(), r.actor, q, r.page(entries))
	if err != nil {
		return err
	}
	p.Timeline = r.timeline(events, p.Units, p.Zone, "")
	p.First, p.Next = r.paging(next)
	p.Kinds = eventKinds
	return r.render("vehicle", "vehicles", v.Vehicle.Number, p)
}

var eventKinds = func() []models.EventKind {
	var out []models.EventKind
	for k := range eventNames {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}()

// places lays out every position of a vehicle.
func places(v fleet.VehicleView, u units.Style, now time.Time) []place {
	mounted := map[models.Position]models.TireWithState{}
	for _, t := range v.Tires {
		mounted[t.State.Position] = t
	}
	worst := map[models.Position]models.Urgency{}
	for _, f := range v.Findings { // most urgent first
		if _, seen := worst[f.Position]; !seen {
			worst[f.Position] = f.Urgency
		}
	}
	var out []place
	for _, pos := range v.Vehicle.Positions() {
		p := place{Position: pos, Urgency: worst[pos]}
		in := barInput{Position: pos, Legal: v.LegalMinimum[pos], Urgency: p.Urgency, Units: u}
		if !pos.IsSpare() {
			in.Pull = v.Policy.Pull(v.Vehicle.AxleAt(pos).Role())
		}
		if t, ok := mounted[pos]; ok {
			p.Tire = &t
			in.New = t.Tire.NewDepths
			if p.Last = t.State.Last; p.Last != nil {
				in.Depths = p.Last.Reading.Depths
				p.Typed = typed(p.Last.Reading, u)
				p.Pressure = pressureText(p.Last.Reading, u)
			}
			for _, d := range t.State.Damage {
				p.Notices = append(p.Notices, observationName(d.Observation.Code))
			}
			if t.State.MissingWeight != nil {
				p.Notices = append(p.Notices, "balance weight missing")
			}
			p.Forecast = forecast(t.State, v.State, in.Pull, u, now)
		}
		p.Bar = drawBar(in)
		out = append(out, p)
	}
	return out
}

func byAxle(v models.Vehicle, all []place, u units.Style) (axles []axleRow, spares []place) {
	for i, a := range v.Axles {
		row := axleRow{Number: i + 1, Axle: a, Role: a.Role()}
		if a.Pressure.Value > 0 {
			row.Target = u.WritePressure(a.Pressure.Value)
		}
		for _, p := range all {
			if p.Position.Axle() == i+1 {
				row.Places = append(row.Places, p)
			}
		}
		axles = append(axles, row)
	}
	for _, p := range all {
		if p.Position.IsSpare() {
			spares = append(spares, p)
		}
	}
	return axles, spares
}

// typed writes the depths of a reading as they were typed, a line a groove.
func typed(r models.Reading, u units.Style) []string {
	names := grooveNames(len(r.Depths))
	var out []string
	for g, stations := range r.Depths {
		var at []string
		for _, d := range stations {
			if d == nil {
				at = append(at, "–")
			} else {
				at = append(at, u.WriteTypedDepth(d.Value, d.Text))
			}
		}
		out = append(out, names[g]+" "+strings.Join(at, ", "))
	}
	return out
}

func pressureText(r models.Reading, u units.Style) string {
	switch {
	case r.NotReached:
		return "not reached"
	case r.Pressure == nil:
		return ""
	case r.Hot:
		return u.WriteTypedPressure(r.Pressure.Value, r.Pressure.Text) + " warm"
	default:
		return u.WriteTypedPressure(r.Pressure.Value, r.Pressure.Text)
	}
}

// forecast says when a tire reaches its pull point, or "" if that cannot be told.
func forecast(t models.TireState, v models.VehicleState, pull units.Length, u units.Style, now time.Time) string {
	if t.MinWear == nil || pull <= 0 {
		return ""
	}
	x, sd, ok := v.Use.At(history.Day(now))
	if !ok {
		return ""
	}
	f, err := t.MinWear.Forecast(wear.Ahead{LimitMM: pull.Millimetres(), NowKM: x, NowSDKM: sd, Use: v.Use})
	switch {
	case err != nil:
		return ""
	case f.Reached:
		return "at or below its pull point by now, as estimated"
	case f.Distance.Median.Beyond:
		return "pull point further off than can be told"
	}
	text := "pull point in about " + u.WriteAbout(units.DistanceFromKilometres(f.Distance.Median.Value))
	if !f.Days.Median.Beyond {
		text += fmt.Sprintf(", near %s (between %s and %s, 4 times in 5)", day(u, now, f.Days.Median), day(u, now, f.Days.Lo80), day(u, now, f.Days.Hi80))
	}
	if f.PriorOnly || f.TooEarly {
		text += "; early, from what is usual"
	}
	return text
}

func day(u units.Style, now time.Time, b wear.Bound) string {
	if b.Beyond {
		return "not to be told"
	}
	return u.WriteDate(now.Add(time.Duration(b.Value * 24 * float64(time.Hour))))
}
