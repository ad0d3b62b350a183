package web

import (
	"fmt"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// wheelPage is one wheel: where weights sit on it, how true its rim is, and every
// balance job it had.
type wheelPage struct {
	Wheel       models.Wheel
	Depot       models.Depot
	Zone        *time.Location
	Planes      []string // as measured
	Blocked     []string
	Spokes      string
	SpokeWidth  string
	RunOut      []string
	Jobs        []jobLine
	First, Next string
	Manages     bool
}

// jobLine is one balance job in a list.
type jobLine struct {
	Card     string // its address
	Day      string
	Odometer string
	Where    string // vehicle and position, or loose
	Tire     models.Tire
	Named    bool // the tire is named: the list is of more than one
	Lines    []string
	Drift    string // since the job before of the same mounting
}

func (s *site) wheel(r *request) error {
	w, err := s.Fleet.Wheel(r.ctx(), r.actor, models.WheelID(r.Param("id")))
	if err != nil {
		return err
	}
	d := r.depot(w.DepotID)
	p := wheelPage{Wheel: w, Depot: d, Zone: zone(d), Manages: r.may(access.Manage), Planes: planeWords(w.WheelGeometry), Spokes: anglesText(w.Spokes)}
	if w.SpokeWidth > 0 {
		p.SpokeWidth = units.FormatLength(w.SpokeWidth, units.MM)
	}
	for _, a := range w.Blocked {
		p.Blocked = append(p.Blocked, blockedWord(a))
	}
	for _, v := range w.RunOut {
		p.RunOut = append(p.RunOut, tellMeasure(v.TrueMeasure)+", "+v.At.In(p.Zone).Format(time.DateOnly))
	}
	next := ""
	if p.Jobs, next, err = s.jobLines(r, fleet.JobFilter{WheelID: w.ID}, r.page(perPage), d); err != nil {
		return err
	}
	p.First, p.Next = r.paging(next)
	return r.render("wheel", "tires", "Wheel "+w.Number, p)
}

// planeWords tells where weights sit, as far as it was measured.
func planeWords(g models.WheelGeometry) []string {
	var out []string
	for _, at := range []struct {
		name          string
		radius, depth units.Length
	}{{"outer flange", g.OuterRadius, 0}, {"adhesive band", g.AdhesiveRadius, g.AdhesiveOffset}, {"back band", g.BackRadius, g.BackOffset}, {"inner flange", g.InnerRadius, g.InnerOffset}} {
		if at.radius == 0 && at.depth == 0 {
			continue
		}
		line := fmt.Sprintf("%s: radius %s", at.name, units.FormatLength(at.radius, units.MM))
		if at.radius == 0 {
			line = at.name + ": radius not measured"
		}
		if at.depth > 0 {
			line += ", " + units.FormatLength(at.depth, units.MM) + " inward from the outer flange"
		}
		out = append(out, line)
	}
	return out
}

// blockedWord tells a stretch where nothing fits.
func blockedWord(a models.Arc) string {
	out := fmt.Sprintf("nothing fits at %g-%g°", a.From, a.To)
	if a.At != "" {
		out += " on the " + placeName(a.At)
	}
	return out
}

// jobLines lists the balance jobs of a tire or a wheel, newest first.
func (s *site) jobLines(r *request, f fleet.JobFilter, page models.Page, d models.Depot) ([]jobLine, string, error) {
	jobs, next, err := s.Fleet.BalanceJobs(r.ctx(), r.actor, f, page)
	if err != nil {
		return nil, "", err
	}
	u, numbers := r.units(d), map[models.VehicleID]models.Vehicle{}
	var out []jobLine
	for _, j := range jobs {
		l := jobLine{Card: "/balance-jobs/" + string(j.Job.ID), Day: j.Job.At.In(zone(d)).Format(time.DateOnly), Odometer: j.Job.Odometer.Text, Where: "loose assembly", Tire: j.Tire,
			Named: f.WheelID != "", Lines: tellBalance(j.Job)}
		if j.Job.VehicleID != "" {
			number, err := s.number(r, j.Job.VehicleID, numbers)
			if err != nil {
				return nil, "", err
			}
			l.Where = number
		}
		if j.Record.Drift != nil && j.Record.Drift.WorstG > 0 {
			l.Drift = tellDrift(*j.Record.Drift, u)
		}
		out = append(out, l)
	}
	return out, next, nil
}
