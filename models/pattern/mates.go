package pattern

import (
	"fmt"
	"math"

	"rimledger/models/units"
)

// Comparison compares the tire with another one, or with its own last reading.
type Comparison struct {
	With    string // axle, dual or last_visit
	Alike   bool   // no difference beyond gauge error
	Numbers []Number
	Text    string
}

// otherOperatorMM is what another person or gauge adds to the difference between two
// visits: 1.0 mm of the range comes from the operator (ASNT gauge study, 2025).
const otherOperatorMM = 1.0

// dualTreadMM is the difference of depth two duals may have: 4/32 in (published
// matching limits).
const dualTreadMM = 4 * Step

// mates compares the tire with the other end of the axle, the other dual and the
// last visit.
func (r *reader) mates() error {
	if m := r.in.AxleMate; m != nil {
		c, err := r.compareMate("axle", *m)
		if err != nil {
			return err
		}

		c.Alike = c.Alike && math.Abs(c.Numbers[0].Value) < 2*Step-1e-6
		c.Text = "worn like the other end of the axle"
		if !c.Alike {
			c.Text = "worn otherwise than the other end of the axle"
		}

		r.out.Mates = append(r.out.Mates, c)
	}

	// A dual pair carries one load, so a limit of its own applies to its depths.
	if m := r.in.DualMate; m != nil {
		c, err := r.compareMate("dual", *m)
		if err != nil {
			return err
		}

		c.Alike = math.Abs(c.Numbers[0].Value) <= dualTreadMM+1e-6
		c.Text = "within the limit for duals, " + units.MarkDepth(4*units.ThirtySecond)
		if !c.Alike {
			c.Text = fmt.Sprintf("%s apart from its dual: more than %s",
				units.MarkEstimate(math.Abs(c.Numbers[0].Value)), units.MarkDepth(4*units.ThirtySecond))
		}

		r.out.Mates = append(r.out.Mates, c)
	}

	if r.in.Previous != nil {
		return r.lastVisit(*r.in.Previous)
	}
	return nil
}

// compareMate compares the mean depth and the greatest spread around. Alike is true
// if both tires are uneven around or neither is.
func (r *reader) compareMate(with string, mate Tread) (Comparison, error) {
	if _, err := mate.grid(with + " mate"); err != nil {
		return Comparison{}, err
	}

	mine, myDepth := summary(r.in.Tread)
	its, itsDepth := summary(mate)
	return Comparison{With: with, Alike: steps(mine, 2) == steps(its, 2), Numbers: []Number{
		{"mean depth minus the mate's", myDepth - itsDepth, "mm"},
		{"greatest spread around", mine, "mm"}, {"the mate's", its, "mm"},
	}}, nil
}

// summary returns the greatest spread around a groove and the mean of the grooves'
// mean depths, in mm, of a checked tread.
func summary(t Tread) (spread, depth float64) {
	n := 0
	for _, row := range t.DepthsMM {
		if s := spanOf(row); s.n > 0 {
			spread, depth, n = math.Max(spread, s.spread()), depth+s.mean, n+1
		}
	}
	return spread, depth / float64(n)
}

// lastVisit compares the tire with its previous reading. Rubber does not grow: a tread
// that got deeper was read at another position, on another tire or in another unit.
func (r *reader) lastVisit(v Visit) error {
	if _, err := v.Tread.grid("last visit"); err != nil {
		return err
	}

	// Another person or gauge may read differently.
	extra := 0.0
	if v.OtherGauge {
		extra = otherOperatorMM
	}

	now, depth := summary(r.in.Tread)
	then, before := summary(v.Tread)

	c := Comparison{With: "last_visit", Alike: true, Text: "spread around as at the last visit", Numbers: []Number{
		{"worn since", before - depth, "mm"}, {"spread now minus then", now - then, "mm"}}}
	if now-then >= 2*Step+extra-1e-6 {
		c.Alike, c.Text = false, "more uneven around than at the last visit"
	}

	if rise := r.highestRise(v.Tread); rise >= 2*Step+extra-1e-6 {
		c.Alike, c.Text = false, "deeper than at the last visit"
		c.Numbers = append(c.Numbers, Number{"deeper by", rise, "mm"})

		r.ask(
			Request{
				Code: "check_entry",
				Text: fmt.Sprintf("deeper by %s than at the last visit: right position, tire and unit?",
					units.MarkEstimate(rise)),
			},
		)
	}

	r.out.Mates = append(r.out.Mates, c)
	return nil
}

// highestRise returns by how many mm the mean depth of a groove rose since then, the
// greatest of all grooves; of the whole tread if the number of grooves differs.
func (r *reader) highestRise(then Tread) float64 {
	if len(then.DepthsMM) != len(r.in.DepthsMM) {
		_, now := summary(r.in.Tread)
		_, before := summary(then)
		return now - before
	}

	rise := math.Inf(-1)
	for g, row := range r.in.DepthsMM {
		now, before := spanOf(row), spanOf(then.DepthsMM[g])
		if now.n > 0 && before.n > 0 {
			rise = math.Max(rise, now.mean-before.mean)
		}
	}

	return math.Max(rise, 0)
}
