package bench

import (
	"fmt"
	"math"
	"strings"

	"rimledger/models/balance"
	"rimledger/models/units"
)

// Asked is what a machine asks for in one spin: the weights to add, nil for a plane
// that was not shown.
type Asked struct {
	Outer, Inner, Single *balance.Shown
}

// Fit is one weight on a wheel: in a plane that the machine shows, or elsewhere.
type Fit struct {
	Plane string         // outer, inner or single; empty: At says where
	At    *balance.Plane // where it sits if in none of these planes
	MassG float64
	Deg   float64
}

// Done is a balance job, or a check spin, as far as its verdict depends on it.
type Done struct {
	Assembly
	Planes     balance.Planes // where the machine shows; zero if not measured
	OnePlane   bool           // static balance: only the sum of both planes counts
	CheckSpin  bool           // nothing was removed or fitted; After is a repeat, clamped anew
	WeightsOff bool           // Before is of the bare assembly

	Before, After   Asked
	Removed, Fitted []Fit // between the two

	SelfCheckDays *float64 // age of the machine's last self-check; nil if not known
	LooseMedia    bool     // beads or powder inside the tire
}

// Verdict is what a job left, compared with the limits that apply. Quantities in its
// texts are marked, see units.Style.Render.
type Verdict struct {
	Proven bool     // what was shown after the work says what is left
	Within bool     // proven, and every limit is met
	Limit  string   // the limits that were applied, with their sources
	Reason string   // why it is not proven, or not within
	Doubts []string // why it may be wrong all the same

	LeftG   float64 // most that is left in one plane; in one plane's balance, of the sum
	SumG    float64 // left of the sum of both planes
	NeededG float64 // what the bare assembly asked for, both planes; 0 if not known
}

