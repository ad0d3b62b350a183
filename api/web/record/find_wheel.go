package record

import (
	"rimledger/api/web/draw"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/fleet"
)

// findPage is the guided run for the wheel behind a complaint.
type findPage struct {
	fleet.VehicleView
	Search assess.Search
	Any    bool
	Rows   []findRow
	Course *draw.Course // nil if the driver named no speed
}

type findRow struct {
	assess.SearchWheel
	When  string
	Shown string
	Next  bool
}

func (s *room) findWheel(r *site.Request) error {
	v, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, models.VehicleID(r.Param("id")))
	if err != nil {
		return err
	}

	p := findPage{VehicleView: v}
	p.Search, p.Any = assess.FindWheel(
		assess.Snapshot{
			Now:     r.Now,
			Zone:    say.Zone(v.Depot),
			Depot:   v.Depot,
			Policy:  v.Policy,
			Vehicle: v.Vehicle,
			State:   v.State,
			Tires:   v.Tires,
		},
	)

	u := r.Units(v.Depot)
	for i, says := range p.Search.Says {
		p.Search.Says[i] = models.Capitalize(u.Render(says))
	}

	p.Search.Elsewhere, p.Search.Then = u.Render(p.Search.Elsewhere), u.Render(p.Search.Then)
	p.Search.Clears = u.Render(p.Search.Clears)
	p.Course = draw.NewCourse(p.Search.Reading, u)

	for _, w := range p.Search.Wheels {
		row := findRow{SearchWheel: w, Next: w.Position == p.Search.Next}
		if w.Record != nil {
			row.When = r.Clock(v.Depot).Moment(w.Record.At)
			row.Shown = u.Render(w.Over)
		}
		p.Rows = append(p.Rows, row)
	}

	return r.Show("findwheel", "vehicles", "Find the wheel: "+v.Vehicle.Number, p)
}
