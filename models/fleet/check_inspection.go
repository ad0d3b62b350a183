package fleet

import (
	"fmt"
	"math"
	"slices"

	"rimledger/models"
	"rimledger/models/units"
)

// Bounds on one inspection.
const (
	maxGrooves  = 8
	maxStations = 36
)

func (c *checker) inspection(e *models.Inspection) {
	if len(e.Readings) == 0 && len(e.Vehicle) == 0 && e.Note == "" {
		c.faults.Add("readings", "", "must have at least one reading or observation")
	}

	if e.Gauge.Resolution < 0 || e.Gauge.Resolution > 2*units.Millimetre {
		c.faults.Add(
			"gauge.resolution",
			units.FormatLength(e.Gauge.Resolution, units.MM),
			"must be 0 (not known) to 2 mm",
		)
	}

	seen := map[models.Position]bool{}

	same := 0
	for i := range e.Readings {
		r := &e.Readings[i]

		at := fmt.Sprintf("readings[%d]", i)
		if seen[r.Position] {
			c.faults.Add(
				at+".position",
				string(r.Position),
				"is read twice; give both depths as stations of one reading",
			)
		}

		seen[r.Position] = true
		t := c.tireAt(at+".position", r.Position)
		c.fillTireID(at+".tire_id", &r.TireID, t)
		c.observations(at+".observations", r.Observations, models.PositionCodes)
		if !c.grid(at, r) || t == nil {
			continue
		}
		c.depths(at, r, t)

		c.pressure(at, r)
		if last := t.State.LastRead(); last != nil && sameDepths(last.Reading.Depths, r.Depths) {
			same++
		}
	}

	if same >= 4 {
		c.addHeld(
			"same_as_last",
			"readings",
			fmt.Sprint(same),
			"%d wheels read exactly as last time; measure again, or confirm that these were measured today",
			same,
		)
	}

	c.observations("vehicle", e.Vehicle, models.VehicleCodes)
}

// grid checks the shape of the depths: grooves with the same stations each.
func (c *checker) grid(at string, r *models.Reading) bool {
	ok := true
	if n := len(r.Depths); n > maxGrooves {
		c.faults.Add(at+".depths", fmt.Sprint(n), "must be at most %d grooves, outboard to inboard", maxGrooves)
		return false
	}

	for g, stations := range r.Depths {
		name := fmt.Sprintf("%s.depths[%d]", at, g)
		if n := len(stations); n < 1 || n > maxStations || n != len(r.Depths[0]) {
			c.faults.Add(
				name,
				fmt.Sprint(n),
				"must have the same stations as the other grooves, 1 to %d; leave null what was not read",
				maxStations,
			)
			ok = false
		}

		for k, d := range stations {
			if d != nil && (d.Value < 0 || d.Value > units.MaxDepth) {
				c.faults.Add(fmt.Sprintf("%s[%d]", name, k), d.Text, "must be 0 to 26 mm (32/32 in)")
				ok = false
			}
		}
	}

	if !c.stations(at, r) {
		ok = false
	}

	if _, measured := r.Min(); len(r.Depths) > 0 && !measured {
		c.faults.Add(at+".depths", "", "have no reading; leave depths out if none was taken")
		ok = false
	}

	return ok
}

// leastStations is how many stations are worth naming: one or two say nothing of the way
// around.
const leastStations = 3

// stations checks where the stations lie around the tire, if that is named, and turns a
// length by tape into an angle.
func (c *checker) stations(at string, r *models.Reading) bool {
	n := len(r.Stations)
	if n == 0 {
		return true
	}

	read := 0
	if len(r.Depths) > 0 {
		read = len(r.Depths[0])
	}
	switch {
	case n < leastStations:
		c.faults.Add(at+".stations", fmt.Sprint(n), "must be at least %d places around the tire; "+
			"without them depths are read evenly spaced from the valve", leastStations)
		return false
	case n != read:
		c.faults.Add(at+".stations", fmt.Sprint(n), "must be %d, one for each depth of a groove", read)
		return false
	}

	ok := true
	for k := range r.Stations {
		name := fmt.Sprintf("%s.stations[%d]", at, k)
		if why := r.Stations[k].Resolve(r.Around); why != "" {
			c.faults.Add(name, r.Stations[k].Text, "%s", why)
			ok = false
		} else if why := inOrder(r.Stations[:k+1]); why != "" {
			c.faults.Add(name, r.Stations[k].Text, "%s", why)
			ok = false
		}
	}
	return ok
}

// inOrder says what is wrong with the last of some stations beside those before it.
func inOrder(s []models.Station) string {
	last := s[len(s)-1]
	for _, before := range s[:len(s)-1] {
		if apart := math.Abs(last.Deg - before.Deg); apart < 1 || apart > 359 {
			return fmt.Sprintf("is the same place as %s; name each place once", before.Text)
		}
	}
	if len(s) < 2 || last.Deg >= s[len(s)-2].Deg {
		return ""
	}
	return fmt.Sprintf("comes before %s; name the places clockwise from the valve, seen from outside", s[len(s)-2].Text)
}

