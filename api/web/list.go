package web

import (
	"fmt"

	"rimledger/models"
)

// listEnds is what stands around a list that comes in pages: how much of it is
// shown, and the ways on.
type listEnds struct {
	What  string // what is listed: vehicles
	First string // address of the first page, if this is not it
	Next  string // address of the next page; empty on the last one
	Found string // how many are shown, for people
	All   string // address of the list without its filter, if it has one
}

// counted is how far the entries of a list are counted.
const counted = 1000

// vehicleEnds tells of a page of vehicles as ends does, on the first page with
// how many there are in all.
func (s *site) vehicleEnds(r *request, q models.VehicleFilter, n int, next string, filtered bool) (listEnds, error) {
	e := r.ends("vehicle", "vehicles", n, next, filtered)
	if next == "" || e.First != "" {
		return e, nil
	}
	all, err := s.Fleet.CountVehicles(r.ctx(), r.actor, q, counted+1)
	if err != nil {
		return e, err
	}
	u := r.units(models.Depot{})
	of := "of " + u.WriteCount(int64(all))
	if all > counted {
		of = "of more than " + u.WriteCount(counted)
	}
	e.Found = fmt.Sprintf("The first %d %s vehicles.", n, of)
	if filtered {
		e.Found = fmt.Sprintf("The first %d %s vehicles that match.", n, of)
	}
	return e, nil
}

// ends tells of a page with n entries, and of what comes next.
func (r *request) ends(one, many string, n int, next string, filtered bool) listEnds {
	e := listEnds{What: many}
	if e.First, e.Next = r.paging(next); filtered {
		e.All = r.Request().URL.Path
	}
	switch more := e.First != ""; {
	case n == 0 && filtered:
		e.Found = "No " + one + " matches."
	case n == 0:
	case more && next != "":
		e.Found = fmt.Sprintf("%s; there are more.", plural(n, "more "+one, "more "+many))
	case more:
		e.Found = plural(n, "more "+one, "more "+many) + ", to the end of the list."
	case next != "" && filtered:
		e.Found = fmt.Sprintf("The first %d %s that match; there are more.", n, many)
	case next != "":
		e.Found = fmt.Sprintf("The first %d %s; there are more.", n, many)
	case filtered:
		e.Found = plural(n, one+" matches.", many+" match.")
	default:
		e.Found = plural(n, one, many) + "."
	}
	return e
}
