package web

import (
	"errors"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// tiresPage lists tires by number.
type tiresPage struct {
	Text, Status, Depot string
	Statuses            []models.TireStatus
	Depots              []models.Depot
	Tires               []tireLine
	listEnds
	Any, Manages bool
	Now          time.Time
}

type tireLine struct {
	models.TireWithState
	Depot   models.Depot
	Zone    clock
	Vehicle string // number of the vehicle it is on
}

var tireStatuses = []models.TireStatus{models.InStock, models.Mounted, models.AtRetreader, models.Scrapped}

func (s *site) tires(r *request) error {
	p := tiresPage{Text: r.QueryParam("q"), Status: r.QueryParam("status"), Depot: r.QueryParam("depot"), Statuses: tireStatuses, Depots: r.depots, Manages: r.manages(), Now: r.now}
	p.Any = p.Text+p.Status+p.Depot != ""
	q := models.TireFilter{Status: models.TireStatus(p.Status), Text: searchText(p.Text)}
	if p.Depot != "" {
		q.Depots = []models.DepotID{models.DepotID(p.Depot)}
	}
	if p.Status != "" && !slices.Contains(tireStatuses, q.Status) {
		return models.Errorf(models.Invalid, "a tire is in stock, mounted, at the retreader or scrapped; %q is none of these", p.Status)
	}
	list, next, err := s.Fleet.Tires(r.ctx(), r.actor, q, r.page(perPage*2))
	if err != nil {
		return err
	}
	numbers := map[models.VehicleID]models.Vehicle{}
	for _, t := range list {
		d := r.depot(t.Tire.DepotID)
		line := tireLine{TireWithState: t, Depot: d, Zone: r.clock(d)}
		if line.Vehicle, err = s.number(r, t.State.VehicleID, numbers); err != nil {
			return err
		}
		p.Tires = append(p.Tires, line)
	}
	p.listEnds = r.ends("tire", "tires", len(list), next, p.Any)
	return r.render("tires", "tires", "Tires", p)
}

// searchText drops the words for the thing itself: "tyre 123" is tire 123.
func searchText(s string) string {
	var out []string
	for _, w := range strings.Fields(s) {
		switch strings.ToLower(w) {
		case "tire", "tires", "tyre", "tyres":
		default:
			out = append(out, w)
		}
	}
	return strings.Join(out, " ")
}

// number returns a vehicle's number, or "" if the person does not see it.
func (s *site) number(r *request, id models.VehicleID, known map[models.VehicleID]models.Vehicle) (string, error) {
	v, err := s.seen(r, id, known)
	return v.Number, err
}

// seen returns a vehicle, or none if the person does not see it.
func (s *site) seen(r *request, id models.VehicleID, known map[models.VehicleID]models.Vehicle) (models.Vehicle, error) {
	if id == "" {
		return models.Vehicle{}, nil
	}
	if v, ok := known[id]; ok {
		return v, nil
	}
	v, err := s.Fleet.Vehicle(r.ctx(), r.actor, id)
	if errors.Is(err, models.NotFound) {
		err = nil
	}
	known[id] = v.Vehicle
	return v.Vehicle, err
}

// tirePage is one tire's life.
type tirePage struct {
	Tire     models.Tire
	State    models.TireState
	Depot    models.Depot
	Zone     clock
	Units    units.Style
	Now      time.Time
	NewText  []string
	Life     []stayLine
	Readings []readingLine
	Bar      treadBar
	Strip    *strip
	Vehicle  string
	Legal    units.Length
	Pull     units.Length
	Timeline []timelineEntry
	Manages  bool
	First    string
	Next     string
	True     []string  // bead seat and run-out as they stand
	Balanced []string  // what the newest balance job says
	Jobs     []jobLine // the balance jobs, newest first
	Bench    string    // address of the bench for this assembly
	outlookPart
}

type readingLine struct {
	models.Measured
	Vehicle  string
	Typed    []string
	Pressure string
	Seen     []string
}

func (s *site) tire(r *request) error {
	view, err := s.Fleet.Tire(r.ctx(), r.actor, models.TireID(r.Param("id")))
	if err != nil {
		return err
	}
	d := r.depot(view.Tire.DepotID)
	p := tirePage{Tire: view.Tire, State: view.State, Depot: d, Zone: r.clock(d), Units: r.units(d), Manages: r.manages(), Now: r.now}
	for _, l := range view.Tire.NewDepths {
		p.NewText = append(p.NewText, p.Units.WriteDepth(l))
	}
	if err := s.limits(r, &p); err != nil {
		return err
	}
	in := barInput{Position: view.State.Position, New: view.Tire.NewDepths, Legal: p.Legal, Pull: p.Pull, Units: p.Units}
	if view.State.Last != nil {
		in.Depths = view.State.Last.Reading.Depths
		in.Position = view.State.Last.Reading.Position
	}
	p.Bar, p.Strip = drawBar(in), drawStrip(in)
	o, err := s.Fleet.TireOutlook(r.ctx(), r.actor, view.Tire.ID)
	if err != nil {
		return err
	}
	p.outlookPart = newOutlook(o, p.Units, r.now.In(p.Zone.Location))
	numbers := map[models.VehicleID]models.Vehicle{}
	for _, stay := range o.Stays {
		n, err := s.number(r, stay.VehicleID, numbers)
		if err != nil {
			return err
		}
		p.Life = append(p.Life, newStayLine(stay, n, p.Units))
	}
	for _, m := range slices.Backward(view.Readings) {
		line := readingLine{Measured: m, Typed: typed(m.Reading, p.Units), Pressure: pressureText(m.Reading, p.Units)}
		if line.Vehicle, err = s.number(r, m.VehicleID, numbers); err != nil {
			return err
		}
		for _, o := range m.Reading.Observations {
			line.Seen = append(line.Seen, tellObservation(o))
		}
		p.Readings = append(p.Readings, line)
	}
	events, next, err := s.Fleet.Events(r.ctx(), r.actor, models.EventFilter{TireID: view.Tire.ID, Superseded: true}, r.page(perPage))
	if err != nil {
		return err
	}
	if b := view.State.Balance; b != nil {
		p.Balanced = tellRecord(*b, p.Units)
		if p.Jobs, _, err = s.jobLines(r, fleet.JobFilter{TireID: view.Tire.ID}, models.Page{Limit: perPage}, d); err != nil {
			return err
		}
	}
	for _, v := range view.State.True {
		p.True = append(p.True, tellMeasure(v.TrueMeasure)+", "+p.Zone.date(v.At))
	}
	if p.Bench = "/tires/" + string(view.Tire.ID) + "/bench"; view.State.VehicleID != "" {
		p.Bench = "/vehicles/" + string(view.State.VehicleID) + "/bench/" + string(view.State.Position)
	}
	p.Timeline = r.timeline(events, p.Units, p.Zone, view.Tire.ID)
	p.First, p.Next = r.paging(next)
	return r.render("tire", "tires", "Tire "+view.Tire.Number, p)
}

// limits fills in what depends on where the tire is mounted.
func (s *site) limits(r *request, p *tirePage) error {
	if p.State.VehicleID == "" {
		return nil
	}
	v, err := s.Fleet.Vehicle(r.ctx(), r.actor, p.State.VehicleID)
	if errors.Is(err, models.NotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	p.Vehicle = v.Vehicle.Number
	if !p.State.Position.IsSpare() {
		p.Legal = v.LegalMinimum[p.State.Position]
		p.Pull = v.Policy.Pull(v.Vehicle.AxleAt(p.State.Position).Role())
	}
	return nil
}
