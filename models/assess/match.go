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
		if mate := c.placeAt(p.at.DualMate()); mate != nil && !p.at.IsInner() {
			c.dualPressure(p, mate)
			c.dualMatch(p, mate)
		}
		if mate := c.placeAt(p.at.AxleMate()); mate != nil && p.at.Side() == models.Left {
			c.axleMatch(p, mate)
		}
	}
}

// emptyPlaces reports places without a tire in the record.
func (c *checker) emptyPlaces() {
	for _, at := range c.Vehicle.Positions() {
		if !at.IsSpare() && c.placeAt(at) == nil {
			c.add(nil, models.Finding{
				Code:     models.EmptyPosition,
				Position: at,
				Urgency:  models.Watch,
				Since:    c.Vehicle.CreatedAt,
				Title:    fmt.Sprintf("no tire in the record at %s", at),
				Evidence: []models.Evidence{line("the vehicle has a place %s and the record no tire there", at)},
				FirstJob: "Record the tire that is there, or fit one.",
			})
		}
	}
}

// size returns the parsed size of p's tire; false if it does not parse. Each text is
// parsed once.
func (c *checker) size(p *place) (tiresize.Designation, bool) {
	d, known := c.sizes[p.Tire.Size]
	if !known {
		d, _ = tiresize.Parse(p.Tire.Size)
		c.sizes[p.Tire.Size] = d
	}
	return d, d.Kind != ""
}

// dualMatch compares the outer tire of a pair with the inner one, by mean depth and
// by diameter.
func (c *checker) dualMatch(outer, inner *place) {
	depth, read := depthDifference(outer, inner)
	diameter, known := c.diameterDifference(outer, inner)
	f := models.Finding{
		Code:     models.DualMismatch,
		Urgency:  models.Plan,
		Since:    comparableSince(outer, inner),
		FirstJob: "Match the pair by diameter, the larger tire outside; look at both for scrub.",
		Safety:   cautionWheels,
	}

	var words []string
	if read && c.Policy.DualDepth > 0 && depth > c.Policy.DualDepth {
		words = append(words, "depths "+units.MarkEstimate(depth.Millimetres())+" apart")
		f.Evidence = append(f.Evidence, sourced("policy; trade rule for radial duals, read 2026-11",
			"mean depths %s apart, at most %s", units.MarkDepth(depth), units.MarkDepth(c.Policy.DualDepth)))
	}

	// The tolerances here and below are far below any gauge: they only absorb the
	// rounding of computed diameters, so that equal to the limit passes.
	if known && c.Policy.DualDiameter > 0 && diameter > c.Policy.DualDiameter+units.Micrometre {
		words = append(words, "diameters about "+units.MarkSmall(diameter)+" apart")
		f.Evidence = append(f.Evidence, sourced("policy; tire maker's data sheet of 2011, read 2026-11",
			"diameters about %s apart by size and wear, at most %s", units.MarkSmall(diameter),
			units.MarkSmall(c.Policy.DualDiameter)))
	}

	// The law counts beside the policy: its limit may be wider or narrower.
	if known {
		for _, o := range c.other(legal.DualDiameterIn, outer) {
			if diameter.Inches() > o.Limit+1e-4 {
				breaks(&f, o)
				words = append(words, "more than the law allows")
			}
		}
	}

	if len(words) == 0 {
		return
	}

	f.Title = fmt.Sprintf("tires of the pair at %s and %s do not match: %s", outer.at, inner.at,
		strings.Join(words, ", "))
	f.Evidence = append(f.Evidence, c.meanLines(outer, inner)...)
	c.add(outer, f)
}

// breaks makes f the finding of a broken legal rule.
func breaks(f *models.Finding, o legal.Other) {
	f.Urgency, f.Notice = models.DoNow, o.Explain()
	f.Evidence = append(f.Evidence, models.Evidence{Text: o.Text, Source: citation(o.Rule)})
}

// axleMatch compares the two ends of an axle: depth, construction, load index.
func (c *checker) axleMatch(left, right *place) {
	f := models.Finding{
		Code:     models.AxleMismatch,
		Urgency:  models.Plan,
		Since:    comparableSince(left, right),
		FirstJob: "Rotate or replace so that both ends of the axle match.",
		Safety:   cautionWheels,
	}

	words := c.axleDepths(&f, left, right)
	words = append(words, c.axleConstruction(&f, left, right)...)
	words = append(words, c.axleLoadIndex(&f, left, right)...)
	if len(words) == 0 {
		return
	}

	f.Title = fmt.Sprintf("tires at %s and %s do not match: %s", left.at, right.at, strings.Join(words, ", "))
	f.Evidence = append(f.Evidence, c.meanLines(left, right)...)
	c.add(left, f)
}

