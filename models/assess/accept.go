package assess

import (
	"rimledger/models"
	"rimledger/models/balance"
	"rimledger/models/bench"
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

// JudgeBalance compares the unbalance that a job left with the limits of its assembly, as
// bench.Judge does.
func JudgeBalance(e *models.BalanceJob, a Assembly) models.BalanceVerdict {
	d := bench.Done{
		Assembly:   a.Bench(),
		CheckSpin:  e.CheckSpin,
		WeightsOff: e.WeightsOff,
		Before:     asked(e.Shown),
		After:      asked(e.ShownAfter),
	}
	d.Complaint = e.Why == models.BalanceComplaint

	v := bench.Judge(d)
	return models.BalanceVerdict{Proven: v.Proven, Within: v.Within, Limit: v.Limit, Reason: v.Reason,
		LeftG: v.LeftG, NeededG: v.NeededG}
}

// asked returns what a machine showed in the types of package bench.
func asked(list []models.PlaneUnbalance) bench.Asked {
	var s bench.Asked
	for _, p := range list {
		shown := &balance.Shown{MassG: p.Grams(), Deg: float64(p.Angle)}
		switch p.Plane {
		case "outer":
			s.Outer = shown
		case "inner":
			s.Inner = shown
		case "single":
			s.Single = shown
		}
	}
	return s
}

// nearZero judges what a job or a spin left by what clears a wheel after a complaint. Where
// the record does not hold what was shown, nothing is proven.
func nearZero(b *models.BalanceRecord, a Assembly) bench.Verdict {
	d := bench.Done{Assembly: a.Bench(), CheckSpin: true, Before: asked(b.After)}
	d.Complaint = true
	return bench.Judge(d)
}
