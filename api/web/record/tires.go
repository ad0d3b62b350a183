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

	// Tires of one vehicle share its number, which is read once.
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

// tire shows one tire's life.
func (s *room) tire(r *site.Request) error {
	view, err := s.Fleet.Tire(r.Ctx(), r.Actor, models.TireID(r.Param("id")))
	if err != nil {
		return err
	}

	p := newTirePage(r, view)
	if err := s.addLimits(r, &p); err != nil {
		return err
	}
	p.drawTread()

	numbers := map[models.VehicleID]models.Vehicle{}
	if err := s.addOutlook(r, &p, numbers); err != nil {
		return err
	}
	if err := s.addReadings(r, &p, view.Readings, numbers); err != nil {
		return err
	}

	if err := s.addJobs(r, &p); err != nil {
		return err
	}
	if err := s.addTimeline(r, &p); err != nil {
		return err
	}

	return r.Show("tire", "tires", "Tire "+view.Tire.Number, p)
}

// newTirePage returns the page with what the tire's own view has.
func newTirePage(r *site.Request, view fleet.TireView) tirePage {
	d := r.Depot(view.Tire.DepotID)
	p := tirePage{
		Tire:    view.Tire,
		State:   view.State,
		Depot:   d,
		Zone:    r.Clock(d),
		Units:   r.Units(d),
		Manages: r.Manages(),
		Now:     r.Now,
		Bench:   "/tires/" + string(view.Tire.ID) + "/bench",
	}

	for _, l := range view.Tire.NewDepths {
		p.NewText = append(p.NewText, p.Units.WriteDepth(l))
	}
	if p.State.VehicleID != "" {
		p.Bench = "/vehicles/" + string(p.State.VehicleID) + "/bench/" + string(p.State.Position)
	}
	for _, v := range view.State.Trueness {
		p.Trueness = append(p.Trueness, say.DescribeMeasure(v.TruenessMeasure)+", "+p.Zone.Date(v.At))
	}

	return p
}

// drawTread draws the tread as it was read last.
func (p *tirePage) drawTread() {
	in := draw.BarInput{
		Position: p.State.Position,
		New:      p.Tire.NewDepths,
		Legal:    p.Legal,
		Pull:     p.Pull,
		Units:    p.Units,
	}

	if last := p.State.Last; last != nil {
		in.Depths, in.Stations = last.Reading.Depths, last.Reading.Stations
		in.Position = last.Reading.Position
	}

	p.Bar, p.Strip = draw.NewTreadBar(in), draw.NewStrip(in)
}

// addOutlook fills in the forecast and the stays on vehicles. numbers keeps what is
// looked up.
func (s *room) addOutlook(r *site.Request, p *tirePage, numbers map[models.VehicleID]models.Vehicle) error {
	o, err := s.Fleet.TireOutlook(r.Ctx(), r.Actor, p.Tire.ID)
	if err != nil {
		return err
	}
	p.OutlookPart = draw.NewOutlook(o, p.Units, r.Now.In(p.Zone.Location))

	for _, stay := range o.Stays {
		n, err := s.VehicleNumber(r, stay.VehicleID, numbers)
		if err != nil {
			return err
		}
		p.Life = append(p.Life, draw.NewStayLine(stay, n, p.Units))
	}
	return nil
}

// addReadings lists the readings, newest first. numbers keeps what is looked up.
func (s *room) addReadings(
	r *site.Request,
	p *tirePage,
	readings []models.Measured,
	numbers map[models.VehicleID]models.Vehicle,
) error {
	for _, m := range slices.Backward(readings) {
		line := readingLine{
			Measured: m,
			Typed:    say.TypedDepths(m.Reading, p.Units),
			Pressure: say.PressureText(m.Reading, p.Units),
		}

		var err error
		if line.Vehicle, err = s.VehicleNumber(r, m.VehicleID, numbers); err != nil {
			return err
		}
		for _, o := range m.Reading.Observations {
			line.Seen = append(line.Seen, say.DescribeObservation(o))
		}

		p.Readings = append(p.Readings, line)
	}
	return nil
}

// addJobs lists the balance jobs and what the newest says, if there is one.
func (s *room) addJobs(r *site.Request, p *tirePage) error {
	b := p.State.Balance
	if b == nil {
		return nil
	}

	var err error
	p.Balanced = say.DescribeBalanceRecord(*b, p.Units)
	p.Jobs, _, err = s.jobLines(r, fleet.JobFilter{TireID: p.Tire.ID}, models.Page{Limit: site.PerPage}, p.Depot)
	return err
}

// addTimeline lists one page of what happened to the tire.
func (s *room) addTimeline(r *site.Request, p *tirePage) error {
	filter := models.EventFilter{TireID: p.Tire.ID, Superseded: true}
	events, next, err := s.Fleet.Events(r.Ctx(), r.Actor, filter, r.ListPage(site.PerPage))
	if err != nil {
		return err
	}

	p.Timeline = timeline(r, events, p.Units, p.Zone, p.Tire.ID)
	p.First, p.Next = r.Paging(next)
	return nil
}

// addLimits fills in what depends on where the tire is mounted.
func (s *room) addLimits(r *site.Request, p *tirePage) error {
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
