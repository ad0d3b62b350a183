package assess

import (
	"slices"

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
		OnePlane:   e.Mode == "single_plane" || e.Mode == "on_vehicle",
		CheckSpin:  e.CheckSpin,
		WeightsOff: e.WeightsOff,
		Before:     asked(e.Shown),
		After:      asked(e.ShownAfter),
		LooseMedia: e.Media != nil,
	}

	// After a complaint the limits are narrower.
	d.Complaint = e.Why == models.BalanceComplaint

	// Weights count in the plane where they sit, which only the geometry gives.
	if e.Geometry != nil {
		outer, inner := models.PairOf(e.Planes)
		d.Planes = balance.Planes{Outer: *circleAt(e, outer), Inner: *circleAt(e, inner)}
	}
	if e.SelfCheck != nil {
		days := e.At.Sub(*e.SelfCheck).Hours() / 24
		d.SelfCheckDays = &days
	}
	d.Removed, d.Fitted = fits(e, e.Removed), fits(e, e.Fitted)

	v := bench.Judge(d)
	return models.BalanceVerdict{Proven: v.Proven, Within: v.Within, Limit: v.Limit, Reason: v.Reason,
		Doubts: v.Doubts, LeftG: v.LeftG, SumG: v.SumG, NeededG: v.NeededG}
}

// fits returns weights of a job in the types of package bench. One that names a shown plane
// by its place on the wheel is in that plane.
func fits(e *models.BalanceJob, list []models.FittedWeight) []bench.Fit {
	outer, inner := models.PairOf(e.Planes)

	var out []bench.Fit
	for _, w := range list {
		f := bench.Fit{Plane: w.Plane, MassG: float64(w.Mass.Value), Deg: float64(w.Angle)}
		switch {
		case w.Plane == outer:
			f.Plane = "outer"
		case w.Plane == inner:
			f.Plane = "inner"
		case slices.Contains(models.WeightPlaces, w.Plane):
			f.Plane, f.At = "", circleAt(e, w.Plane)
		}
		out = append(out, f)
	}

	return out
}

// circleAt returns where a place of a job's wheel lies, nil if the job does not say. Depths
// count inward, offsets outward.
func circleAt(e *models.BalanceJob, place string) *balance.Plane {
	if e.Geometry == nil {
		return nil
	}
	radius, depth := e.Geometry.At(place)
	return &balance.Plane{RadiusMM: radius.Millimetres(), OffsetMM: -depth.Millimetres()}
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
// the record does not have what was shown, nothing is proven.
func nearZero(b *models.BalanceRecord, a Assembly) bench.Verdict {
	d := bench.Done{Assembly: a.Bench(), CheckSpin: true, Before: asked(b.After)}

	// A machine that showed one value for the whole wheel was set to one plane.
	d.OnePlane = d.Before.Single != nil && d.Before.Outer == nil
	d.Complaint = true
	return bench.Judge(d)
}
