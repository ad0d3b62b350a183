package web

import "fmt"

// listEnds is what stands around a list that comes in pages: how much of it is
// shown, and the ways on.
type listEnds struct {
	What  string // what is listed: vehicles
	First string // address of the first page, if this is not it
	Next  string // address of the next page; empty on the last one
	Found string // how many are shown, for people
	All   string // address of the list without its filter, if it has one
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
