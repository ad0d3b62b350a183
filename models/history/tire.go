package history

import (
	"fmt"
	"slices"

	"rimledger/models"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// Tire folds e into s. v is the vehicle of e; the zero Vehicle for an event off
// any vehicle. Events that do not name the tire leave s alone.
func Tire(s *models.TireState, t models.Tire, v models.Vehicle, e models.Event) {
	if !slices.Contains(e.TireIDs(), t.ID) {
		return
	}

	s.LastEventAt = e.Header().At
	switch e := e.(type) {
	case *models.Inspection:
		for _, r := range e.Readings {
			if r.TireID == t.ID {
				foldReading(s, t, v, e, r)
			}
		}
	case *models.Fit:
		for _, f := range e.Fittings {
			if f.TireID == t.ID {
				foldFit(s, t, v, e, f)
			}
		}
	case *models.Removal:
		for _, r := range e.Removed {
			if r.TireID == t.ID {
				foldRemoval(s, e, r)
			}
		}
	case *models.Rotation:
		for _, m := range e.Moves {
			if m.TireID == t.ID {
				s.Position, s.PlacedAt = m.To, point(e)
				moveWear(s, v, e.AlongKM, &e.Meta)
			}
		}
	case *models.BalanceJob:
		foldBalance(s, e)
	case *models.WheelCheck:
		s.True = models.NewestTrue(s.True, e.Values())
	case *models.Repair:
		s.Damage = without(s.Damage, models.ObsFlat, models.ObsLeak, models.ObsNail)
		if e.Demounted {
			s.UnbalancedSince = point(e)
			s.True = rimOnly(s.True, s.WheelID)
		}
	case *models.Clearance:
		s.Damage = without(s.Damage, e.Codes...)
	case *models.TireMove:
		foldTireMove(s, e)
	}
}

func foldFit(s *models.TireState, t models.Tire, v models.Vehicle, e *models.Fit, f models.Fitting) {
	balancedLoose := s.Balance != nil && s.Balance.Verdict.Within &&
		(s.RemovedAt == nil || s.Balance.At.After(s.RemovedAt.At))
	if !e.Existing && !balancedLoose {
		s.UnbalancedSince = point(e)
	}
	fresh := s.RemovedAt == nil && !e.Existing
	s.True = trueAfterFit(s, f)
	s.Status, s.VehicleID, s.Position, s.WheelID = models.Mounted, v.ID, f.Position, f.WheelID

	s.FittedOn, s.PlacedAt = point(e), point(e)
	if s.MinWear != nil {
		left := e.AlongKM
		if s.LeftKM != nil {
			left = *s.LeftKM
		}
		moveWear(s, v, left, &e.Meta)
		return
	}

	if e.AlongKnown {
		startWear(s, t, v, &e.Meta, fresh)
	}
}

func foldRemoval(s *models.TireState, e *models.Removal, r models.Removed) {
	if s.FittedOn != nil && s.FittedOn.Odometer.Known && e.Odometer.Known &&
		e.Odometer.Value > s.FittedOn.Odometer.Value {
		s.Travelled += e.Odometer.Value - s.FittedOn.Odometer.Value
	}
	s.LeftKM = nil
	if e.AlongKnown {
		s.LeftKM = &e.AlongKM
	}

	s.Status, s.VehicleID, s.Position, s.WheelID = r.To, "", "", ""
	s.FittedOn, s.PlacedAt = nil, nil
	s.Removed, s.RemovedAt = &r, point(e)

	// What was wrong with the place, not with the tire, stays behind.
	s.Damage = without(s.Damage, models.ObsContact, models.ObsWedged, models.ObsLooseNuts, models.ObsCrackedWheel)
}

func foldTireMove(s *models.TireState, e *models.TireMove) {
	s.Status = e.To
	if len(e.NewDepths) == 0 {
		return
	}
	// A new tread: what was measured of the old one is history.
	s.Last, s.Previous, s.Kept, s.MinWear, s.MeanWear, s.Doubts, s.Damage = nil, nil, nil, nil, nil, nil, nil
	s.Removed, s.RemovedAt, s.LeftKM, s.Balance, s.MissingWeight, s.True = nil, nil, nil, nil, nil, nil
}

// rimOnly keeps what belongs to wheel w alone: how the tire sits on it is no
// longer known.
func rimOnly(values []models.TrueValue, w models.WheelID) []models.TrueValue {
	var kept []models.TrueValue
	for _, v := range values {
		if v.What.OfRim() && v.WheelID == w {
			kept = append(kept, v)
		}
	}
	return kept
}

// trueAfterFit returns what is known of the assembly that f puts on: what was
// measured since the tire last came off, and the wheel's own run-out.
func trueAfterFit(s *models.TireState, f models.Fitting) []models.TrueValue {
	var kept []models.TrueValue
	for _, v := range s.True {
		if s.RemovedAt == nil || !v.At.Before(s.RemovedAt.At) ||
			v.What.OfRim() && v.WheelID != "" && v.WheelID == f.WheelID {
			kept = append(kept, v)
		}
	}
	return models.NewestTrue(kept, f.Rim)
}

func without(active []models.ActiveDamage, codes ...models.ObservationCode) []models.ActiveDamage {
	var kept []models.ActiveDamage
	for _, d := range active {
		if !slices.Contains(codes, d.Observation.Code) {
			kept = append(kept, d)
		}
	}
	return kept
}

func foldReading(s *models.TireState, t models.Tire, v models.Vehicle, e *models.Inspection, r models.Reading) {
	kept := s.LastRead()
	s.Previous = s.Last
	s.Last = &models.Measured{Point: *point(e), VehicleID: e.VehicleID, Person: e.Person, Gauge: e.Gauge, Reading: r}
	if s.Kept = nil; s.LastRead() == nil {
		s.Kept = kept
	}

	for _, o := range r.Observations {
		switch {
		case o.Code.TakesOffRoad():
			known := func(d models.ActiveDamage) bool { return d.Observation.Code == o.Code }
			if !slices.ContainsFunc(s.Damage, known) {
				s.Damage = append(s.Damage, models.ActiveDamage{Point: *point(e), Observation: o})
			}
		case o.Code == models.ObsMissingWeight && s.MissingWeight == nil:
			s.MissingWeight = point(e)
		}
	}

	foldDepths(s, t, v, e, r)
}

// foldDepths brings the reading to the wear estimators. What they refuse is
// said in Doubts; the reading itself is kept in any case.
func foldDepths(s *models.TireState, t models.Tire, v models.Vehicle, e *models.Inspection, r models.Reading) {
	least, ok := r.Min()
	if !ok {
		return
	}

	s.Doubts = nil
	if !e.AlongKnown {
		return
	}
	if s.MinWear == nil {
		startWear(s, t, v, &e.Meta, false)
	}
	if s.MinWear == nil {
		return
	}

	mean, _ := r.Mean()
	min := wear.Reading{
		XKM:          e.AlongKM,
		DepthMM:      least.Value.Millimetres(),
		Gauge:        gauge(e.Gauge, least),
		DistanceSDKM: e.AlongSDKM,
	}

	if s.Previous != nil && s.Previous.Person != e.Person {
		min.ExtraSDMM = 0.5 // other hands: a field study puts 1.0 mm of range between operators
	}
	all := min
	all.DepthMM, all.Count = mean.Millimetres(), len(r.Depths)
	s.Doubts = append(update(s.MinWear, min, "thinnest groove"), update(s.MeanWear, all, "mean groove")...)
}

func update(s *wear.State, r wear.Reading, what string) []string {
	next, verdict, err := s.Update(r)
	if err != nil {
		return []string{fmt.Sprintf("%s: %v", what, err)}
	}
	*s = next

	if verdict.Outlier {
		return []string{
			fmt.Sprintf(
				"%s: read %s where %s was expected",
				what,
				units.MarkEstimate(r.DepthMM),
				units.MarkEstimate(verdict.ExpectedMM),
			),
		}
	}

	return nil
}

func gauge(g models.Gauge, d models.Depth) wear.Gauge {
	out := wear.GaugeTenth
	if g.Resolution > units.Millimetre/2 || (g.Resolution == 0 && units.In32Typed(d.Text)) {
		out = wear.Gauge32nd
	}
	if g.Resolution > 0 {
		out.ResolutionMM = g.Resolution.Millimetres()
	}
	return out
}

func startUse(v models.Vehicle) wear.Use { return wear.StartUse(wear.DefaultUse(string(v.Class))) }

// prior returns what e says the fleet had taught of position p, else the default.
// A spare does not roll.
func prior(v models.Vehicle, p models.Position, h *models.Meta) wear.Prior {
	if p.IsSpare() {
		return wear.SparePrior()
	}
	class, role := string(v.Class), string(v.AxleAt(p).Role())
	for _, known := range h.Priors {
		if known.Position == p {
			return known.Learned.Prior(class, role)
		}
	}
	return wear.DefaultPrior(class, role)
}

// startWear begins the estimators where the vehicle was at h, with the depths of the new tread.
func startWear(s *models.TireState, t models.Tire, v models.Vehicle, h *models.Meta, fresh bool) {
	least, sum := t.NewDepths[0], units.Length(0)
	for _, d := range t.NewDepths {
		least, sum = min(least, d), sum+d
	}
	mean := sum / units.Length(len(t.NewDepths))
	p, x := prior(v, s.Position, h), h.AlongKM
	a, errA := wear.Start(p, wear.Fitting{XKM: x, NewMM: least.Millimetres(), Fresh: fresh})
	b, errB := wear.Start(p, wear.Fitting{XKM: x, NewMM: mean.Millimetres(), Fresh: fresh})
	if errA == nil && errB == nil {
		s.MinWear, s.MeanWear = &a, &b
	}
}

// moveWear keeps the depth and starts the rate of the new place. Where the
// distance is not known the estimators start anew at the next reading.
func moveWear(s *models.TireState, v models.Vehicle, left float64, h *models.Meta) {
	if s.MinWear == nil {
		return
	}
	p, start := prior(v, s.Position, h), h.AlongKM
	a, errA := s.MinWear.Moved(max(left, s.MinWear.XKM), start, p)
	b, errB := s.MeanWear.Moved(max(left, s.MeanWear.XKM), start, p)
	if !h.AlongKnown || errA != nil || errB != nil {
		s.MinWear, s.MeanWear = nil, nil
		return
	}
	s.MinWear, s.MeanWear = &a, &b
}
