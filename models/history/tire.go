package history

import (
	"fmt"
	"slices"

	"rimledger/models"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// Tire folds e into s. v is the vehicle of e, the zero Vehicle for an event off
// any vehicle. An event that does not name the tire changes nothing. Events must come in
// order of time.
func Tire(s *models.TireState, t models.Tire, v models.Vehicle, e models.Event) {
	if !slices.Contains(e.TireIDs(), t.ID) {
		return
	}

	s.LastEventAt = e.Header().At
	switch e := e.(type) {
	case *models.Inspection:
		forTire(e.Readings, t.ID, func(r models.Reading) models.TireID { return r.TireID },
			func(r models.Reading) { foldReading(s, t, v, e, r) })
	case *models.Fit:
		forTire(e.Fittings, t.ID, func(f models.Fitting) models.TireID { return f.TireID },
			func(f models.Fitting) { foldFit(s, t, v, e, f) })
	case *models.Removal:
		forTire(e.Removed, t.ID, func(r models.Removed) models.TireID { return r.TireID },
			func(r models.Removed) { foldRemoval(s, e, r) })
	case *models.Rotation:
		forTire(e.Moves, t.ID, func(m models.Move) models.TireID { return m.TireID }, func(m models.Move) {
			s.Position, s.PlacedAt = m.To, point(e)
			moveWear(s, v, e.AlongKM, &e.Meta)
		})
	case *models.BalanceJob:
		foldBalance(s, e)
	case *models.WheelCheck:
		s.Trueness = models.NewestTrueness(s.Trueness, e.Records())
	case *models.Repair:
		s.Damage = without(s.Damage, models.ObsFlat, models.ObsLeak, models.ObsNail)
		if e.Demounted {
			s.UnbalancedSince = point(e)
			s.Trueness = rimOnly(s.Trueness, s.WheelID)
		}
	case *models.Clearance:
		s.Damage = without(s.Damage, e.Codes...)
	case *models.TireMove:
		foldTireMove(s, e)
	}
}

// forTire calls fold with each entry of an event that is about a tire.
func forTire[T any](entries []T, id models.TireID, tireOf func(T) models.TireID, fold func(T)) {
	for _, entry := range entries {
		if tireOf(entry) == id {
			fold(entry)
		}
	}
}

// foldFit puts the tire on a vehicle. It must be balanced unless that was done loose since
// it came off, or it was on the vehicle when the record began.
func foldFit(s *models.TireState, t models.Tire, v models.Vehicle, e *models.Fit, f models.Fitting) {
	balancedLoose := s.Balance != nil && s.Balance.Verdict.Within &&
		(s.RemovedAt == nil || s.Balance.At.After(s.RemovedAt.At))
	if !e.Existing && !balancedLoose {
		s.UnbalancedSince = point(e)
	}

	fresh := s.RemovedAt == nil && !e.Existing // at its new depth
	s.Trueness = truenessAfterFit(s, f)
	s.Status, s.VehicleID = models.Mounted, v.ID
	s.Position, s.WheelID = f.Position, f.WheelID
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

// foldRemoval takes the tire off its vehicle and adds the distance of the fitment, as far
// as odometers show it, to what it has travelled.
func foldRemoval(s *models.TireState, e *models.Removal, r models.Removed) {
	if s.FittedOn != nil && s.FittedOn.Odometer.Known && e.Odometer.Known &&
		e.Odometer.Value > s.FittedOn.Odometer.Value {
		s.Travelled += e.Odometer.Value - s.FittedOn.Odometer.Value
	}

	s.LeftKM = nil
	if e.AlongKnown {
		s.LeftKM = &e.AlongKM
	}

	s.Status, s.VehicleID = r.To, ""
	s.Position, s.WheelID = "", ""
	s.FittedOn, s.PlacedAt = nil, nil
	s.Removed, s.RemovedAt = &r, point(e)

	// These are damage of the wheel or the place, not of the tire.
	s.Damage = without(s.Damage, models.ObsContact, models.ObsWedged, models.ObsLooseNuts, models.ObsCrackedWheel)
}

// foldTireMove moves a loose tire: to stock, to the retreader, to scrap.
func foldTireMove(s *models.TireState, e *models.TireMove) {
	s.Status = e.To
	if len(e.NewDepths) == 0 {
		return
	}

	// A new tread: readings, damage and balance of the old one do not describe it.
	s.Last, s.Previous, s.Kept = nil, nil, nil
	s.MinWear, s.MeanWear, s.Doubts = nil, nil, nil
	s.Damage, s.Balance, s.MissingWeight = nil, nil, nil
	s.Removed, s.RemovedAt, s.LeftKM = nil, nil, nil
	s.Trueness = nil
}

// rimOnly returns the run-outs of the rim of wheel w: measurements of how the tire sits on
// it end when the tire comes off.
func rimOnly(values []models.TruenessRecord, w models.WheelID) []models.TruenessRecord {
	var kept []models.TruenessRecord
	for _, v := range values {
		if v.What.OfRim() && v.WheelID == w {
			kept = append(kept, v)
		}
	}
	return kept
}

// truenessAfterFit returns the measurements that are valid for the assembly that f puts on:
// those since the tire last came off, and the wheel's own run-out.
func truenessAfterFit(s *models.TireState, f models.Fitting) []models.TruenessRecord {
	var kept []models.TruenessRecord
	for _, v := range s.Trueness {
		since := s.RemovedAt == nil || !v.At.Before(s.RemovedAt.At)
		sameRim := v.What.OfRim() && v.WheelID != "" && v.WheelID == f.WheelID
		if since || sameRim {
			kept = append(kept, v)
		}
	}
	return models.NewestTrueness(kept, f.Rim)
}

// without returns the damage whose code is none of codes.
func without(active []models.ActiveDamage, codes ...models.ObservationCode) []models.ActiveDamage {
	var kept []models.ActiveDamage
	for _, d := range active {
		if !slices.Contains(codes, d.Observation.Code) {
			kept = append(kept, d)
		}
	}
	return kept
}

// foldReading keeps a reading as the newest, adds its damage, which stays until it is
// cleared, and updates the wear.
func foldReading(s *models.TireState, t models.Tire, v models.Vehicle, e *models.Inspection, r models.Reading) {
	read := s.LastRead()
	s.Previous = s.Last
	s.Last = &models.Measured{Point: *point(e), VehicleID: e.VehicleID, Person: e.Person, Gauge: e.Gauge, Reading: r}

	// Two visits without depths must not push the last depths out of the state.
	if s.Kept = nil; s.LastRead() == nil {
		s.Kept = read
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

// foldDepths updates the wear estimators of the thinnest and of the mean groove. Doubts
// says what they refuse; the reading itself is kept in any case.
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
	thinnest := wear.Reading{
		XKM:          e.AlongKM,
		DepthMM:      least.Value.Millimetres(),
		Gauge:        gauge(e.Gauge, least),
		DistanceSDKM: e.AlongSDKM,
	}
	if s.Previous != nil && s.Previous.Person != e.Person {
		thinnest.ExtraSDMM = operatorSDMM
	}

	all := thinnest
	all.DepthMM, all.Count = mean.Millimetres(), len(r.Depths)
	s.Doubts = append(update(s.MinWear, thinnest, "thinnest groove"), update(s.MeanWear, all, "mean groove")...)
}

// operatorSDMM is the standard deviation, in mm, that a change of the person who measures
// adds: half of the range of 1.0 mm between operators in a field study.
const operatorSDMM = 0.5

// update updates an estimator and returns why it refuses or doubts the reading, if it
// does. what names the estimate.
func update(s *wear.State, r wear.Reading, what string) []string {
	next, verdict, err := s.Update(r)
	if err != nil {
		return []string{fmt.Sprintf("%s: %v", what, err)}
	}
	*s = next

	if !verdict.Outlier {
		return nil
	}
	return []string{fmt.Sprintf("%s: read %s where %s was expected", what, units.MarkEstimate(r.DepthMM),
		units.MarkEstimate(verdict.ExpectedMM))}
}

// gauge returns the error model of a gauge. One of unknown resolution has the step of the
// unit in which the depth was typed.
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

// startUse returns the usual use per day of a vehicle's class.
func startUse(v models.Vehicle) wear.Use { return wear.StartUse(wear.DefaultUse(string(v.Class))) }

// prior returns the usual wear rate at a position: the one that the event keeps as learned
// from the fleet, else the default. A spare does not wear.
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

// startWear starts both estimators at the distance of h, with the depths of the new tread.
// fresh says that the tread is known to be new there. Depths that the estimator refuses
// leave the tire without an estimate.
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

// moveWear moves the estimators to a new place: they keep the depth as of distance left,
// in km, and start the new place's rate. If the distance there is not known, the
// estimators start anew at the next reading.
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
