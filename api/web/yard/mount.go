// Package yard is what a technician uses at the vehicle: the page of which a phone
// keeps a copy with the data for it, inspection entry without a script, and
// labels whose codes open an inspection. Lengths for the phone are whole
// nanometres and pressures kPa, so that it compares as the server does.
//
// # The phone waits eight seconds for its turn to send (2026-11-25)
//
// Context: several pages and the worker of one phone may want to send the same
// inspection. Choice: one of them sends at a time, under a lock of the browser
// (send.js); whoever does not get the lock within eight seconds sends anyway, which
// does no harm since the server knows the ids. A person who signs out without a
// network is signed out at the server before anything else is asked of it
// (reportLeaving in keep.js). Rejected: to wait for the lock for ever, since a page that
// died can leave it behind.
//
// # A reading on the phone names its place, not its tire (2026-11-25)
//
// Choice: the server fills in the tire that was at the place at the time of the
// inspection, by the record: that tire was measured. The phone may have an older list.
//
// # Tests read labels with a library of its own (2026-11-25)
//
// Choice: gozxing reads the codes in labels_read_test.go; it shares no code with the
// writer, so it cannot repeat a fault of the writer.
//
// # An inspection keeps the units it was begun in (2026-11-26)
//
// Context: a person can change units while numbers are kept on the phone. Choice: the
// page (data-reads) and /yard/who (reads) name how a person reads. When the two differ,
// the phone fetches the vehicles anew. Numbers that were kept under other units are not
// put back into the plain form.
package yard

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
	s.Get("/yard", r.yard)
	s.Get("/yard/waiting", r.yard)
	s.Echo.GET("/yard/who", r.yardData(r.yardWho))
	s.Echo.GET("/yard/sheet", r.yardData(r.yardSheet))
	s.Get("/vehicles/:id/inspect", r.inspect)
	s.Post("/vehicles/:id/inspect", r.postInspection)
	s.Get("/labels", r.labels)
	return s.AddPages(templates)
}
