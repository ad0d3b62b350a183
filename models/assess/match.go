package assess

import (
	"fmt"
	"time"

	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/tiresize"
	"rimledger/models/units"
)

// pairs compares dual mates and axle mates, and finds empty places.
func (c *checker) pairs() {
	at := map[models.Position]models.TireWithState{}
	for _, t := range c.Tires {
		at[t.State.Position] = t
	}
	for _, p := range c.Vehicle.Positions() {
		t, here := at[p]
		if !here {
			if !p.IsSpare() {
				c.add(nil, models.Finding{Code: models.EmptyPosition, Position: p, Urgency: models.Watch, Since: c.Vehicle.CreatedAt,
					Title: fmt.Sprintf("no tire in the record at %s", p), FirstJob: "Record the tire that is there, or fit one."})
			}
			continue
		}
		if mate, ok := at[p.DualMate()]; ok && !p.IsInner() {
			c.dual(t, mate)
		}
		if mate, ok := at[p.AxleMate()]; ok && p.Side() == models.Left {
			c.axle(t, mate)
		}
	}
}

// dual compares the outer tire of a pair with the inner one.
func (c *checker) dual(outer, inner models.TireWithState) {
	p := outer.State.Position
	if a, b, ok := lastOf(outer, inner); ok && a.Reading.Pressure != nil && b.Reading.Pressure != nil && c.Policy.DualPressure > 0 {
		diff := a.Reading.Pressure.Value - b.Reading.Pressure.Value
		if max(diff, -diff) > c.Policy.DualPressure {
			c.add(&outer, models.Finding{Code: models.DualPressureApart, Urgency: models.DoNow, Since: later(a, b).At,
				Title: fmt.Sprintf("pressures of the pair at %s differ by %s", p, c.kpa(max(diff, -diff))),
				Evidence: []models.Evidence{{Text: fmt.Sprintf("%s %s, %s %s", p, a.Reading.Pressure.Text, inner.State.Position, b.Reading.Pressure.Text)},
					policyLine("at most %s", c.kpa(c.Policy.DualPressure))},
				FirstJob: "Set both tires of the pair to the same cold pressure; a difference ruins one or both in weeks.",
				Safety:   "Check first that neither was run flat. Stand out of line while inflating."})
		}
	}
	diameter, known := c.diameters(outer, inner)
	depth := c.depthDifference(outer, inner)
	tooDeep := c.Policy.DualDepth > 0 && depth > c.Policy.DualDepth
	tooWide := c.Policy.DualDiameter > 0 && known && diameter > c.Policy.DualDiameter
	if !tooDeep && !tooWide {
		return
	}
	f := models.Finding{Code: models.DualMismatch, Urgency: models.Plan, Since: c.since(outer, inner),
		Title:    fmt.Sprintf("tires of the pair at %s do not match: depths %s apart", p, c.length(depth)),
		Evidence: []models.Evidence{policyLine("depths at most %s, diameters at most %s apart", c.length(c.Policy.DualDepth), units.FormatLength(c.Policy.DualDiameter, units.In))},
		FirstJob: "Match the pair by diameter, the larger tire outside; look at both for scrub.", Safety: cautionWheelOff}
	if known {
		f.Evidence = append(f.Evidence, models.Evidence{Text: "diameters about " + units.FormatLength(diameter, units.MM) + " apart"})
	}
	for _, o := range legal.OtherFor(c.Depot.Jurisdiction, legal.DualDiameterIn, c.legalVehicle(), c.legalPlace(p)) {
		if known && diameter.Inches() > o.Limit {
			f.Urgency, f.Notice = models.DoNow, o.Explain()
		}
	}
	c.add(&outer, f)
}

// axle compares the two ends of an axle.
func (c *checker) axle(left, right models.TireWithState) {
	p := left.State.Position
	depth := c.depthDifference(left, right)
	f := models.Finding{Code: models.AxleMismatch, Urgency: models.Plan, Since: c.since(left, right),
		Title:    fmt.Sprintf("tires at %s and %s differ by %s", p, right.State.Position, c.length(depth)),
		Evidence: []models.Evidence{policyLine("at most %s across an axle", c.length(c.Policy.AxleDepth))},
		FirstJob: "Rotate or replace so that both ends of the axle match.", Safety: cautionWheelOff}
	for _, o := range legal.OtherFor(c.Depot.Jurisdiction, legal.AxleDifferenceMM, c.legalVehicle(), c.legalPlace(p)) {
		if depth.Millimetres() > o.Limit {
			f.Urgency, f.Notice = models.DoNow, o.Explain()
			c.add(&left, f)
			return
		}
	}
	if c.Policy.AxleDepth > 0 && depth > c.Policy.AxleDepth {
		c.add(&left, f)
	}
}

func lastOf(a, b models.TireWithState) (x, y *models.Measured, ok bool) {
	return a.State.Last, b.State.Last, a.State.Last != nil && b.State.Last != nil
}

func later(a, b *models.Measured) *models.Measured {
	if b.At.After(a.At) {
		return b
	}
	return a
}

func (c *checker) since(a, b models.TireWithState) time.Time {
	if x, y, ok := lastOf(a, b); ok {
		return later(x, y).At
	}
	return c.Now
}

// depthDifference is the difference of the mean depths last read, 0 if either
// was not.
func (c *checker) depthDifference(a, b models.TireWithState) units.Length {
	x, y, ok := lastOf(a, b)
	if !ok {
		return 0
	}
	m, okM := x.Reading.Mean()
	n, okN := y.Reading.Mean()
	if !okM || !okN {
		return 0
	}
	return max(m-n, n-m)
}

// diameters is the difference of the outer diameters: nominal, less the wear.
func (c *checker) diameters(a, b models.TireWithState) (units.Length, bool) {
	x, okX := diameter(a)
	y, okY := diameter(b)
	return max(x-y, y-x), okX && okY
}

func diameter(t models.TireWithState) (units.Length, bool) {
	size, err := tiresize.Parse(t.Tire.Size)
	if err != nil || t.State.Last == nil {
		return 0, false
	}
	mean, ok := t.State.Last.Reading.Mean()
	if !ok {
		return 0, false
	}
	var fresh units.Length
	for _, d := range t.Tire.NewDepths {
		fresh += d
	}
	return size.Diameter() - 2*(fresh/units.Length(len(t.Tire.NewDepths))-mean), true
}
