package site

import (
	"fmt"
	"slices"

	"rimledger/api/web/say"
	"rimledger/models"
)

// WithdrawAddress is the address of the form that withdraws e; empty if the person
// may not, or e no longer counts.
func (r *Request) WithdrawAddress(e models.Event) string {
	h := e.Header()
	about := e.TireIDs()
	switch {
	case !r.Records() || h.SupersededBy != "" || e.Kind() == models.KindVoid:
		return ""
	case h.VehicleID != "":
		return "/vehicles/" + string(h.VehicleID) + "/do/withdraw?supersedes=" + string(h.ID)
	case len(about) > 0:
		return "/tires/" + string(about[0]) + "/withdraw?supersedes=" + string(h.ID)
	}
	return ""
}

// GoneText says when, by whom and why e was withdrawn or replaced; empty if it still
// counts. known are events already at hand.
func (r *Request) GoneText(e models.Event, known []models.Event, z say.Clock) string {
	by := e.Header().SupersededBy
	if by == "" {
		return ""
	}
	i := slices.IndexFunc(known, func(k models.Event) bool { return k.Header().ID == by })

	var last models.Event
	if i >= 0 {
		last = known[i]
	} else if found, err := r.Site.Fleet.Event(r.Ctx(), r.Actor, by); err == nil {
		last = found
	} else {
		return "withdrawn or replaced by a later entry"
	}

	what := "replaced"
	if last.Kind() == models.KindVoid {
		what = "withdrawn"
	}

	h := last.Header()
	return fmt.Sprintf("%s %s by %s: %s", what, z.Date(h.RecordedAt), h.Person, h.Reason)
}
