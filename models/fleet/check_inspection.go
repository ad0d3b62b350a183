package fleet

import (
	"fmt"
	"math"
	"slices"

	"rimledger/models"
	"rimledger/models/history"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// Bounds on one inspection.
const (
	maxGrooves  = 8
	maxStations = 36
)

func (c *checker) inspection(e *models.Inspection) {
	if len(e.Readings) == 0 && len(e.Vehicle) == 0 {
		c.faults.Add("readings", "", "must have at least one reading or observation; a note alone is no inspection")
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
		if r.Empty() {
			c.faults.Add(at+".depths", "", "nothing is said of %s: give depths, pressure, observations, photos or "+
				"not_reached", r.Position)
			continue
		}
		if !c.grid(at, r) || t == nil {
			continue
		}
		if c.leaves(*r) {
			continue
		}
		c.depths(at, r, t)

		c.pressure(at, r)
		if last := t.State.LastRead(); last != nil && sameDepths(last.Reading.Depths, r.Depths) {
			same++
		}
	}

	if same >= wear.Hold.SameWheels {
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

// depths asks about depths above new, and about those that the forecast, the last
// reading and the other grooves do not explain.
func (c *checker) depths(at string, r *models.Reading, t *models.TireWithState) {
	if _, ok := r.Min(); !ok {
		return
	}

	if c.aboveNew(at, r, t) {
		return
	}

	x := history.Expect(t.Tire, c.sc.vehicle, t.State)
	if x.From.After(c.h.At) {
		return
	}
	km, sd := x.Distance(history.UseOf(c.sc.vehicle, c.state), c.h)
	d, doubted := wear.Hold.Doubt(x.Compare(*r), history.GridOf(*r), km, sd)
	if !doubted {
		return
	}

	said := *r.Depths[d.Groove][d.Station]
	expected := c.style.WriteDepth(units.LengthFromMillimetres(max(d.ExpectedMM, 0)))
	field := fmt.Sprintf("%s.depths[%d][%d]", at, d.Groove, d.Station)
	code := fmt.Sprintf("%s:%s", d.What, r.Position)

	switch {
	case d.What == wear.DoubtUnit:
		other, unit := otherUnit(said)
		c.addHeld(code, at+".depths", said.Text,
			"%s at %s looks like %s: about %s is expected there; which unit is on the gauge?",
			c.typed(said), r.Position, c.style.WriteLength(other, unit), expected)
	case d.Grew:
		c.addHeld(code, field, said.Text,
			"%s at %s is deeper than it was last; about %s is expected there and tread does not grow: measure again",
			c.typed(said), r.Position, expected)
	default:
		c.addHeld(code, field, said.Text, "%s at %s: about %s is expected in this groove; measure again",
			c.typed(said), r.Position, expected)
	}
}

// aboveNew asks about depths that are deeper than the tread was when new, by more than
// new treads and gauges differ, and reports whether there are any.
func (c *checker) aboveNew(at string, r *models.Reading, t *models.TireWithState) (found bool) {
	deepest := slices.Max(t.Tire.NewDepths)
	for g, stations := range r.Depths {
		fresh := deepest
		if len(r.Depths) == len(t.Tire.NewDepths) {
			fresh = t.Tire.NewDepths[g]
		}

		for k, d := range stations {
			if d != nil && d.Value > fresh+units.LengthFromMillimetres(wear.Hold.NewMM) {
				found = true
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

	return found
}

func (c *checker) typed(d models.Depth) string { return c.style.WriteTypedDepth(d.Value, d.Text) }

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
	within := func(p units.Pressure, shares [2]float64) bool {
		return float64(p) > float64(target)*shares[0] && float64(p) < float64(target)*shares[1]
	}
	if within(p, wear.Hold.PressureFar) {
		return
	}

	for _, number := range []units.Pressure{p, units.Pressure(p.PSI()), units.Pressure(p.Bar())} { // as if typed in kPa, psi, bar
		for _, unit := range []units.Pressure{units.Kilopascal, units.PSI, units.Bar} {
			if within(number*unit, wear.Hold.PressureNear) {
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
