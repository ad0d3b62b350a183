package assess

import (
	"fmt"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/tiresize"
	"rimledger/models/units"
)

// matches compares dual mates and axle mates.
func (c *checker) matches() {
	for _, p := range c.places {
		if p.spare {
			continue
		}
		if mate := c.on(p.at.DualMate()); mate != nil && !p.at.IsInner() {
			c.dualPressure(p, mate)
			c.dual(p, mate)
		}
		if mate := c.on(p.at.AxleMate()); mate != nil && p.at.Side() == models.Left {
			c.axle(p, mate)
		}
	}
}

// empty reports places without a tire in the record.
func (c *checker) empty() {
	for _, at := range c.Vehicle.Positions() {
		if !at.IsSpare() && c.on(at) == nil {
			c.add(
				nil,
				models.Finding{
					Code:     models.EmptyPosition,
					Position: at,
					Urgency:  models.Watch,
					Since:    c.Vehicle.CreatedAt,
					Title:    fmt.Sprintf("no tire in the record at %s", at),
					Evidence: []models.Evidence{line("the vehicle has a place %s and the record no tire there", at)},
					FirstJob: "Record the tire that is there, or fit one.",
				},
			)
		}
	}
}

// size returns what the designation of p's tire says, worked out once a text.
func (c *checker) size(p *place) (tiresize.Designation, bool) {
	d, known := c.sizes[p.Tire.Size]
	if !known {
		d, _ = tiresize.Parse(p.Tire.Size)
		c.sizes[p.Tire.Size] = d
	}
	return d, d.Kind != ""
}

// dual compares the outer tire of a pair with the inner one, by mean depth and
// by diameter.
func (c *checker) dual(outer, inner *place) {
	depth, read := apart(outer, inner)
	wide, known := c.diameters(outer, inner)
	f := models.Finding{Code: models.DualMismatch, Urgency: models.Plan, Since: since(outer, inner),
		FirstJob: "Match the pair by diameter, the larger tire outside; look at both for scrub.", Safety: cautionWheels}

	var words []string
	if read && c.Policy.DualDepth > 0 && depth > c.Policy.DualDepth {
		words = append(words, "depths "+units.MarkEstimate(depth.Millimetres())+" apart")

		f.Evidence = append(
			f.Evidence,
			models.Evidence{
				Text: fmt.Sprintf(
					"mean depths %s apart, at most %s",
					units.MarkDepth(depth),
					units.MarkDepth(c.Policy.DualDepth),
				),
				Source: "policy; trade rule for radial duals, read 2026-11",
			},
		)
	}

	if known && c.Policy.DualDiameter > 0 && wide > c.Policy.DualDiameter+units.Micrometre {
		words = append(words, "diameters about "+units.MarkSmall(wide)+" apart")

		f.Evidence = append(
			f.Evidence,
			models.Evidence{
				Text: fmt.Sprintf(
					"diameters about %s apart by size and wear, at most %s",
					units.MarkSmall(wide),
					units.MarkSmall(c.Policy.DualDiameter),
				),
				Source: "policy; tire maker's data sheet of 2011, read 2026-11",
			},
		)
	}

	if known {
		for _, o := range c.other(legal.DualDiameterIn, outer) {
			if wide.Inches() > o.Limit+1e-4 {
				f.Urgency, f.Notice = models.DoNow, o.Explain()
				f.Evidence = append(f.Evidence, models.Evidence{Text: o.Text, Source: citation(o.Rule)})
				words = append(words, "more than the law allows")
			}
		}
	}

	if len(words) == 0 {
		return
	}

	f.Title = fmt.Sprintf(
		"tires of the pair at %s and %s do not match: %s",
		outer.at,
		inner.at,
		strings.Join(words, ", "),
	)

	f.Evidence = append(f.Evidence, c.meanLines(outer, inner)...)
	c.add(outer, f)
}

