package record

import (
	"slices"
	"time"

	"rimledger/api/web/draw"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// vehiclesPage lists vehicles by number.
type vehiclesPage struct {
	Filter   site.ListFilter
	Vehicles []vehicleLine
	site.ListEnds
	Records bool
	Manages bool
	Now     time.Time
}

type vehicleLine struct {
	models.VehicleRow
	Depot models.Depot
	Zone  say.Clock
	Units units.Style
}

func (s *room) vehicles(r *site.Request) error {
	f, q := r.VehicleFilter()
	rows, next, err := s.Fleet.Vehicles(r.Ctx(), r.Actor, q, r.ListPage(site.PerPage*2))
	if err != nil {
		return err
	}
	f.Apart = true

	p := vehiclesPage{Filter: f, Records: r.Records(), Manages: r.Manages(), Now: r.Now}
	for _, row := range rows {
		d := r.Depot(row.Vehicle.DepotID)
		p.Vehicles = append(p.Vehicles, vehicleLine{row, d, r.Clock(d), r.Units(d)})
	}

	if p.ListEnds, err = s.VehicleEnds(r, q, len(rows), next, f.Any); err != nil {
		return err
	}
	return r.Show("vehicles", "vehicles", "Vehicles", p)
}

// vehiclePage is one vehicle: its axles, what is open, what happened.
type vehiclePage struct {
	fleet.VehicleView
	Zone     say.Clock
	Units    units.Style
	Now      time.Time
	Axles    []axleRow
	Spares   []place
	Places   []place // in the order of Positions, for the table
	Cards    []say.Card
	Timeline []timelineEntry
	Kinds    []models.EventKind
	Kind     models.EventKind
	Next     string
	First    string
	Records  bool
	Manages  bool
	Works    []site.WorkLink
	UseText  string
	Due      schedule
	Booked   *say.Booked
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
	Bar      draw.TreadBar
	Urgency  models.Urgency
	Last     *models.Measured
	Typed    []string // depths as typed, a groove each
	Pressure string
	Notices  []string // damage that is open, missing weight
	Forecast string
}

func (s *room) vehicle(r *site.Request) error {
	const entries = 15
	v, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, models.VehicleID(r.Param("id")))
	if err != nil {
		return err
	}

	p := vehiclePage{
		VehicleView: v,
		Zone:        r.Clock(v.Depot),
		Units:       r.Units(v.Depot),
		Now:         r.Now,
		Records:     r.Records(),
		Manages:     r.Manages(),
		Works:       s.Works,
	}

	p.Places = places(v, p.Units, r.Now.In(p.Zone.Location))
	p.Booked = say.NewBooked(v.Findings, r.Now, p.Zone)

	p.Axles, p.Spares = byAxle(v.Vehicle, p.Places, p.Units)
	for _, g := range models.GroupFindings(v.Findings, r.Now) {
		p.Cards = append(p.Cards, say.NewGroupCard(g, p.Zone, r.Now))
	}

	say.DropRepeatedCautions(p.Cards)
	if use := v.State.Use.PerDay(); v.State.Use.Known {
		p.UseText = p.Units.WriteDistance(units.DistanceFromKilometres(use.Median.Value)) + " a day"
	}
	if p.Trend, err = s.vehicleTrend(r, v, p.Units, r.Now.In(p.Zone.Location)); err != nil {
		return err
	}
	if p.Due, err = s.schedule(r, v.Vehicle, p.Units, p.Zone); err != nil {
		return err
	}

	// Superseded entries are shown too, marked, so that a correction can be followed.
	q := models.EventFilter{VehicleID: v.Vehicle.ID, Superseded: true}
	if k := models.EventKind(r.QueryParam("kind")); say.EventNames[k] != "" {
		p.Kind, q.Kinds = k, []models.EventKind{k}
	}
	events, next, err := s.Fleet.Events(r.Ctx(), r.Actor, q, r.ListPage(entries))
	if err != nil {
		return err
	}

	p.Timeline = timeline(r, events, p.Units, p.Zone, "")
	p.First, p.Next = r.Paging(next)
	p.Kinds = eventKinds
	return r.Show("vehicle", "vehicles", v.Vehicle.Number, p)
}

var eventKinds = func() []models.EventKind {
	var out []models.EventKind
	for k := range say.EventNames {
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

	// The first finding of a place is its most urgent one.
	worst := map[models.Position]models.Urgency{}
	for _, f := range v.Findings { // most urgent first
		if _, seen := worst[f.Position]; !seen {
			worst[f.Position] = f.Urgency
		}
	}

	var out []place
	for _, pos := range v.Vehicle.Positions() {
		p := place{Position: pos, Urgency: worst[pos]}
		in := draw.BarInput{Position: pos, Legal: v.LegalMinimum[pos], Urgency: p.Urgency, Units: u}
		if !pos.IsSpare() {
			in.Pull = v.Policy.Pull(v.Vehicle.AxleAt(pos).Role())
		}

		if t, ok := mounted[pos]; ok {
			p.Tire = &t
			in.New = t.Tire.NewDepths
			if p.Last = t.State.Last; p.Last != nil {
				in.Depths = p.Last.Reading.Depths
				p.Typed = say.TypedDepths(p.Last.Reading, u)
				p.Pressure = say.PressureText(p.Last.Reading, u)
			}

			for _, d := range t.State.Damage {
				p.Notices = append(p.Notices, say.ObservationName(d.Observation.Code))
			}

			if t.State.MissingWeight != nil {
				p.Notices = append(p.Notices, "balance weight missing")
			}
			p.Forecast = draw.ForecastText(t.State, v.State, in.Pull, u, now)
		}

		p.Bar = draw.NewTreadBar(in)
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
