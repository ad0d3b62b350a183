package assess

import (
	"fmt"
	"strings"

	"rimledger/models"
	"rimledger/models/balance"
	"rimledger/models/bench"
	"rimledger/models/units"
)

// Assembly has the facts that the limits of a balance job depend on, in the types of the
// record. A loose assembly has no class: its tire's size then decides whether it is a
// heavy one.
type Assembly struct {
	Class models.Class
	Role  models.AxleRole
	Size  string
}

// Bench returns a in the types of package bench, which chooses the limits.
func (a Assembly) Bench() bench.Assembly {
	return bench.Assembly{Class: string(a.Class), AxleRole: string(a.Role), Size: a.Size}
}

// JudgeBalance compares the unbalance that a job left with the limits of its assembly.
// What the balancer showed after the work decides; on a check spin, where no work was
// done, what it showed. Unbalances are in grams. A job that did not show every plane
// is not proven, and Reason says what is missing.
func JudgeBalance(e *models.BalanceJob, a Assembly) models.BalanceVerdict {
	limits := a.Bench().Limits()
	v := models.BalanceVerdict{Limit: limitWords("left in each plane", limits.Residual)}
	if e.WeightsOff {
		for _, p := range e.Shown {
			v.NeededG += p.Grams()
		}
	}

	after := e.ShownAfter
	if e.CheckSpin && len(after) == 0 {
		after = e.Shown
	}
	if v.Reason = unproven(after); v.Reason != "" {
		return v
	}

	v.Proven = true
	for _, p := range after {
		v.LeftG = max(v.LeftG, p.Grams())
	}

	left, err := balance.Check(limits.Residual, v.LeftG)
	if err != nil {
		v.Proven, v.Reason = false, err.Error()
		return v
	}
	v.Within = v.LeftG <= limits.Residual.Base()
	if !v.Within {
		v.Reason = fmt.Sprintf("%s is left in a plane, the limit is %s", units.MarkMass(units.Mass(v.LeftG)),
			limitValue(left.Limit))
	}

	// A total that is too large points to a bad seat or tire, however small the residual.
	// With old weights on the wheel the total is not that of the bare assembly.
	if n := limits.Needed; n != nil && e.WeightsOff {
		v.Limit += "; " + limitWords("asked for by the bare assembly", *n)
		if v.NeededG > n.Base() {
			v.Within = false
			v.Reason = fmt.Sprintf("the bare assembly asks for %s, the limit is %s: more weight is not the cure",
				units.MarkMass(units.Mass(v.NeededG)), limitValue(*n))
		}
	}

	return v
}

// unproven returns what is missing in the balancer's display to judge a job, "" if
// nothing is.
func unproven(after []models.PlaneUnbalance) string {
	has := func(plane string) bool {
		for _, p := range after {
			if p.Plane == plane {
				return true
			}
		}
		return false
	}

	switch {
	case len(after) == 0:
		return "nothing is recorded that was shown after the work: spin it again and record what is shown"
	case has("single"):
		return ""
	case !has("outer"):
		return "the outer plane was not shown: spin it again and record both planes"
	case !has("inner"):
		return "the inner plane was not shown: spin it again and record both planes"
	}

	return ""
}

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
