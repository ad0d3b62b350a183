package record

import (
	"slices"

	"rimledger/api/web/say"
	"rimledger/api/web/site"
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
	Zone  say.Clock
	Units units.Style
}

func (s *room) schedule(r *site.Request, v models.Vehicle, u units.Style, z say.Clock) (schedule, error) {
	all, err := s.Fleet.VehicleDue(r.Ctx(), r.Actor, v.ID) // earliest first
	out := schedule{Retired: v.Retired}
	year := r.Now.AddDate(1, 0, 0)
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
