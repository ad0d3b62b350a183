// Package bench is the page at the balancing machine: what was shown, which weights
// to fit where, what is left against the limits that apply, the card of a job, and
// the sums of the trade. Angles are degrees clockwise from the valve, seen from
// outside the vehicle.
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