// axle compares the two ends of an axle: depth, construction, load index.
func (c *checker) axle(left, right *place) {
	f := models.Finding{Code: models.AxleMismatch, Urgency: models.Plan, Since: since(left, right),
		FirstJob: "Rotate or replace so that both ends of the axle match.", Safety: cautionWheels}
	var words []string

	depth, read := apart(left, right)
	if read {
		for _, o := range c.other(legal.AxleDifferenceMM, left) {
			if depth.Millimetres() > o.Limit {
				f.Urgency, f.Notice = models.DoNow, o.Explain()
				f.Evidence = append(f.Evidence, models.Evidence{Text: o.Text, Source: citation(o.Rule)})
				words = append(words, units.MarkDepth(depth)+" apart, more than the law allows")
			}
		}

		if c.Policy.AxleDepth > 0 && depth > c.Policy.AxleDepth {
			f.Evidence = append(
				f.Evidence,
				policyLine(
					"mean depths %s apart, at most %s across an axle",
					units.MarkDepth(depth),
					units.MarkDepth(c.Policy.AxleDepth),
				),
			)

			if len(words) == 0 {
				words = append(words, "depths "+units.MarkEstimate(depth.Millimetres())+" apart")
			}
		}
	}

	a, okA := c.size(left)

	b, okB := c.size(right)
	if okA && okB && a.Construction != b.Construction {
		f.Urgency = models.DoNow
		words = append(words, "radial and bias on one axle")

		f.Evidence = append(
			f.Evidence,
			models.Evidence{
				Text:   left.Tire.Size + " and " + right.Tire.Size + ": one axle carries one construction",
				Source: "19VAC30-70-500, read 2026-11",
			},
		)

		f.Notice = "Radial and bias tires on one axle are refused by state inspection rules (19VAC30-70-130, 19VAC30-70-500, read 2026-11). " + legal.Notice
	}

	if okA && okB && a.LoadIndex > 0 && b.LoadIndex > 0 {
		for _, o := range c.other(legal.LoadIndexSpread, left) {
			if spread := max(a.LoadIndex-b.LoadIndex, b.LoadIndex-a.LoadIndex); float64(spread) > o.Limit {
				f.Urgency, f.Notice = models.DoNow, o.Explain()
				words = append(words, fmt.Sprintf("load indices %d and %d", a.LoadIndex, b.LoadIndex))
				f.Evidence = append(f.Evidence, models.Evidence{Text: o.Text, Source: citation(o.Rule)})
			}
		}
	}

	if len(words) == 0 {
		return
	}

	f.Title = fmt.Sprintf("tires at %s and %s do not match: %s", left.at, right.at, strings.Join(words, ", "))
	f.Evidence = append(f.Evidence, c.meanLines(left, right)...)
	c.add(left, f)
}

// meanLines are the mean depths that a comparison rests on.
func (c *checker) meanLines(a, b *place) []models.Evidence {
	var out []models.Evidence
	for _, p := range []*place{a, b} {
		if m, ok := mean(p); ok {
			out = append(
				out,
				line("mean depth at %s %s on %s", p.at, units.MarkEstimate(m.Millimetres()), c.date(p.read.At)),
			)
		}
	}
	return out
}

func mean(p *place) (units.Length, bool) {
	if p.read == nil {
		return 0, false
	}
	return p.read.Reading.Mean()
}

// apart returns the difference of the mean depths; false if one was not read.
func apart(a, b *place) (units.Length, bool) {
	x, okX := mean(a)
	y, okY := mean(b)
	return max(x-y, y-x), okX && okY
}

// later returns the newer of two readings.
func later(a, b *models.Measured) *models.Measured {
	if b.At.After(a.At) {
		return b
	}
	return a
}

// since is when two tires could first be compared as they are: the newer of
// their readings and of their coming to these places.
func since(a, b *place) time.Time {
	var t time.Time
	for _, p := range []*place{a, b} {
		if p.read != nil && p.read.At.After(t) {
			t = p.read.At
		}
		if p.State.PlacedAt != nil && p.State.PlacedAt.At.After(t) {
			t = p.State.PlacedAt.At
		}
	}
	return t
}

// diameters returns the difference of the outer diameters: by designation, less
// the wear. False if one is not known.
func (c *checker) diameters(a, b *place) (units.Length, bool) {
	x, okX := c.diameter(a)
	y, okY := c.diameter(b)
	return max(x-y, y-x), okX && okY
}

func (c *checker) diameter(p *place) (units.Length, bool) {
	size, known := c.size(p)
	left, read := mean(p)
	if !known || !read || len(p.Tire.NewDepths) == 0 {
		return 0, false
	}
	var fresh units.Length
	for _, d := range p.Tire.NewDepths {
		fresh += d
	}
	return size.Diameter() - 2*(fresh/units.Length(len(p.Tire.NewDepths))-left), true
}