// Judge compares what a job left with the limits of its assembly. What the machine
// showed after the work decides; on a check spin, where no work was done, what it showed.
//
// A job is not proven where a plane was not shown: two planes need both, and one plane
// alone says nothing of the other. Nor is it where what was shown after does not follow from
// what was asked for and fitted, or where a check spin and its repeat differ; see fits.
func Judge(d Done) Verdict {
	limits := d.Limits()
	v := Verdict{Limit: limits.words(d.OnePlane), Doubts: d.doubts()}
	if d.WeightsOff {
		v.NeededG = d.Before.total()
	}

	after := d.After
	if d.CheckSpin && after == (Asked{}) {
		after = d.Before
	}
	if v.Reason = after.missing(d.OnePlane); v.Reason == "" {
		v.Reason = d.misfit()
	}
	if v.Reason != "" {
		return v
	}

	v.Proven, v.SumG = true, after.sum(d.OnePlane).GMM
	v.LeftG = v.SumG
	if !d.OnePlane {
		v.LeftG = max(vector(after.Outer).GMM, vector(after.Inner).GMM)
	}
	v.Reason = limits.passed(v, d.OnePlane)

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
func (s Asked) missing(onePlane bool) string {
	switch {
	case s == (Asked{}):
		return "nothing is recorded that was shown after the work: spin it again and record what is shown"
	case s.Outer != nil && s.Inner != nil, onePlane && s.Single != nil:
		return ""
	case s.Single != nil:
		return "one plane alone says nothing of the other: spin it again in two planes and record both"
	case s.Outer == nil:
		return "the outer plane was not shown: spin it again and record both planes"
	}
	return "the inner plane was not shown: spin it again and record both planes"
}

// selfCheckDays is how often a balancer is checked with an empty shaft and a test weight
// (a light truck maker's workshop manual, 2000: every two weeks).
const selfCheckDays = 14

// doubts says why a verdict may be wrong although the numbers are good.
func (d Done) doubts() []string {
	var out []string
	if d.SelfCheckDays != nil && *d.SelfCheckDays > selfCheckDays {
		out = append(out, fmt.Sprintf("the machine's last self-check is %.0f days old, it is due every %d days: "+
			"check the machine, then spin again", math.Floor(*d.SelfCheckDays), selfCheckDays))
	}
	if d.LooseMedia {
		out = append(out, "loose media inside moves at every spin: spin it twice and compare")
	}
	return out
}

// slip is the share of a weight's effect that is lost where it sits 10 degrees from where
// it was written: 2 sin(5 degrees). 10 degrees are 50 mm on a truck's rim (chosen by us).
const slip = 0.1743

// step returns one step of a machine in g: what clears a wheel after a complaint.
func (d Done) step() float64 {
	d.Complaint = true
	return d.Limits().Residual.Base()
}

// misfit says why what was shown before and after cannot both be of this wheel with these
// weights, "" if they can or if it is not known. After a job each plane must ask for what it
// asked for before, less what was fitted and more what was taken off. A difference of one
// step of the machine, and of 10 degrees in the place of each weight, is let pass (chosen by
// us). The repeat of a check spin must agree to one step.
func (d Done) misfit() string {
	if d.Before.missing(d.OnePlane) != "" || d.After.missing(d.OnePlane) != "" {
		return ""
	}

	// Only where it is known where every weight acts can the two spins be compared.
	want, known := d.expected()
	if !known {
		return ""
	}

	for _, p := range want {
		now := p.of(d.After)
		if balance.Sum(p.asks, now.Opposite()).GMM <= p.within+massSlack {
			continue
		}
		if d.CheckSpin {
			return fmt.Sprintf("the two spins differ: %s asked for %s, then for %s. Clean the faces, use the right "+
				"cone, clamp the wheel again half a turn around and spin: the sums of the bench then tell the wheel's "+
				"part from the clamping's", p.name, placed(p.asks), placed(now))
		}

		hint := "check what is written, spin it again and record what is shown"
		if len(d.Removed) > 0 && !d.WeightsOff {
			hint += "; if the weights were off before the first spin, tick that all weights are off"
		}
		return fmt.Sprintf("these do not fit together: by what was asked for and fitted, %s should ask for %s now, "+
			"and the machine shows %s: %s", p.name, placed(p.asks), placed(now), hint)
	}

	return ""
}

// massSlack is the rounding error allowed between grams that are equal.
const massSlack = 1e-9

// planeWant is what a plane should ask for after the work.
type planeWant struct {
	name   string
	asks   balance.Vector // in grams, see vector
	within float64        // g that may be missing
	of     func(Asked) balance.Vector
}

// expected returns what each plane, or in one plane's balance the sum, should ask for after
// the work; false if it is not known where a weight acts.
func (d Done) expected() ([]planeWant, bool) {
	plane := func(name string, of func(Asked) balance.Vector) planeWant {
		return planeWant{name: name, asks: of(d.Before), within: d.step(), of: of}
	}
	outer := plane("the outer plane", func(s Asked) balance.Vector { return vector(s.Outer) })
	inner := plane("the inner plane", func(s Asked) balance.Vector { return vector(s.Inner) })
	sum := plane("the wheel", func(s Asked) balance.Vector { return s.sum(true) })

	// What was fitted takes away from the demand, what was removed adds to it.
	add := func(weights []Fit, sign float64) bool {
		for _, w := range weights {
			out, in, known := d.effect(w)
			if !known {
				return false
			}
			both := balance.Sum(out, in)
			outer.add(out.Scaled(sign))
			inner.add(in.Scaled(sign))
			sum.add(both.Scaled(sign))
		}
		return true
	}

	// If all weights were off before the first spin, what was removed is not in its values.
	if !add(d.Fitted, -1) || !d.WeightsOff && !add(d.Removed, 1) {
		return nil, false
	}
	if d.OnePlane {
		return []planeWant{sum}, true
	}
	return []planeWant{outer, inner}, true
}

// add counts a weight, with the error of its place.
func (p *planeWant) add(v balance.Vector) {
	p.asks = balance.Sum(p.asks, v)
	p.within += slip * v.GMM
}

// effect returns what a weight does in each of the planes that the machine shows, in grams
// as vector has it; false if where it sits was not measured.
func (d Done) effect(w Fit) (outer, inner balance.Vector, known bool) {
	v := balance.Mass(w.MassG, 1, w.Deg)
	switch {
	case w.Plane == "outer":
		return v, inner, true
	case w.Plane == "inner":
		return outer, v, true
	case w.Plane == "single":
		return v.Scaled(0.5), v.Scaled(0.5), d.OnePlane
	case w.At == nil:
		return outer, inner, false
	}

	u, _, err := balance.Resolve(d.Planes, balance.Lump{
		MassG: w.MassG, RadiusMM: w.At.RadiusMM, Deg: w.Deg, OffsetMM: w.At.OffsetMM,
	})
	if err != nil {
		return outer, inner, false
	}

	return u.Outer.Scaled(1 / d.Planes.Outer.RadiusMM), u.Inner.Scaled(1 / d.Planes.Inner.RadiusMM), true
}

// placed says a weight, in grams as vector has it, and where it goes.
func placed(v balance.Vector) string {
	if v.GMM < 0.05 { // rounding has no direction
		return "nothing"
	}
	return fmt.Sprintf("%s at %.0f°", massWords(math.Round(v.GMM*10)/10), v.Deg)
}

// vector returns what is asked for in a plane in grams, as a vector on a circle of 1 mm,
// so that its amount in g mm is the mass in g. It is zero for a plane that was not shown.
func vector(s *balance.Shown) balance.Vector {
	if s == nil {
		return balance.Vector{}
	}
	return balance.Mass(s.MassG, 1, s.Deg)
}

// sum returns what both planes ask for together, in grams as vector does; in one plane's
// balance what that plane asks for, where it was shown. The radii of both planes are taken
// as equal.
func (s Asked) sum(onePlane bool) balance.Vector {
	if onePlane && s.Single != nil {
		return vector(s.Single)
	}
	return balance.Sum(vector(s.Outer), vector(s.Inner))
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
func (l Limits) passed(v Verdict, onePlane bool) string {
	where := "in a plane"
	if onePlane {
		where = "in the one plane"
	}

	switch {
	case v.LeftG > l.Residual.Base()+massSlack:
		return fmt.Sprintf("%s is left %s, the limit is %s", massWords(v.LeftG), where, limitValue(l.Residual))
	case l.Sum != nil && v.SumG > l.Sum.Base()+massSlack:
		return fmt.Sprintf("%s is left in the sum of both planes, the limit is %s",
			massWords(v.SumG), limitValue(*l.Sum))
	}
	return ""
}

// words describes the limits on what is left.
func (l Limits) words(onePlane bool) string {
	what := "left in each plane"
	switch {
	case onePlane:
		what = "left in the one plane"
	case l.Sum != nil:
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
