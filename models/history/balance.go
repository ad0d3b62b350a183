package history

import (
	"math"
	"slices"

	"rimledger/models"
	"rimledger/models/balance"
	"rimledger/models/units"
)

// foldBalance keeps a job as the newest of its tire. Geometry and planes that the job does
// not name are those of the job before on the same mounting.
func foldBalance(s *models.TireState, e *models.BalanceJob) {
	before := s.Balance
	if before != nil && s.UnbalancedSince != nil && before.At.Before(s.UnbalancedSince.At) {
		before = nil // the tire was off its wheel in between
	}

	var demand units.Mass
	for _, p := range e.Shown {
		demand += p.Mass.Value
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

	// What the assembly needs by itself is what drift is compared by.
	b.Bare, b.Weights = bareUnbalance(before, e), weightsAfter(before, e)
	b.After = e.ShownAfter
	if e.CheckSpin && len(b.After) == 0 {
		b.After = e.Shown // a check spin leaves what it found
	}

	if before != nil {
		if b.Geometry == nil {
			b.Geometry = before.Geometry
		}
		if b.Planes == "" {
			b.Planes = before.Planes
		}
		if b.Planes == before.Planes { // unbalances of other planes cannot be compared
			b.Drift = driftSince(before, b.Bare, e)
		}
	}

	// Only a job within its limit settles what was open.
	s.Balance = b
	if e.Verdict.Within {
		s.UnbalancedSince, s.MissingWeight = nil, nil
	}
}

// bareUnbalance returns the unbalance of the assembly without any weight, in each plane: what was
// shown plus the weights that were on it then. It returns nil if those are not known.
func bareUnbalance(before *models.BalanceRecord, e *models.BalanceJob) []models.PlaneUnbalance {
	if len(e.Shown) == 0 {
		return nil
	}

	var on []models.FittedWeight // during the first spin
	switch {
	case e.WeightsOff:
	case before != nil && before.Weights != nil:
		on = before.Weights
	case len(e.Removed) > 0:
		on = e.Removed // without a record, those removed are taken for all
	default:
		return nil
	}

	var out []models.PlaneUnbalance
	for _, p := range e.Shown {
		sum := inGrams(p.Grams(), p.Angle)
		for _, w := range on {
			effect, known := effectOf(w, before, e)
			if !known {
				return nil
			}
			sum = balance.Sum(sum, effect[p.Plane])
		}
		out = append(out, plane(p.Plane, sum))
	}

	return out
}

// effectOf returns the effect of a weight that was on the wheel at job e in each of the
// planes that were shown, in grams there. known is false if it sits at another place of
// the wheel that was not measured.
func effectOf(
	w models.FittedWeight,
	before *models.BalanceRecord,
	e *models.BalanceJob,
) (effect map[string]balance.Vector, known bool) {
	pair, g := e.Planes, e.Geometry
	if before != nil && pair == "" {
		pair = before.Planes
	}
	if before != nil && g == nil {
		g = before.Geometry
	}

	// A weight may name a shown plane by its place on the wheel.
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

	// circle is the circle of a place; depths count inwards, offsets outwards.
	circle := func(place string) balance.Plane {
		radius, depth := g.At(place)
		return balance.Plane{RadiusMM: radius.Millimetres(), OffsetMM: -depth.Millimetres()}
	}

	shown, place := balance.Planes{Outer: circle(outer), Inner: circle(inner)}, circle(at)
	u, _, err := balance.Resolve(shown, balance.Lump{
		MassG:    float64(w.Mass.Value),
		RadiusMM: place.RadiusMM,
		Deg:      float64(w.Angle),
		OffsetMM: place.OffsetMM,
	})
	if err != nil {
		return nil, false
	}

	return map[string]balance.Vector{
		"outer": u.Outer.Scaled(1 / shown.Outer.RadiusMM),
		"inner": u.Inner.Scaled(1 / shown.Inner.RadiusMM),
	}, true
}

// weightsAfter returns the weights that are on the wheel after e: empty for none, nil if
// they are not known.
func weightsAfter(before *models.BalanceRecord, e *models.BalanceJob) []models.FittedWeight {
	out := []models.FittedWeight{}
	if e.WeightsOff {
		return append(out, e.Fitted...)
	}

	switch {
	case before != nil && before.Weights != nil:
		out = slices.Clone(before.Weights)
	case len(e.Removed) == 0:
		return nil
	}

	for _, removed := range e.Removed {
		i := slices.IndexFunc(out, func(w models.FittedWeight) bool {
			return w.Plane == removed.Plane && w.Mass.Value == removed.Mass.Value && w.Angle == removed.Angle
		})
		if i >= 0 {
			out = slices.Delete(out, i, i+1)
		}
	}

	return append(out, e.Fitted...)
}

// driftSince compares what e shows with the job before: if the weights stayed on, the
// wheel as found with the wheel as left; otherwise, or if either is not known, bare with
// bareUnbalance.
func driftSince(before *models.BalanceRecord, bare []models.PlaneUnbalance, e *models.BalanceJob) *models.BalanceDrift {
	if !e.WeightsOff {
		if d := drift(before, before.After, e.Shown); d != nil {
			d.LeftOn = true
			return d
		}
	}
	return drift(before, before.Bare, bare)
}

// drift returns the change of the unbalance in each plane that is known both times, nil if
// none is.
func drift(before *models.BalanceRecord, then, now []models.PlaneUnbalance) *models.BalanceDrift {
	d := &models.BalanceDrift{Since: before.Point}
	for _, p := range now {
		for _, was := range then {
			if was.Plane != p.Plane {
				continue
			}
			v := balance.Sum(inGrams(p.Grams(), p.Angle), inGrams(was.Grams(), was.Angle).Opposite())
			d.Planes = append(d.Planes, plane(p.Plane, v))
			d.WorstG = max(d.WorstG, v.GMM)
		}
	}

	if len(d.Planes) == 0 {
		return nil
	}
	return d
}

// inGrams returns a mass as a vector on a circle of 1 mm radius, so that its amount in
// g·mm is the mass in g.
func inGrams(g float64, at units.Angle) balance.Vector { return balance.Mass(g, 1, float64(at)) }

// plane returns a vector as the unbalance of a plane, to a tenth of a gram and of a degree:
// balancers show no finer steps.
func plane(name string, v balance.Vector) models.PlaneUnbalance {
	g := units.Mass(math.Round(v.GMM*10) / 10)
	p := models.PlaneUnbalance{Plane: name, Mass: models.Mass{Value: g, Text: units.FormatMass(g, units.G)}}
	if g > 0 {
		p.Angle = units.Angle(math.Round(v.Deg*10) / 10).Normal()
	}
	return p
}

// Jobs returns the record of each balance job among the events of t, in order of time, as
// it was when the job was done, with the drift since the job before on the same mounting.
// vehicles must have every vehicle that the events name.
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