// axleDepths adds evidence to f if the mean depths are too far apart, and returns words
// for its title.
func (c *checker) axleDepths(f *models.Finding, left, right *place) []string {
	depth, read := depthDifference(left, right)
	if !read {
		return nil
	}

	var words []string
	for _, o := range c.other(legal.AxleDifferenceMM, left) {
		if depth.Millimetres() > o.Limit {
			breaks(f, o)
			words = append(words, units.MarkDepth(depth)+" apart, more than the law allows")
		}
	}

	// The policy is evidence in any case, but the law has the title.
	if c.Policy.AxleDepth > 0 && depth > c.Policy.AxleDepth {
		f.Evidence = append(f.Evidence, policyLine("mean depths %s apart, at most %s across an axle",
			units.MarkDepth(depth), units.MarkDepth(c.Policy.AxleDepth)))
		if len(words) == 0 {
			words = append(words, "depths "+units.MarkEstimate(depth.Millimetres())+" apart")
		}
	}

	return words
}

// axleConstruction adds evidence to f if one tire is radial and the other bias, and
// returns words for its title.
func (c *checker) axleConstruction(f *models.Finding, left, right *place) []string {
	a, okA := c.size(left)
	b, okB := c.size(right)
	if !okA || !okB || a.Construction == b.Construction {
		return nil
	}

	f.Urgency = models.DoNow
	rule := c.guide(legal.MixedConstruction, left)
	f.Evidence = append(f.Evidence, sourced(rule.Cite(), "%s and %s: one axle carries one construction",
		left.Tire.Size, right.Tire.Size))
	f.Notice = rule.Explain() + " " + legal.Notice
	return []string{"radial and bias on one axle"}
}

// axleLoadIndex adds evidence to f if the load indices are further apart than the law
// allows, and returns words for its title.
func (c *checker) axleLoadIndex(f *models.Finding, left, right *place) []string {
	a, okA := c.size(left)
	b, okB := c.size(right)
	if !okA || !okB || a.LoadIndex == 0 || b.LoadIndex == 0 {
		return nil
	}

	var words []string
	spread := max(a.LoadIndex-b.LoadIndex, b.LoadIndex-a.LoadIndex)
	for _, o := range c.other(legal.LoadIndexSpread, left) {
		if float64(spread) > o.Limit {
			breaks(f, o)
			words = append(words, fmt.Sprintf("load indices %d and %d", a.LoadIndex, b.LoadIndex))
		}
	}
	return words
}

// meanLines is the evidence of the mean depths that are compared.
func (c *checker) meanLines(a, b *place) []models.Evidence {
	var out []models.Evidence
	for _, p := range []*place{a, b} {
		if m, ok := mean(p); ok {
			out = append(out,
				line("mean depth at %s %s on %s", p.at, units.MarkEstimate(m.Millimetres()), c.date(p.read.At)))
		}
	}
	return out
}

// mean returns the mean depth of p's newest reading; false if it has none.
func mean(p *place) (units.Length, bool) {
	if p.read == nil {
		return 0, false
	}
	return p.read.Reading.Mean()
}

// depthDifference returns the difference of the mean depths; false if one was not read.
func depthDifference(a, b *place) (units.Length, bool) {
	x, okX := mean(a)
	y, okY := mean(b)
	return max(x-y, y-x), okX && okY
}

// newer returns the newer of two readings.
func newer(a, b *models.Measured) *models.Measured {
	if b.At.After(a.At) {
		return b
	}
	return a
}

// comparableSince returns when two tires were first read together on these places: the
// latest of their newest readings and of their moves there.
func comparableSince(a, b *place) time.Time {
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

// diameterDifference returns the difference of the outer diameters: those of the sizes,
// less twice the wear. False if one is not known.
func (c *checker) diameterDifference(a, b *place) (units.Length, bool) {
	x, okX := c.diameter(a)
	y, okY := c.diameter(b)
	return max(x-y, y-x), okX && okY
}

// diameter returns the outer diameter of p's tire as worn; false if it is not known.
func (c *checker) diameter(p *place) (units.Length, bool) {
	size, known := c.size(p)
	left, read := mean(p)
	if !known || !read || len(p.Tire.NewDepths) == 0 {
		return 0, false
	}

	// Wear takes rubber off both ends of a diameter.
	return size.Diameter() - 2*(meanNew(p)-left), true
}

// meanNew returns the mean new depth of p's grooves, of which there is at least one.
func meanNew(p *place) units.Length {
	var sum units.Length
	for _, d := range p.Tire.NewDepths {
		sum += d
	}
	return sum / units.Length(len(p.Tire.NewDepths))
}
