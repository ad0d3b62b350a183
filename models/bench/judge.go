package bench

import (
	"fmt"
	"strings"

	"rimledger/models/balance"
	"rimledger/models/units"
)

// Asked is what a machine asks for in one spin: the weights to add, nil for a plane
// that was not shown.
type Asked struct {
	Outer, Inner, Single *balance.Shown
}

// Done is a balance job, or a check spin, as far as its verdict depends on it.
type Done struct {
	Assembly
	CheckSpin  bool // nothing was removed or fitted
	WeightsOff bool // Before is of the bare assembly

	Before, After Asked
}

// Verdict is what a job left, compared with the limits that apply. Quantities in its
// texts are marked, see units.Style.Render.
type Verdict struct {
	Proven bool   // what was shown after the work says what is left
	Within bool   // proven, and every limit is met
	Limit  string // the limits that were applied, with their sources
	Reason string // why it is not proven, or not within

	LeftG   float64 // most that is left in one plane
	SumG    float64 // left of the sum of both planes
	NeededG float64 // what the bare assembly asked for, both planes; 0 if not known
}

// Judge compares what a job left with the limits of its assembly. What the machine
// showed after the work decides; on a check spin, where no work was done, what it
// showed. A job that did not show every plane is not proven.
func Judge(d Done) Verdict {
	limits := d.Limits()
	v := Verdict{Limit: limits.words()}
	if d.WeightsOff {
		v.NeededG = d.Before.total()
	}

	after := d.After
	if d.CheckSpin && after == (Asked{}) {
		after = d.Before
	}
	if v.Reason = after.missing(); v.Reason != "" {
		return v
	}

	v.Proven = true
	v.LeftG, v.SumG = after.worst(), after.sum().GMM
	v.Reason = limits.passed(v.LeftG, v.SumG)

	// A total that is too large points to a bad seat or tire, however small the residual.
	// With old weights on the wheel the total is not that of the bare assembly.
	if n := limits.Needed; n != nil && d.WeightsOff {
		v.Limit += "; " + limitWords("asked for by the bare assembly", *n)
		if v.NeededG > n.Base() {
			v.Reason = fmt.Sprintf("the bare assembly asks for %s, the limit is %s: more weight is not the cure",
				massWords(v.NeededG), limitValue(*n))
		}
	}

	v.Within = v.Reason == ""
	return v
}

// missing says what was not shown, "" if nothing is missing.
func (s Asked) missing() string {
	switch {
	case s == (Asked{}):
		return "nothing is recorded that was shown after the work: spin it again and record what is shown"
	case s.Single != nil:
		return ""
	case s.Outer == nil:
		return "the outer plane was not shown: spin it again and record both planes"
	case s.Inner == nil:
		return "the inner plane was not shown: spin it again and record both planes"
	}

	return ""
}

// vector returns what is asked for in a plane in grams, as a vector on a circle of 1 mm,
// so that its amount in g mm is the mass in g. It is zero for a plane that was not shown.
func vector(s *balance.Shown) balance.Vector {
	if s == nil {
		return balance.Vector{}
	}
	return balance.Mass(s.MassG, 1, s.Deg)
}

// sum returns what both planes ask for together, or the one plane alone, in grams as
// vector does. The radii of both planes are taken as equal.
func (s Asked) sum() balance.Vector {
	if s.Outer == nil || s.Inner == nil {
		return vector(s.Single)
	}
	return balance.Sum(vector(s.Outer), vector(s.Inner))
}

// worst returns the most that is asked for in one plane, g.
func (s Asked) worst() float64 {
	return max(vector(s.Outer).GMM, vector(s.Inner).GMM, vector(s.Single).GMM)
}

// total returns the weights of both planes, or of the one plane alone, g.
func (s Asked) total() float64 {
	if s.Outer == nil && s.Inner == nil {
		return vector(s.Single).GMM
	}
	return vector(s.Outer).GMM + vector(s.Inner).GMM
}

// passed says which limit on what is left is passed, "" if none is. A value equal to its
// limit is within.
func (l Limits) passed(worstG, sumG float64) string {
	switch {
	case worstG > l.Residual.Base():
		return fmt.Sprintf("%s is left in a plane, the limit is %s", massWords(worstG), limitValue(l.Residual))
	case l.Sum != nil && sumG > l.Sum.Base():
		return fmt.Sprintf("%s is left in the sum of both planes, the limit is %s", massWords(sumG), limitValue(*l.Sum))
	}
	return ""
}

// words describes the limits on what is left.
func (l Limits) words() string {
	what := "left in each plane"
	if l.Sum != nil {
		what += " and in the sum of both"
	}

	s := limitWords(what, l.Residual)
	if l.Usual != nil {
		s += fmt.Sprintf("; for information, without a complaint %s may be left (%s)",
			limitValue(*l.Usual), l.Usual.Source)
	}
	return s
}

// massWords marks a mass in grams.
func massWords(g float64) string { return units.MarkMass(units.Mass(g)) }

// limitValue marks a limit in grams and as published.
func limitValue(l balance.Limit) string {
	return units.MarkTypedMass(units.Mass(l.Base()), fmt.Sprintf("%g %s", l.Value, l.Unit))
}

// limitWords describes a limit with its source.
func limitWords(what string, l balance.Limit) string {
	s := fmt.Sprintf("at most %s %s (%s", limitValue(l), what, l.Source)
	if l.Information {
		s += ", taken as the limit for want of a published one"
	}
	return strings.TrimSuffix(s, " ") + ")"
}