func (c *checker) observations(name string, all []models.Observation, allowed []models.ObservationCode) {
	for i, o := range all {
		at := fmt.Sprintf("%s[%d]", name, i)
		if !slices.Contains(allowed, o.Code) {
			c.faults.Add(at+".code", string(o.Code), "must be one of %v", allowed)
		}
		if o.Count < 0 || o.Count > 60 {
			c.faults.Add(at+".count", fmt.Sprint(o.Count), "must be 0 (not counted) to 60")
		}
		oneOf(&c.faults, at+".direction", o.Direction, "", "inward", "outward")

		oneOf(
			&c.faults,
			at+".place",
			o.Place,
			"",
			"outer_shoulder",
			"outer",
			"center",
			"inner",
			"inner_shoulder",
			"sidewall_outer",
			"sidewall_inner",
		)

		if why := models.CleanText(o.Note); why != "" || len(o.Note) > 500 {
			c.faults.Add(at+".note", fmt.Sprintf("%.40q", o.Note), "must be clean text of at most 500 characters")
		}
		if o.Size < 0 || o.Spacing < 0 {
			c.faults.Add(at+".size", "", "must not be negative")
		}
	}
}

// riseHeld is the rise of depth that asks for a confirmation: two 32nds cannot
// be gauge noise (threshold judged from gauge error tables).
const riseHeld = 2 * units.ThirtySecond

// depths asks about depths above new, deeper than last time, or in the other unit.
func (c *checker) depths(at string, r *models.Reading, t *models.TireWithState) {
	least, ok := r.Min()
	if !ok {
		return
	}

	deepest := slices.Max(t.Tire.NewDepths)
	for g, stations := range r.Depths {
		fresh := deepest
		if len(r.Depths) == len(t.Tire.NewDepths) {
			fresh = t.Tire.NewDepths[g]
		}

		for k, d := range stations {
			if d != nil && d.Value > fresh {
				c.addHeld(
					"above_new:"+string(r.Position),
					fmt.Sprintf("%s.depths[%d][%d]", at, g, k),
					d.Text,
					"%s is deeper than the %s this groove had when new; right position, tire and unit?",
					c.typed(*d),
					c.style.WriteDepth(fresh),
				)
			}
		}
	}

	last := t.State.LastRead()
	if last == nil {
		return
	}
	before, known := last.Reading.Min()
	if !known || last.At.After(c.h.At) {
		return
	}

	if other, unit := otherUnit(least); distance(other, before.Value) <= units.ThirtySecond &&
		distance(least.Value, before.Value) >= riseHeld {
		c.addHeld(
			"unit:"+string(r.Position),
			at+".depths",
			least.Text,
			"%s at %s looks like %s: last time it was %s; which unit is on the gauge?",
			c.typed(least),
			r.Position,
			c.style.WriteLength(other, unit),
			c.typed(before),
		)

		return
	}

	if least.Value-before.Value >= riseHeld {
		c.addHeld(
			"depth_rise:"+string(r.Position),
			at+".depths",
			least.Text,
			"%s at %s is deeper than the %s of %s; tread does not grow: measure again",
			c.typed(least),
			r.Position,
			c.typed(before),
			c.style.WriteDate(last.At),
		)
	}
}

func (c *checker) typed(d models.Depth) string { return c.style.WriteTypedDepth(d.Value, d.Text) }

func distance(a, b units.Length) units.Length { return max(a-b, b-a) }

// otherUnit returns what d would be if the number had been meant in the other
// unit of depth, and which that is.
func otherUnit(d models.Depth) (units.Length, units.Unit) {
	if units.In32Typed(d.Text) {
		return units.LengthFromMillimetres(d.Value.ThirtySeconds()), units.MM
	}
	return units.Length(d.Value.Millimetres() * float64(units.ThirtySecond)), units.In32
}

// pressure asks about a number that fits the target only in another unit.
func (c *checker) pressure(at string, r *models.Reading) {
	target := c.sc.vehicle.AxleAt(r.Position).Pressure.Value
	if r.Pressure == nil || target <= 0 {
		return
	}
	p := r.Pressure.Value
	if p > target*2/5 && p < target*2 {
		return
	}

	for _, number := range []units.Pressure{p, units.Pressure(p.PSI()), units.Pressure(p.Bar())} { // as if typed in kPa, psi, bar
		for _, unit := range []units.Pressure{units.Kilopascal, units.PSI, units.Bar} {
			if q := number * unit; q > target*3/4 && q < target*5/4 {
				c.addHeld(
					"pressure_unit:"+string(r.Position),
					at+".pressure",
					r.Pressure.Text,
					"%s at %s is far from the target of %s; the same number in another unit is not: which unit is "+
						"on the gauge?",
					c.style.WriteTypedPressure(p, r.Pressure.Text),
					r.Position,
					c.style.WritePressure(target),
				)

				return
			}
		}
	}
}

func sameDepths(a, b [][]*models.Depth) bool {
	if len(a) == 0 {
		return false
	}
	return slices.EqualFunc(a, b, func(x, y []*models.Depth) bool {
		return slices.EqualFunc(x, y, func(p, q *models.Depth) bool {
			return p == nil && q == nil || p != nil && q != nil && p.Value == q.Value
		})
	})
}
