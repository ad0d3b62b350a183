// Package record shows vehicles, tires and wheels with their history, compares
// inspections, and has the forms that create and edit them. What happened to them
// is entered in the rooms work, yard and bench.
package record

import (
	"embed"

	"rimledger/api/web/draw"
	"rimledger/api/web/site"
)

//go:embed templates
var templates embed.FS

// room answers the pages of this package.
type room struct{ *site.Site }

// Mount adds the pages to s. It fails only if an embedded template is broken.
func Mount(s *site.Site) error {
	r := &room{s}
	s.Get("/vehicles", r.vehicles)
	s.Get("/vehicles/:id", r.vehicle)
	s.Get("/vehicles/:id/at/:position", r.place)
	s.Get("/vehicles/:id/compare", r.compare)
	s.Get("/vehicles/:id/find-wheel", r.findWheel)
	s.Get("/tires", r.tires)
	s.Get("/tires/:id", r.tire)
	s.Get("/wheels", r.wheels)
	s.Get("/wheels/:id", r.wheel)
	r.vehicleAsset().mount(s)
	r.tireAsset().mount(s)
	r.wheelAsset().mount(s)

	return s.AddPages(draw.Templates, templates)
}
