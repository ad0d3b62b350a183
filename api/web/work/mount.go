// Package work is the forms by which work on a vehicle, or on a tire off any
// vehicle, is recorded: fitting, rotation, repairs, checks, withdrawals, moves.
// Each form shows the usual cautions where the work is.
package work

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
	s.Works = vehicleWorks()
	s.Get("/vehicles/:id/do/:kind", r.workForm)
	s.Post("/vehicles/:id/do/:kind", r.workDone)
	s.Get("/tires/:id/move", site.Managing(r.moveForm))
	s.Post("/tires/:id/move", site.Managing(r.moveDone))
	s.Get("/tires/:id/withdraw", r.withdrawLoose)
	s.Post("/tires/:id/withdraw", r.withdrawnLoose)
	return s.AddPages(templates)
}
