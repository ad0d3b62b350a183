package history

import (
	"math"
	"slices"

	"rimledger/models"
	"rimledger/models/balance"
	"rimledger/models/units"
)

func foldBalance(s *models.TireState, e *models.BalanceJob) {
	var demand units.Mass
	for _, p := range e.Shown {
		demand += p.Mass.Value
	}

	before := s.Balance
	if before != nil && s.UnbalancedSince != nil && before.At.Before(s.UnbalancedSince.At) {
		before = nil // the tire was off its wheel in between
	}

	b := &models.BalanceRecord{
		Point:     *point(e),
		VehicleID: e.VehicleID,
		WheelID:   e.WheelID,
		Why:       e.Why,
		Verdict:   e.Verdict,
		Demand:    demand,
		CheckSpin: e.CheckSpin,
		Checks:    e.Checks,
		Geometry:  e.Geometry,
		Planes:    e.Planes,
	}

	b.Bare, b.Weights, b.After = bare(before, e), weightsAfter(before, e), e.ShownAfter
	if e.CheckSpin && len(b.After) == 0 {
		b.After = e.Shown
	}

	if before != nil {
		if b.Geometry == nil {
			b.Geometry = before.Geometry
		}
		if b.Planes == "" {
			b.Planes = before.Planes
		}
		if b.Planes == before.Planes {
			b.Drift = driftSince(before, b.Bare, e)
		}
	}

	s.Balance = b
	if e.Verdict.Within {
		s.UnbalancedSince, s.MissingWeight = nil, nil
	}
}

// bare returns what the assembly would ask for without any weight: what was
// shown, and the weights that were on it then. nil if those are not known.
func bare(before *models.BalanceRecord, e *models.BalanceJob) []models.PlaneUnbalance {
	on := e.Removed
	switch {
	case len(e.Shown) == 0:
		return nil
	case e.WeightsOff:
		on = nil
	case before != nil && before.Weights != nil:
		on = before.Weights
	case len(on) == 0:
		return nil
	}

	var out []models.PlaneUnbalance
	for _, p := range e.Shown {
		sum := inGrams(p.Grams(), p.Angle)
		for _, w := range on {
			does, known := acts(w, before, e)
			if !known {
				return nil
			}
			sum = balance.Sum(sum, does[p.Plane])
		}

		out = append(out, plane(p.Plane, sum))
	}

	return out
}

// acts returns what a weight that was on the wheel at job e does in the planes that
// were shown, in grams there. known is false where it sits elsewhere and where that
// is was not measured.
func acts(
	w models.FittedWeight,
	before *models.BalanceRecord,
	e *models.BalanceJob,
) (does map[string]balance.Vector, known bool) {
	pair, g := e.Planes, e.Geometry
	if before != nil && pair == "" {
		pair = before.Planes
	}
	if before != nil && g == nil {
		g = before.Geometry
	}
	outer, inner := models.PairOf(pair)

	at := w.Plane
	switch w.Plane {
	case outer:
		at = "outer"
	case inner:
		at = "inner"
	}

	if !slices.Contains(models.WeightPlaces, at) {
		return map[string]balance.Vector{at: inGrams(float64(w.Mass.Value), w.Angle)}, true
	}
	if g == nil {
		return nil, false
	}

	circle := func(place string) balance.Plane {
		radius, depth := g.At(place)
		return balance.Plane{RadiusMM: radius.Millimetres(), OffsetMM: -depth.Millimetres()}
	}

	shown, sits := balance.Planes{Outer: circle(outer), Inner: circle(inner)}, circle(at)
	u, _, err := balance.Resolve(
		shown,
		balance.Lump{
			MassG:    float64(w.Mass.Value),
			RadiusMM: sits.RadiusMM,
			Deg:      float64(w.Angle),
			OffsetMM: sits.OffsetMM,
		},
	)
	if err != nil {
		return nil, false
	}

	return map[string]balance.Vector{
		"outer": u.Outer.Scaled(1 / shown.Outer.RadiusMM),
		"inner": u.Inner.Scaled(1 / shown.Inner.RadiusMM),
	}, true
}

// weightsAfter returns the weights that are on the wheel after e, nil if not known.
func weightsAfter(before *models.BalanceRecord, e *models.BalanceJob) []models.FittedWeight {
	out := []models.FittedWeight{}
	if !e.WeightsOff {
		if before == nil || before.Weights == nil {
			if len(e.Removed) == 0 {
				return nil
			}
		} else {
			out = slices.Clone(before.Weights)
		}

		for _, gone := range e.Removed {
			if i := slices.IndexFunc(out, func(w models.FittedWeight) bool {
				return w.Plane == gone.Plane && w.Mass.Value == gone.Mass.Value && w.Angle == gone.Angle
			}); i >= 0 {
				out = slices.Delete(out, i, i+1)
			}
		}
	}

	return append(out, e.Fitted...)
}

// driftSince compares what e shows with the job before: as it was left with as it
// was found, where the weights stayed on; else bare with bare, as far as known.
func driftSince(before *models.BalanceRecord, bare []models.PlaneUnbalance, e *models.BalanceJob) *models.BalanceDrift {
	if !e.WeightsOff {
		if d := drift(before, before.After, e.Shown); d != nil {
			d.LeftOn = true
			return d
		}
	}
	return drift(before, before.Bare, bare)
}

// drift returns the change in each plane that is known both times, nil if none is.
func drift(before *models.BalanceRecord, then, now []models.PlaneUnbalance) *models.BalanceDrift {
	d := &models.BalanceDrift{Since: before.Point}
	for _, p := range now {
		for _, was := range then {
			if was.Plane == p.Plane {
				v := balance.Sum(inGrams(p.Grams(), p.Angle), inGrams(was.Grams(), was.Angle).Opposite())
				d.Planes = append(d.Planes, plane(p.Plane, v))
				d.WorstG = max(d.WorstG, v.GMM)
			}
		}
	}

	if len(d.Planes) == 0 {
		return nil
	}
	return d
}

// inGrams is a mass as a vector on a circle of 1 mm: its amount is grams.
func inGrams(g float64, at units.Angle) balance.Vector { return balance.Mass(g, 1, float64(at)) }

// plane writes a vector as a mass, to a tenth of a gram: what is finer is noise.
func plane(name string, v balance.Vector) models.PlaneUnbalance {
	g := units.Mass(math.Round(v.GMM*10) / 10)
	p := models.PlaneUnbalance{Plane: name, Mass: models.Mass{Value: g, Text: units.FormatMass(g, units.G)}}
	if g > 0 {
		p.Angle = units.Angle(math.Round(v.Deg*10) / 10).Normal()
	}
	return p
}

// Jobs returns what each balance job among the events of t, in order of time, came
// to when it was done, with its drift since the job before on the same mounting.
// vehicles holds every vehicle that the events name.
func Jobs(
	t models.Tire,
	vehicles map[models.VehicleID]models.Vehicle,
	events []models.Event,
) map[models.EventID]models.BalanceRecord {
	s, out := models.TireState{Status: models.InStock}, map[models.EventID]models.BalanceRecord{}
	for _, e := range events {
		Tire(&s, t, vehicles[e.Header().VehicleID], e)
		if e.Kind() == models.KindBalance && s.Balance != nil {
			out[e.Header().ID] = *s.Balance
		}
	}
	return out
}
