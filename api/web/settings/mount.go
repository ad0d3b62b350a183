// Package settings is how people set up the tool: their own units, password and
// tokens; depots with their policies, rules, boxes of weights and digests; people;
// the rules of law that apply; the audit trail.
//
// # Laws are folded by country (2026-11-26)
//
// Context: the page of rules lists every law. Choice: one details element a law; those
// that a depot of the person has chosen come first and open, the others closed. On
// paper all are open.
package settings

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
	s.Get("/settings", r.settings)
	s.Post("/settings/units", r.setUnits)
	s.Post("/settings/password", r.setPassword)
	s.Post("/settings/tokens", r.addToken)
	s.Post("/settings/tokens/:id/revoke", r.revokeToken)
	s.Post("/settings/calendar", r.addFeed)
	s.Get("/settings/rules", r.rules)
	s.Get("/settings/audit", r.audit)

	s.Get("/settings/depots/new", r.newDepot)
	s.Post("/settings/depots/new", r.addDepot)
	s.Get("/settings/depots/:id", r.depotForm)
	s.Post("/settings/depots/:id", r.editDepot)
	s.Get("/settings/depots/:id/policy/:class", r.policyForm)
	s.Post("/settings/depots/:id/policy/:class", r.setPolicy)

	s.Get("/settings/people", r.people)
	s.Get("/settings/people/new", r.newPerson)
	s.Post("/settings/people/new", r.addPerson)
	s.Get("/settings/people/:id", r.personForm)
	s.Post("/settings/people/:id", r.editPerson)
	s.Post("/settings/people/:id/password", r.resetPassword)

	return s.AddPages(templates)
}
