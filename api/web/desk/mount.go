// Package desk is where a manager reads what to do: the attention list with its
// bookings, what changed, what is due as a list and as a calendar, what to order,
// the digest, and help.
//
// # The calendar's address contains a token of its own (2026-11-25)
//
// Context: calendar programs cannot sign in, so the address itself gives access.
// Choice: a token that opens the feed and nothing else (models.Token.Feed), as the key
// in the query. Rejected: a key in the path, since paths are logged and queries are
// not.
//
// # A copy of a digest is claimed before it is mailed (2026-11-26)
//
// Context: a button pressed twice must not mail twice. Choice: digestToMe claims the id
// of the form (fleet.ClaimCopy) and only then mails. If the mail fails, the page shows
// a form with a new id, so that the person can press again.
package desk

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
	s.Get("/", r.attention)
	s.Post("/", r.bookIn)
	s.Get("/changed", r.changed)
	s.Get("/findings/:id", r.finding)
	s.Post("/findings/:id/acknowledge", r.acknowledge)
	s.Get("/due", r.due)
	s.Get("/due/calendar", r.month)
	s.Echo.GET("/calendar.ics", r.feed)
	s.Get("/order", r.order)
	s.Get("/digest", r.digest)
	s.Post("/digest", r.digestToMe)
	s.Get("/help", r.help)

	return s.AddPages(templates)
}
