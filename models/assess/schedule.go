package assess

import (
	"cmp"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// Due is one kind of work that comes due on a vehicle, or a limit that its tires reach,
// however far ahead.
type Due struct {
	Code      models.FindingCode // of the finding that it becomes in time
	What      string             // in words, such as "rotation" or "pull point"
	Positions []models.Position  // places with this due; empty: the whole vehicle
	At        time.Time          // the first of distance and time
	Odometer  *units.Distance    // where it is due, if a distance decides and an odometer is known
	Limit     units.Length       // depth that is reached; 0: not about depth
	Years     int                // age that is reached; 0: not about age
	Overdue   bool               // At has come
	Estimated bool               // rests on use per day, on wear or on an estimated odometer
	Why       string             // the interval, or what the date rests on
}

// Schedule lists what comes due on a vehicle by intervals of the policy, by wear
// to the pull point or the legal minimum, and by age, earliest first. Places that
// share a date are one entry. A job whose interval has no beginning in the record is left
// out, such as the next alignment where none is recorded. A retired vehicle has none.
func Schedule(s Snapshot) []Due {
	var out []Due
	for _, d := range runChecks(s, true).dues {
		if i := slices.IndexFunc(out, d.sameLine); i >= 0 {
			out[i].Positions = append(out[i].Positions, d.Positions...)
			continue
		}
		d.Overdue = !d.At.After(s.Now)
		out = append(out, d)
	}
	slices.SortStableFunc(out, func(a, b Due) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.What, b.What)) })
	return out
}

// sameLine reports whether d and o differ only in their places.
func (d Due) sameLine(o Due) bool {
	sameOdometer := d.Odometer == nil && o.Odometer == nil ||
		d.Odometer != nil && o.Odometer != nil && *d.Odometer == *o.Odometer
	return sameOdometer && len(d.Positions) > 0 && len(o.Positions) > 0 &&
		d.Code == o.Code && d.What == o.What && d.At.Equal(o.At) && d.Limit == o.Limit && d.Years == o.Years &&
		d.Estimated == o.Estimated && d.Why == o.Why
}

// listAhead keeps what comes due at p, or on the whole vehicle if p is nil, for Schedule.
func (c *checker) listAhead(p *place, code models.FindingCode, d due, what string) {
	if !c.keepDues {
		return
	}

	l := Due{
		Code:      code,
		What:      what,
		At:        instant(d.at),
		Odometer:  d.odometer,
		Limit:     d.limit,
		Years:     d.years,
		Estimated: d.estimated,
		Why:       d.why,
	}
	if p != nil {
		l.Positions = []models.Position{p.at}
	}
	c.dues = append(c.dues, l)
}

// listDue keeps d for Schedule, and reports whether it is near enough to be shown as a
// finding.
func (c *checker) listDue(p *place, code models.FindingCode, d due, what string) bool {
	c.listAhead(p, code, d, what)
	return c.dueSoon(d)
}
