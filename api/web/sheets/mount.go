// Package sheets offers the record as CSV and XLSX and takes sheets in, after a dry
// run that shows what they would change.
package sheets

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
	s.Get("/sheets", r.sheets)
	s.Get("/sheets/file", r.exportSheet)
	s.Echo.POST("/sheets", s.SignedInWith(maxSheet+site.MaxForm, r.importSheet))
	return s.AddPages(templates)
}
