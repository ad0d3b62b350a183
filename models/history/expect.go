package history

import (
	"math"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// Expectation is what a wheel is expected to read next, and from where its course runs.
type Expectation struct {
	wear.Expected
	Stations []models.Station // where the last depths were read; empty: evenly spaced
	FromKM   float64          // the vehicle's odometer where the course begins
	From     time.Time        // when that was
	ByDays   bool             // no odometer: the distance comes from the days since From
}

// lastVariance is the variance in mm² of the mean of one reading: gauge and person.
const lastVariance = 0.05

// Expect returns what a tire in state s, mounted on v, is expected to read: by its wear
// estimate where that has taken in the last reading, else by that reading and the usual
// wear. A tire that was fitted new counts as read with its new depths. It returns false
// if nothing is known of its depths.
func Expect(t models.Tire, v models.Vehicle, s models.TireState) Expectation {
	var x Expectation
	read, est := s.LastRead(), s.MeanWear
	if read == nil {
		x.Last, x.NeverRead = newGrid(t), true
		if s.PlacedAt != nil {
			x.From = s.PlacedAt.At
		}
		if est != nil && est.Count == 0 {
			if course, ok := est.Course(); ok {
				x.Course, x.FromKM = course, est.XKM
				return x
			}
		}

		mean, _ := x.Last.Mean()
		x.Course, x.ByDays = wear.CourseUnknown(mean), true
		return x
	}

	x.Stations = read.Reading.Stations
	x.Last, x.From = inOneUnit(GridOf(read.Reading)), read.At
	mean, _ := x.Last.Mean()
	if est != nil && !est.Pending && math.Abs(est.LastMM-mean) < 0.01 {
		if course, ok := est.Course(); ok {
			x.Course, x.FromKM = course, est.XKM
			return x
		}
	}

	usual := prior(v, s.Position, &models.Meta{})
	if est != nil {
		usual = est.Prior
	}
	x.Course, x.ByDays = wear.CourseFrom(usual, mean, lastVariance), true
	return x
}

// Compare returns what r is to be compared with.
func (x Expectation) Compare(r models.Reading) wear.Expected {
	same := func(a, b models.Station) bool { return a.Deg == b.Deg }
	out := x.Expected
	out.Elsewhere = !slices.EqualFunc(x.Stations, r.Stations, same)
	return out
}

// Distance returns how far a wheel has run since its course began, in km, and the
// standard deviation of that, at the time and place of h on a vehicle with this use.
func (x Expectation) Distance(use wear.Use, h *models.Meta) (km, sdKM float64) {
	if h.AlongKnown && !x.ByDays {
		return math.Max(h.AlongKM-x.FromKM, 0), h.AlongSDKM
	}
	days := math.Max(Day(h.At)-Day(x.From), 0)
	return use.KMPerDay * days, use.DoubtKM(days)
}

// UseOf returns the use per day of a vehicle: its own, or what is usual for its class.
func UseOf(v models.Vehicle, s models.VehicleState) wear.Use {
	if s.Use.KMPerDay == 0 {
		return startUse(v)
	}
	return s.Use
}

// GridOf returns the depths of a reading.
func GridOf(r models.Reading) wear.Grid {
	var out wear.Grid
	for _, groove := range r.Depths {
		row := make([]wear.Cell, len(groove))
		for k, d := range groove {
			if d != nil {
				row[k] = wear.Cell{MM: d.Value.Millimetres(), In32: units.In32Typed(d.Text), Read: true}
			}
		}
		out = append(out, row)
	}
	return out
}

// inOneUnit returns g as if all of it were written in 32nds where any of it is.
func inOneUnit(g wear.Grid) wear.Grid {
	in32 := slices.ContainsFunc(g, func(row []wear.Cell) bool {
		return slices.ContainsFunc(row, func(c wear.Cell) bool { return c.In32 })
	})
	for _, row := range g {
		for k := range row {
			row[k].In32 = in32
		}
	}
	return g
}

// newGrid returns the depths of a new tread. They are in no gauge's steps: written in mm.
func newGrid(t models.Tire) wear.Grid {
	var out wear.Grid
	for _, d := range t.NewDepths {
		out = append(out, []wear.Cell{{MM: d.Millimetres(), Read: true}})
	}
	return out
}
