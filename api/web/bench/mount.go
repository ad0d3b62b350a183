// Package bench is the page at the balancing machine: what was shown, which weights
// to fit where, what is left against the limits that apply, the card of a job, and
// the sums of the trade. Angles are degrees clockwise from the valve, seen from
// outside the vehicle.
//
// # What is worked out is swapped by id, what is typed is not (2026-11-26)
//
// Context: the result follows the typing, and a button that is replaced under a finger
// loses the tap. Choice: the answer to a change has only the worked-out parts
// (benchparts in page_bench.html), each swapped into the element with its id. Fields
// and buttons stay. A details element stays outside the swapped parts, or it would
// close at each change. The request hangs on a div inside the form. Rejected: a
// request of the form itself, to which htmx adds the button that was last pressed and
// its formaction.
package bench

import (
	"embed"

	"rimledger/api/web/site"
)

//go:embed templates
var templates embed.FS

// room answers the pages of this package.
type room struct{ *site.Site }

// Mount adds the pages to s. It fails only if an embedded template is broken.
func Mount(s *site.Site) error {
	r := &room{s}
	for _, path := range []string{"/vehicles/:id/bench/:position", "/tires/:id/bench"} {
		s.Get(path, r.bench)
		s.Post(path, r.postBench)
	}
	s.Get("/bench", r.benchSums)
	s.Get("/balance-jobs/:id", r.balanceCard)
	return s.AddPages(templates)
}
