package web

import (
	"fmt"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// wheelPage is one wheel: where weights sit on it, how true its rim is, and every
// balance job it had.
type wheelPage struct {
	Wheel       models.Wheel
	Depot       models.Depot
	Zone        clock
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
	p := wheelPage{Wheel: w, Depot: d, Zone: r.clock(d), Manages: r.manages(), Planes: planeWords(w.WheelGeometry, r.units(d)), Spokes: numbersText(w.Spokes)}
	if w.SpokeWidth > 0 {
		p.SpokeWidth = p.Zone.WriteLength(w.SpokeWidth, units.MM)
	}
	for _, a := range w.Blocked {
		p.Blocked = append(p.Blocked, blockedWord(a))
	}
	for _, v := range w.RunOut {
		p.RunOut = append(p.RunOut, tellMeasure(v.TrueMeasure)+", "+p.Zone.date(v.At))
	}
	next := ""
	if p.Jobs, next, err = s.jobLines(r, fleet.JobFilter{WheelID: w.ID}, r.page(perPage), d); err != nil {
		return err
	}
	p.First, p.Next = r.paging(next)
	return r.render("wheel", "tires", "Wheel "+w.Number, p)
}

// planeWords tells where weights sit, as far as it was measured.
func planeWords(g models.WheelGeometry, u units.Style) []string {
	var out []string
	for _, at := range []struct {
		name          string
		radius, depth units.Length
	}{{"outer flange", g.OuterRadius, 0}, {"adhesive band", g.AdhesiveRadius, g.AdhesiveOffset}, {"back band", g.BackRadius, g.BackOffset}, {"inner flange", g.InnerRadius, g.InnerOffset}} {
		if at.radius == 0 && at.depth == 0 {
			continue
		}
		line := fmt.Sprintf("%s: radius %s", at.name, u.WriteLength(at.radius, units.MM))
		if at.radius == 0 {
			line = at.name + ": radius not measured"
		}
		if at.depth > 0 {
			line += ", " + u.WriteLength(at.depth, units.MM) + " inward from the outer flange"
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
		l := jobLine{Card: "/balance-jobs/" + string(j.Job.ID), Day: r.clock(d).date(j.Job.At), Odometer: odometer(j.Job.Odometer, r.clock(d)), Where: "loose assembly", Tire: j.Tire,
			Named: f.WheelID != "", Lines: tellBalance(j.Job, u)}
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
