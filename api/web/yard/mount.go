// Package yard is what a technician uses at the vehicle: the page of which a phone
// keeps a copy with the data for it, inspection entry without a script, and
// labels whose codes open an inspection. Lengths for the phone are whole
// nanometres and pressures kPa, so that it compares as the server does.
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
