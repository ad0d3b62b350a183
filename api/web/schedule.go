package web

import (
	"slices"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/units"
)

// schedule is what the vehicle page shows of what comes due: within a year, and
// later; nil where there is nothing.
type schedule struct {
	Soon, Later *dueTable
	Retired     bool
}

type dueTable struct {
	Name  string
	Lines []assess.Due
	Zone  clock
	Units units.Style
}

func (s *site) schedule(r *request, v models.Vehicle, u units.Style, z clock) (schedule, error) {
	all, err := s.Fleet.VehicleDue(r.ctx(), r.actor, v.ID) // earliest first
	out := schedule{Retired: v.Retired}
	year := r.now.AddDate(1, 0, 0)
	n := slices.IndexFunc(all, func(d assess.Due) bool { return d.At.After(year) })
	if n < 0 {
		n = len(all)
	}
	if n > 0 {
		out.Soon = &dueTable{"Table of what is due within a year", all[:n], z, u}
	}
	if n < len(all) {
		out.Later = &dueTable{"Table of what is due further than a year ahead", all[n:], z, u}
	}
	return out, err
}
