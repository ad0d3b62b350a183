package say

import (
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/notation"
	"rimledger/models/units"
)

// Clock is the time of a depot as a person reads it.
type Clock struct {
	*time.Location
	units.Style
}

func (z Clock) Date(t time.Time) string { return z.WriteDate(t.In(z.Location)) }

func (z Clock) Moment(t time.Time) string { return z.WriteMoment(t.In(z.Location)) }

// Weekday writes a civil date such as 2026-12-03 with its day of the week.
func (z Clock) Weekday(civil string) string {
	t, err := time.Parse(time.DateOnly, civil)
	if err != nil {
		return civil
	}
	return z.WriteWeekday(t)
}

// NotationOf returns how a person's country writes: as the person chose, else as
// the browser asks, else as is usual where the first depot is.
func NotationOf(chosen, accepted string, depots []models.Depot) units.Notation {
	n := notation.OfReader(chosen, accepted)
	if n == nil && len(depots) > 0 {
		n = notation.OfPlace(depots[0].Jurisdiction)
	}
	if n == nil {
		return nil
	}
	return unbroken{n}
}

// unbroken writes dates that do not break at the end of a line.
type unbroken struct{ units.Notation }

var noBreak = strings.NewReplacer(" ", "\u00a0")

func (n unbroken) Date(t time.Time) string    { return noBreak.Replace(n.Notation.Date(t)) }
func (n unbroken) Weekday(t time.Time) string { return noBreak.Replace(n.Notation.Weekday(t)) }
func (n unbroken) Time(t time.Time) string    { return noBreak.Replace(n.Notation.Time(t)) }

// Zone returns the time zone of depot d, or UTC if its name is unknown.
func Zone(d models.Depot) *time.Location {
	z, err := d.Zone()
	if err != nil {
		return time.UTC
	}
	return z
}
