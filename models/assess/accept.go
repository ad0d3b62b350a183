package assess

import (
	"fmt"
	"math"
	"strings"

	"rimledger/models"
	"rimledger/models/balance"
	"rimledger/models/tiresize"
	"rimledger/models/units"
)

// Assembly is what the limits of a balance job depend on. A loose assembly has
// no class: its tire's size then says whether it is a heavy one.
type Assembly struct {
	Class models.Class
	Role  models.AxleRole
	Size  string
}

// AcceptanceLimits are the limits that decide on a job.
type AcceptanceLimits struct {
	Residual balance.Limit  // left in each plane
	Needed   *balance.Limit // asked for by the bare assembly, both planes; nil for light vehicles
}

// wideBaseMM is the section width from which a heavy tire is a wide base single
// (trade usage, from memory).
const wideBaseMM = 385

// LimitsOf returns the limits for an assembly. Light vehicles: a workshop
// manual's residual a flange. Heavy ones: the total weight before correction of
// TMC RP 214, and for what is left a textbook's figure, since no published
// residual limit for heavy wheels was found.
func LimitsOf(a Assembly) AcceptanceLimits {
	size, err := tiresize.Parse(a.Size)
	if heavy := a.Class.Heavy() || a.Class == "" && err == nil && heavySize(size); !heavy {
		return AcceptanceLimits{Residual: limit("car-flange")}
	}
	residual := "textbook-heavy-truck"
	if a.Class == models.RigidTruck || a.Class == models.Bus {
		residual = "textbook-truck"
	}
	needed := limit(heavyRotor(a))
	return AcceptanceLimits{Residual: limit(residual), Needed: &needed}
}

// heavySize reports whether a size is that of a heavy vehicle: a load index above
// 121, where passenger and light truck sizes end, or where none is written a rim
// of half an inch from 17.5 up, which only trucks and buses have (trade usage,
// from memory).
func heavySize(s tiresize.Designation) bool {
	if s.LoadIndex > 0 {
		return s.LoadIndex > 121
	}
	return s.RimCode >= 17.5 && s.RimCode != math.Trunc(s.RimCode)
}

// heavyRotor is what a heavy assembly is called in the table of limits.
func heavyRotor(a Assembly) string {
	size, err := tiresize.Parse(a.Size)
	kind := "road"
	switch {
	case err == nil && size.RimCode == 19.5:
		kind = "19.5"
	case err == nil && size.WidthMM >= wideBaseMM:
		kind = "wide"
	}
	if a.Role == models.RoleSteer || a.Class == "" { // where it will run is not known: the stricter one
		return "heavy-" + kind + "-steer"
	}
	return "heavy-" + kind + "-other"
}

func limit(id string) balance.Limit {
	l, err := balance.LimitByID(id)
	if err != nil {
		panic(err) // the table is embedded
	}
	return l
}

// JudgeBalance holds what a job left against the limits of its assembly. What
// was shown after the work decides; on a check spin what was shown.
func JudgeBalance(e *models.BalanceJob, a Assembly) models.BalanceVerdict {
	limits := LimitsOf(a)
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
		v.Reason = fmt.Sprintf(
			"%s is left in a plane, the limit is %s",
			units.MarkMass(units.Mass(v.LeftG)),
			limitValue(left.Limit),
		)
	}

	if n := limits.Needed; n != nil && e.WeightsOff {
		v.Limit += "; " + limitWords("asked for by the bare assembly", *n)
		if v.NeededG > n.Base() {
			v.Within = false
			v.Reason = fmt.Sprintf(
				"the bare assembly asks for %s, the limit is %s: more weight is not the cure",
				units.MarkMass(units.Mass(v.NeededG)),
				limitValue(*n),
			)
		}
	}

	return v
}

// unproven says why what was shown proves nothing, "" if it does.
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

func limitValue(l balance.Limit) string {
	return units.MarkTypedMass(units.Mass(l.Base()), fmt.Sprintf("%g %s", l.Value, l.Unit))
}

func limitWords(what string, l balance.Limit) string {
	s := fmt.Sprintf("at most %s %s (%s", limitValue(l), what, l.Source)
	if l.Information {
		s += ", taken as the limit for want of a published one"
	}
	return strings.TrimSuffix(s, " ") + ")"
}
