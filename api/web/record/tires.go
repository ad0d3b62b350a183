package record

import (
	"errors"
	"slices"
	"strings"
	"time"

	"rimledger/api/web/draw"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
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
	site.ListEnds
	Any, Manages bool
	Now          time.Time
}

type tireLine struct {
	models.TireWithState
	Depot   models.Depot
	Zone    say.Clock
	Vehicle string // number of the vehicle it is on
}

var tireStatuses = []models.TireStatus{models.InStock, models.Mounted, models.AtRetreader, models.Scrapped}

func (s *room) tires(r *site.Request) error {
	p := tiresPage{
		Text:     r.QueryParam("q"),
		Status:   r.QueryParam("status"),
		Depot:    r.QueryParam("depot"),
		Statuses: tireStatuses,
		Depots:   r.Depots,
		Manages:  r.Manages(),
		Now:      r.Now,
	}

	p.Any = p.Text+p.Status+p.Depot != ""
	q := models.TireFilter{Status: models.TireStatus(p.Status), Text: searchText(p.Text)}
	if p.Depot != "" {
		q.Depots = []models.DepotID{models.DepotID(p.Depot)}
	}

	if p.Status != "" && !slices.Contains(tireStatuses, q.Status) {
		return models.Errorf(
			models.Invalid,
			"a tire is in stock, mounted, at the retreader or scrapped; %q is none of these",
			p.Status,
		)
	}

	list, next, err := s.Fleet.Tires(r.Ctx(), r.Actor, q, r.ListPage(site.PerPage*2))
	if err != nil {
		return err
	}

	numbers := map[models.VehicleID]models.Vehicle{}
	for _, t := range list {
		d := r.Depot(t.Tire.DepotID)
		line := tireLine{TireWithState: t, Depot: d, Zone: r.Clock(d)}
		if line.Vehicle, err = s.VehicleNumber(r, t.State.VehicleID, numbers); err != nil {
			return err
		}
		p.Tires = append(p.Tires, line)
	}

	p.ListEnds = r.ListEnds("tire", "tires", len(list), next, p.Any)
	return r.Show("tires", "tires", "Tires", p)
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

// tirePage is one tire's life.
type tirePage struct {
	Tire     models.Tire
	State    models.TireState
	Depot    models.Depot
	Zone     say.Clock
	Units    units.Style
	Now      time.Time
	NewText  []string
	Life     []draw.StayLine
	Readings []readingLine
	Bar      draw.TreadBar
	Strip    *draw.Strip
	Vehicle  string
	Legal    units.Length
	Pull     units.Length
	Timeline []timelineEntry
	Manages  bool
	First    string
	Next     string
	Trueness []string  // bead seat and run-out, the newest of each
	Balanced []string  // what the newest balance job says
	Jobs     []jobLine // the balance jobs, newest first
	Bench    string    // address of the bench for this assembly
	draw.OutlookPart
}

type readingLine struct {
	models.Measured
	Vehicle  string
	Typed    []string
	Pressure string
	Seen     []string
}

//revive:disable-next-line:cyclomatic
func (s *room) tire(r *site.Request) error {
	view, err := s.Fleet.Tire(r.Ctx(), r.Actor, models.TireID(r.Param("id")))
	if err != nil {
		return err
	}

	d := r.Depot(view.Tire.DepotID)
	p := tirePage{
		Tire:    view.Tire,
		State:   view.State,
		Depot:   d,
		Zone:    r.Clock(d),
		Units:   r.Units(d),
		Manages: r.Manages(),
		Now:     r.Now,
	}

	for _, l := range view.Tire.NewDepths {
		p.NewText = append(p.NewText, p.Units.WriteDepth(l))
	}

	if err := s.limits(r, &p); err != nil {
		return err
	}

	in := draw.BarInput{
		Position: view.State.Position,
		New:      view.Tire.NewDepths,
		Legal:    p.Legal,
		Pull:     p.Pull,
		Units:    p.Units,
	}

	if view.State.Last != nil {
		in.Depths, in.Stations = view.State.Last.Reading.Depths, view.State.Last.Reading.Stations
		in.Position = view.State.Last.Reading.Position
	}
	p.Bar, p.Strip = draw.NewTreadBar(in), draw.NewStrip(in)

	o, err := s.Fleet.TireOutlook(r.Ctx(), r.Actor, view.Tire.ID)
	if err != nil {
		return err
	}
	p.OutlookPart = draw.NewOutlook(o, p.Units, r.Now.In(p.Zone.Location))

	numbers := map[models.VehicleID]models.Vehicle{}
	for _, stay := range o.Stays {
		n, err := s.VehicleNumber(r, stay.VehicleID, numbers)
		if err != nil {
			return err
		}
		p.Life = append(p.Life, draw.NewStayLine(stay, n, p.Units))
	}

	for _, m := range slices.Backward(view.Readings) {
		line := readingLine{
			Measured: m,
			Typed:    say.TypedDepths(m.Reading, p.Units),
			Pressure: say.PressureText(m.Reading, p.Units),
		}
		if line.Vehicle, err = s.VehicleNumber(r, m.VehicleID, numbers); err != nil {
			return err
		}

		for _, o := range m.Reading.Observations {
			line.Seen = append(line.Seen, say.DescribeObservation(o))
		}

		p.Readings = append(p.Readings, line)
	}

	events, next, err := s.Fleet.Events(
		r.Ctx(),
		r.Actor,
		models.EventFilter{TireID: view.Tire.ID, Superseded: true},
		r.ListPage(site.PerPage),
	)
	if err != nil {
		return err
	}

	if b := view.State.Balance; b != nil {
		p.Balanced = say.DescribeBalanceRecord(*b, p.Units)
		jobs := fleet.JobFilter{TireID: view.Tire.ID}
		if p.Jobs, _, err = s.jobLines(r, jobs, models.Page{Limit: site.PerPage}, d); err != nil {
			return err
		}
	}

	for _, v := range view.State.Trueness {
		p.Trueness = append(p.Trueness, say.DescribeMeasure(v.TruenessMeasure)+", "+p.Zone.Date(v.At))
	}

	if p.Bench = "/tires/" + string(view.Tire.ID) + "/bench"; view.State.VehicleID != "" {
		p.Bench = "/vehicles/" + string(view.State.VehicleID) + "/bench/" + string(view.State.Position)
	}
	p.Timeline = timeline(r, events, p.Units, p.Zone, view.Tire.ID)
	p.First, p.Next = r.Paging(next)
	return r.Show("tire", "tires", "Tire "+view.Tire.Number, p)
}

// limits fills in what depends on where the tire is mounted.
func (s *room) limits(r *site.Request, p *tirePage) error {
	if p.State.VehicleID == "" {
		return nil
	}

	v, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, p.State.VehicleID)
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
