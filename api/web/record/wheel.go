package record

import (
	"fmt"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// wheelPage is one wheel: where weights sit on it, how true its rim is, and every
// balance job it had.
type wheelPage struct {
	Wheel       models.Wheel
	Depot       models.Depot
	Zone        say.Clock
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

func (s *room) wheel(r *site.Request) error {
	w, err := s.Fleet.Wheel(r.Ctx(), r.Actor, models.WheelID(r.Param("id")))
	if err != nil {
		return err
	}

	d := r.Depot(w.DepotID)
	p := wheelPage{
		Wheel:   w,
		Depot:   d,
		Zone:    r.Clock(d),
		Manages: r.Manages(),
		Planes:  planeWords(w.WheelGeometry, r.Units(d)),
		Spokes:  form.NumbersText(w.Spokes),
	}

	if w.SpokeWidth > 0 {
		p.SpokeWidth = p.Zone.WriteLength(w.SpokeWidth, units.MM)
	}

	for _, a := range w.Blocked {
		p.Blocked = append(p.Blocked, say.BlockedText(a))
	}

	for _, v := range w.RunOut {
		p.RunOut = append(p.RunOut, say.DescribeMeasure(v.TruenessMeasure)+", "+p.Zone.Date(v.At))
	}

	next := ""
	if p.Jobs, next, err = s.jobLines(r, fleet.JobFilter{WheelID: w.ID}, r.ListPage(site.PerPage), d); err != nil {
		return err
	}
	p.First, p.Next = r.Paging(next)
	return r.Show("wheel", "tires", "Wheel "+w.Number, p)
}

// planeWords describes where weights sit, as far as it was measured.
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

// jobLines lists the balance jobs of a tire or a wheel, newest first.
func (s *room) jobLines(
	r *site.Request,
	f fleet.JobFilter,
	page models.Page,
	d models.Depot,
) ([]jobLine, string, error) {
	jobs, next, err := s.Fleet.BalanceJobs(r.Ctx(), r.Actor, f, page)
	if err != nil {
		return nil, "", err
	}

	u, numbers := r.Units(d), map[models.VehicleID]models.Vehicle{}

	var out []jobLine
	for _, j := range jobs {
		l := jobLine{
			Card:     "/balance-jobs/" + string(j.Job.ID),
			Day:      r.Clock(d).Date(j.Job.At),
			Odometer: say.OdometerText(j.Job.Odometer, r.Clock(d)),
			Where:    "loose assembly",
			Tire:     j.Tire,
			Named:    f.WheelID != "",
			Lines:    say.DescribeBalance(j.Job, u),
		}

		if j.Job.VehicleID != "" {
			number, err := s.VehicleNumber(r, j.Job.VehicleID, numbers)
			if err != nil {
				return nil, "", err
			}
			l.Where = number
		}

		if j.Record.Drift != nil && j.Record.Drift.WorstG > 0 {
			l.Drift = say.DescribeDrift(*j.Record.Drift, u)
		}
		out = append(out, l)
	}

	return out, next, nil
}
