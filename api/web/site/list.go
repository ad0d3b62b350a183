package site

import (
	"fmt"
	"net/url"
	"time"

	"rimledger/api/web/say"
	"rimledger/models"
)

// PerPage is how many entries a list shows at once.
const PerPage = 25

// ListFilter is the filter of a list of vehicles as the address says it.
type ListFilter struct {
	Path                                         string // of the list
	Apart                                        bool   // the search is above the other fields
	Depot, Class, Urgency, Code, Due, Text, Sort string
	Depots                                       []models.Depot
	Classes                                      []models.Class
	Urgencies                                    []models.Urgency
	Codes                                        []models.FindingCode
	Problem                                      string // what of the address could not be read
	Any                                          bool
}

// InUse reports whether any of the fields is used that can be folded away.
func (f ListFilter) InUse() bool {
	return f.Depot+f.Class+f.Urgency+f.Code+f.Due != "" || f.Text != "" && !f.Apart
}

// VehicleFilter reads the filter from the address. What cannot be read is said and
// left out: a shared link should still show a list.
func (r *Request) VehicleFilter() (ListFilter, models.VehicleFilter) {
	f := ListFilter{
		Path:      r.Request().URL.Path,
		Depot:     r.QueryParam("depot"),
		Class:     r.QueryParam("class"),
		Urgency:   r.QueryParam("urgency"),
		Code:      r.QueryParam("code"),
		Due:       r.QueryParam("due"),
		Text:      r.QueryParam("q"),
		Sort:      r.QueryParam("sort"),
		Depots:    r.Depots,
		Classes:   models.Classes,
		Urgencies: say.Urgencies,
		Codes:     say.FindingCodes,
	}

	q := models.VehicleFilter{Code: models.FindingCode(f.Code), Text: f.Text}
	if len(f.Text) > 100 || models.CleanText(f.Text) != "" {
		f.Problem, q.Text = "The search text must be clean text of at most 100 characters.", ""
	}
	if f.Depot != "" {
		q.Depots = []models.DepotID{models.DepotID(f.Depot)}
	}

	if f.Class != "" {
		q.Class = models.Class(f.Class)
		if !q.Class.Valid() {
			f.Problem, q.Class = "There is no such class of vehicle.", ""
		}
	}

	if f.Urgency != "" {
		u, err := models.ParseUrgency(f.Urgency)
		if err != nil {
			f.Problem = "There is no such urgency; choose one of the four words."
		}
		q.Urgency = u
	}

	if f.Code != "" && say.Explanations[q.Code] == "" {
		f.Problem, q.Code = "There is no such kind of finding.", ""
	}

	if f.Due != "" {
		due, err := time.ParseInLocation(time.DateOnly, f.Due, say.Zone(r.Depot(models.DepotID(f.Depot))))
		if err != nil {
			f.Problem = "The date is not one; write it as 2026-11-25."
		} else {
			q.DueBefore = due.AddDate(0, 0, 1)
		}
	}

	f.Any = f.Depot+f.Class+f.Urgency+f.Code+f.Due+f.Text != ""
	return f, q
}

// AddressWith returns the present address with one value changed, from the first page.
func (r *Request) AddressWith(name, value string) string {
	q := url.Values{}
	for k, v := range r.QueryParams() {
		if k != "said" && k != "after" && len(v) > 0 && v[0] != "" {
			q.Set(k, v[0])
		}
	}

	if value == "" {
		q.Del(name)
	} else {
		q.Set(name, value)
	}

	if len(q) == 0 {
		return r.Request().URL.Path
	}
	return r.Request().URL.Path + "?" + q.Encode()
}

// Paging returns the addresses of the first and of the next page.
func (r *Request) Paging(next string) (firstPage, nextPage string) {
	if r.QueryParam("after") != "" {
		firstPage = r.AddressWith("after", "")
	}
	if next != "" {
		nextPage = r.AddressWith("after", next)
	}
	return firstPage, nextPage
}

func (r *Request) ListPage(limit int) models.Page {
	return models.Page{After: r.QueryParam("after"), Limit: limit}
}

// ListEnds is what a page shows above and below a part of a list: how much of the
// list it is, and links to the other parts.
type ListEnds struct {
	What  string // what is listed: vehicles
	First string // address of the first page, if this is not it
	Next  string // address of the next page; empty on the last one
	Found string // how many are shown, for people
	All   string // address of the list without its filter, if it has one
}

// counted is how far the entries of a list are counted.
const counted = 1000

// VehicleEnds describes a page of vehicles as ListEnds does, on the first page with
// how many there are in all.
func (s *Site) VehicleEnds(r *Request, q models.VehicleFilter, n int, next string, filtered bool) (ListEnds, error) {
	e := r.ListEnds("vehicle", "vehicles", n, next, filtered)
	if next == "" || e.First != "" {
		return e, nil
	}
	all, err := s.Fleet.CountVehicles(r.Ctx(), r.Actor, q, counted+1)
	if err != nil {
		return e, err
	}

	u := r.Units(models.Depot{})
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

// ListEnds describes a page with n entries, and what comes next.
func (r *Request) ListEnds(one, many string, n int, next string, filtered bool) ListEnds {
	e := ListEnds{What: many}
	if e.First, e.Next = r.Paging(next); filtered {
		e.All = r.Request().URL.Path
	}

	switch more := e.First != ""; {
	case n == 0 && filtered:
		e.Found = "No " + one + " matches."
	case n == 0:
	case more && next != "":
		e.Found = fmt.Sprintf("%s; there are more.", say.Plural(n, "more "+one, "more "+many))
	case more:
		e.Found = say.Plural(n, "more "+one, "more "+many) + ", to the end of the list."
	case next != "" && filtered:
		e.Found = fmt.Sprintf("The first %d %s that match; there are more.", n, many)
	case next != "":
		e.Found = fmt.Sprintf("The first %d %s; there are more.", n, many)
	case filtered:
		e.Found = say.Plural(n, one+" matches.", many+" match.")
	default:
		e.Found = say.Plural(n, one, many) + "."
	}

	return e
}
