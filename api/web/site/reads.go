package site

import (
	"fmt"
	"strings"

	"rimledger/api/web/say"
	"rimledger/models"
	"rimledger/models/units"
)

// Units returns the style in which the person reads and writes at depot d, or
// across depots if d is none.
func (r *Request) Units(d models.Depot) units.Style {
	if d.ID == "" && len(r.Depots) > 0 {
		d = r.Depots[0]
	}
	return r.Actor.Style(d)
}

// Unitless is the person's notation, for a form that says its own units.
func (r *Request) Unitless() units.Style { return units.Style{Notation: r.Actor.Notation} }

// Clock returns the time of depot d, or of the first one if d is none.
func (r *Request) Clock(d models.Depot) say.Clock {
	if d.ID == "" && len(r.Depots) > 0 {
		d = r.Depots[0]
	}
	return say.Clock{Location: say.Zone(d), Style: r.Units(d)}
}

// readsAs finds out which depots the person sees and how the person reads.
func (r *Request) readsAs() error {
	var err error
	if r.Depots, err = r.Site.Fleet.Depots(r.Ctx(), r.Actor); err != nil {
		return err
	}
	r.Actor = r.Actor.Knowing(r.Depots)
	r.Actor.Notation = say.NotationOf(r.Actor.User.Notation, r.Request().Header.Get("Accept-Language"), r.Depots)
	return nil
}

// notationTag names the notation for scripts; empty: that of machines.
func (r *Request) notationTag() string {
	if n := r.Actor.Notation; n != nil {
		return n.Tag()
	}
	return ""
}

// Reads names the way in which the person's numbers are written: a phone
// that keeps some fetches them anew when it changes.
func (r *Request) Reads() string {
	parts := []string{r.notationTag()}
	for _, d := range r.Depots {
		u := r.Units(d)
		if set := fmt.Sprintf("%s %s %s", u.Depth, u.Pressure, u.Distance); set != parts[len(parts)-1] {
			parts = append(parts, set)
		}
	}
	return strings.Join(parts, ", ")
}
