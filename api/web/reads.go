package web

import (
	"fmt"
	"strings"
	"sync"
	"time"

	"rimledger/models"
	"rimledger/models/notation"
	"rimledger/models/units"
)

// units returns the style in which the person reads and writes at depot d, or
// across depots if d is none.
func (r *request) units(d models.Depot) units.Style {
	if d.ID == "" && len(r.depots) > 0 {
		d = r.depots[0]
	}
	return r.actor.Style(d)
}

// unitless is the person's notation, for a form that says its own units.
func (r *request) unitless() units.Style { return units.Style{Notation: r.actor.Notation} }

// clock is the time of a depot as a person reads it.
type clock struct {
	*time.Location
	units.Style
}

// clock returns the time of depot d, or of the first one if d is none.
func (r *request) clock(d models.Depot) clock {
	if d.ID == "" && len(r.depots) > 0 {
		d = r.depots[0]
	}
	return clock{zone(d), r.units(d)}
}

func (z clock) date(t time.Time) string { return z.WriteDate(t.In(z.Location)) }

func (z clock) moment(t time.Time) string { return z.WriteMoment(t.In(z.Location)) }

// weekday writes a civil date such as 2026-12-03 with its day of the week.
func (z clock) weekday(civil string) string {
	t, err := time.Parse(time.DateOnly, civil)
	if err != nil {
		return civil
	}
	return z.WriteWeekday(t)
}

// readsAs finds out which depots the person sees and how the person reads.
func (r *request) readsAs() error {
	var err error
	if r.depots, err = r.site.Fleet.Depots(r.ctx(), r.actor); err != nil {
		return err
	}
	r.actor = r.actor.Knowing(r.depots)
	r.actor.Notation = notationOf(r.actor.User.Notation, r.Request().Header.Get("Accept-Language"), r.depots)
	return nil
}

// notationOf returns how a person's country writes: as the person chose, else as
// the browser asks, else as is usual where the first depot is.
func notationOf(chosen, accepted string, depots []models.Depot) units.Notation {
	n := notation.OfReader(chosen, accepted)
	if n == nil && len(depots) > 0 {
		n = notation.OfPlace(depots[0].Jurisdiction)
	}
	if n == nil {
		return nil
	}
	return unbroken{n}
}

// notationTag names the notation for scripts; empty: that of machines.
func (r *request) notationTag() string {
	if n := r.actor.Notation; n != nil {
		return n.Tag()
	}
	return ""
}

// reads tells apart the ways in which the person's numbers are written: a phone
// that keeps some fetches them anew when it changes.
func (r *request) reads() string {
	parts := []string{r.notationTag()}
	for _, d := range r.depots {
		u := r.units(d)
		if set := fmt.Sprintf("%s %s %s", u.Depth, u.Pressure, u.Distance); set != parts[len(parts)-1] {
			parts = append(parts, set)
		}
	}
	return strings.Join(parts, ", ")
}

// unbroken writes dates that do not break at the end of a line.
type unbroken struct{ units.Notation }

var noBreak = strings.NewReplacer(" ", "\u00a0")

func (n unbroken) Date(t time.Time) string    { return noBreak.Replace(n.Notation.Date(t)) }
func (n unbroken) Weekday(t time.Time) string { return noBreak.Replace(n.Notation.Weekday(t)) }
func (n unbroken) Time(t time.Time) string    { return noBreak.Replace(n.Notation.Time(t)) }

// zone returns the time zone of depot d, UTC if it has none that is known here.
func zone(d models.Depot) *time.Location {
	if z, known := zones.Load(d.TimeZone); known {
		return z.(*time.Location)
	}
	z, err := time.LoadLocation(d.TimeZone)
	if err != nil {
		return time.UTC
	}
	zones.Store(d.TimeZone, z)
	return z
}

// zones are the clocks that were asked for, by name: reading one from the disk
// takes longer than a line of a list.
var zones sync.Map // string to *time.Location
