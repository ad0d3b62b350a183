package history_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rimledger/models"
	"rimledger/models/history"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// The table of this file says for each kind of event what it changes of a tire and of its
// vehicle, and that it changes nothing else. The expected words are typed from what the
// record promises: history follows the tire; a rotation keeps the depth and starts a new
// rate; work with wheels off waits for a re-torque; damage stays until it is cleared.

// dayZero is the day on which the tires of the table are fitted, at 10,000 km.
var dayZero = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// grooved is a tire whose thinnest groove has 7.5 mm when new, the mean of the three 8 mm.
var grooved = models.Tire{ID: "t", Size: "205/55R16", Design: "Larch",
	NewDepths: []units.Length{8 * units.Millimetre, 7500 * units.Millimetre / 1000, 8500 * units.Millimetre / 1000}}

// when returns the header of an event on a day after the fit with an odometer in km.
func when(id string, day float64, km float64) models.Meta {
	m := unread(id, day)
	m.Odometer = models.Odometer{Known: true, Value: units.DistanceFromKilometres(km), Text: "km"}
	m.AlongKM, m.AlongKnown = km, true
	return m
}

// unread returns the header of an event without an odometer, of which nothing can be estimated.
func unread(id string, day float64) models.Meta {
	at := dayZero.Add(time.Duration(day * 24 * float64(time.Hour)))
	return models.Meta{ID: models.EventID(id), VehicleID: car.ID, At: at, Person: "Odd"}
}

// estimated returns the header of an event whose distance is estimated.
func estimated(id string, day, km, sd float64) models.Meta {
	m := unread(id, day)
	m.AlongKM, m.AlongSDKM, m.AlongKnown = km, sd, true
	return m
}

// fitted is the first event of each row.
func fitted() models.Event { return fitAt(when("fit", 0, 10_000), "1L", "w1") }

func fitAt(m models.Meta, p models.Position, w models.WheelID) *models.Fit {
	return &models.Fit{Meta: m, Fittings: []models.Fitting{{TireID: "t", Position: p, WheelID: w}}}
}

// inspected reads the tire at 1L: one depth in mm for each groove, none for no depths.
func inspected(m models.Meta, depths ...float64) *models.Inspection {
	r := models.Reading{Position: "1L", TireID: "t"}
	for _, mm := range depths {
		d := models.Depth{Value: units.LengthFromMillimetres(mm), Text: fmt.Sprint(mm, " mm")}
		r.Depths = append(r.Depths, []*models.Depth{&d})
	}
	return &models.Inspection{Meta: m, Readings: []models.Reading{r}}
}

// pumped is an inspection that reads only the pressure.
func pumped(m models.Meta) *models.Inspection {
	e := inspected(m)
	e.Readings[0].Pressure = &models.Pressure{Value: 220 * units.Kilopascal, Text: "2.2 bar"}
	return e
}

// seen is an inspection that finds something on the tire.
func seen(m models.Meta, codes ...models.ObservationCode) *models.Inspection {
	e := inspected(m)
	for _, c := range codes {
		e.Readings[0].Observations = append(e.Readings[0].Observations, models.Observation{Code: c})
	}
	return e
}

func removed(m models.Meta) *models.Removal {
	return &models.Removal{Meta: m, Removed: []models.Removed{
		{Position: "1L", TireID: "t", Reason: models.SeasonChange, To: models.InStock}}}
}

func moved(m models.Meta, to models.Position) *models.Rotation {
	return &models.Rotation{Meta: m, Moves: []models.Move{{From: "1L", To: to, TireID: "t"}}}
}

func balanced(m models.Meta, p models.Position, within bool) *models.BalanceJob {
	return &models.BalanceJob{Meta: m, Position: p, TireID: "t", WheelID: "w1", Why: models.BalanceFitted,
		Mode: "two_plane", Verdict: models.BalanceVerdict{Proven: true, Within: within}}
}

func gapped(m models.Meta) *models.WheelCheck {
	return &models.WheelCheck{Meta: m, Position: "1L", TireID: "t", WheelID: "w1", Measures: []models.TruenessMeasure{
		{What: models.BeadGap, Value: models.Size{Value: units.Millimetre, Text: "1 mm"}}}}
}

func repaired(m models.Meta, demounted bool) *models.Repair {
	return &models.Repair{Meta: m, Position: "1L", TireID: "t", Demounted: demounted}
}

func pointText(p *models.Point) string {
	if p == nil {
		return ""
	}
	out := fmt.Sprintf("%s day %g", p.EventID, p.At.Sub(dayZero).Hours()/24)
	if p.Odometer.Known {
		out += fmt.Sprintf(" %.0f km", p.Odometer.Value.Kilometres())
	}
	return out
}

func measuredText(m *models.Measured) string {
	if m == nil {
		return ""
	}
	out := pointText(&m.Point) + " by " + m.Person
	if least, ok := m.Reading.Min(); ok {
		out += " " + least.Text
	}
	return out
}

// wearText describes an estimate: depth, where, rate, readings, and how sure each is.
func wearText(s *wear.State) string {
	if s == nil {
		return ""
	}
	sd, _ := s.DepthSD()
	return fmt.Sprintf("%.5g ± %.5g mm at %.0f km, %.5g ± %.5g by %s %d, break-in %.0f km, %d readings", s.DepthMM, sd,
		s.XKM,
		s.RateMM, 1/s.RateInfo, s.Prior.Source.Level, s.Prior.Source.Fitments, s.BreakInKM, s.Count)
}

// tireWords describes every part of a tire's state that is not empty.
func tireWords(s models.TireState) map[string]string {
	words := map[string]string{
		"status":      string(s.Status),
		"place":       strings.TrimSpace(fmt.Sprint(s.VehicleID, " ", s.Position, " ", s.WheelID)),
		"fitted":      pointText(s.FittedOn),
		"placed":      pointText(s.PlacedAt),
		"last":        measuredText(s.Last),
		"previous":    measuredText(s.Previous),
		"kept":        measuredText(s.Kept),
		"removed at":  pointText(s.RemovedAt),
		"unbalanced":  pointText(s.UnbalancedSince),
		"missing":     pointText(s.MissingWeight),
		"minimum":     wearText(s.MinWear),
		"mean":        wearText(s.MeanWear),
		"last event":  fmt.Sprintf("day %g", s.LastEventAt.Sub(dayZero).Hours()/24),
		"travelled":   "",
		"damage":      "",
		"out of true": "",
	}

	if s.Travelled != 0 {
		words["travelled"] = fmt.Sprintf("%.0f km", s.Travelled.Kilometres())
	}
	if s.Removed != nil {
		words["removed"] = fmt.Sprintf("%s from %s to %s", s.Removed.Reason, s.Removed.Position, s.Removed.To)
	}
	if s.LeftKM != nil {
		words["left"] = fmt.Sprintf("%.0f km", *s.LeftKM)
	}
	if s.Balance != nil {
		words["balance"] = pointText(&s.Balance.Point)
	}

	var damage, trueness, doubtful []string
	for _, d := range s.Doubts {
		which, _, _ := strings.Cut(d, ":")
		doubtful = append(doubtful, which)
	}
	for _, d := range s.Damage {
		damage = append(damage, string(d.Observation.Code)+" "+pointText(&d.Point))
	}
	for _, v := range s.Trueness {
		trueness = append(trueness, string(v.What)+" "+pointText(&v.Point))
	}
	words["damage"], words["out of true"] = strings.Join(damage, ", "), strings.Join(trueness, ", ")
	words["doubts"] = strings.Join(doubtful, ", ")

	maps.DeleteFunc(words, func(_, text string) bool { return text == "" })
	return words
}

// vehicleWords describes every part of a vehicle's state that is not empty.
func vehicleWords(s models.VehicleState) map[string]string {
	odometer := func(o models.Odometer, at time.Time) string {
		return pointText(&models.Point{EventID: "read", At: at, Odometer: o})
	}

	var found, complaints []string
	for _, o := range s.Observations {
		found = append(found, string(o.Code))
	}
	for _, c := range s.Complaints {
		complaints = append(complaints, fmt.Sprintf("%s day %g %g km/h", c.EventID, c.At.Sub(dayZero).Hours()/24,
			c.Report.WorstKMH))
	}

	words := map[string]string{
		"last event": fmt.Sprintf("day %g", s.LastEventAt.Sub(dayZero).Hours()/24),
		"odometer":   odometer(s.Odometer, s.OdometerAt),
		"first":      odometer(s.FirstOdometer, s.FirstOdometerAt),
		"inspection": pointText(s.LastInspection),
		"pressure":   pointText(s.LastPressure),
		"rotation":   pointText(s.LastRotation),
		"alignment":  pointText(s.LastAlignment),
		"dampers":    pointText(s.LastDampers),
		"retorque":   pointText(s.RetorqueFrom),
		"found":      strings.Join(found, ", "),
		"complaints": strings.Join(complaints, ", "),
		"use": fmt.Sprintf("%.1f km a day from day %g at %.0f km", s.Use.KMPerDay,
			s.Use.Day-history.Day(dayZero), s.Use.XKM),
	}

	if len(s.Observations) > 0 {
		words["found"] += fmt.Sprintf(" on day %g", s.ObservedAt.Sub(dayZero).Hours()/24)
	}
	maps.DeleteFunc(words, func(_, text string) bool { return text == "" })
	return words
}

// change returns what differs: the new words of each part, "-" for one that is empty now.
func change(before, after map[string]string) map[string]string {
	out := map[string]string{}
	for part, text := range after {
		if before[part] != text {
			out[part] = text
		}
	}
	for part := range before {
		if after[part] == "" {
			out[part] = "-"
		}
	}
	return out
}

// estimate runs the wear estimator by hand: it begins on a place of the car.
func estimate(t *testing.T, role string, at, newMM float64, fresh bool) wear.State {
	t.Helper()
	s, err := wear.Start(wear.DefaultPrior("car", role), wear.Fitting{XKM: at, NewMM: newMM, Fresh: fresh})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// taken is the estimate after a reading.
func taken(t *testing.T, s wear.State, r wear.Reading) wear.State {
	t.Helper()
	next, _, err := s.Update(r)
	if err != nil {
		t.Fatal(err)
	}
	return next
}

// placed is the estimate after a move.
func placed(t *testing.T, s wear.State, left, start float64, p wear.Prior) wear.State {
	t.Helper()
	next, err := s.Moved(left, start, p)
	if err != nil {
		t.Fatal(err)
	}
	return next
}

// TestFirstFit: a new tire starts at the depths of its new tread, and whoever put it on
// has nuts to check and a wheel to balance.
func TestFirstFit(t *testing.T) {
	t.Parallel()
	s, _ := history.ReplayTire(grooved, map[models.VehicleID]models.Vehicle{car.ID: car}, []models.Event{fitted()})
	thin, mean := estimate(t, "steer", 10_000, 7.5, true), estimate(t, "steer", 10_000, 8, true)
	want := map[string]string{"status": "mounted", "place": "v 1L w1", "fitted": "fit day 0 10000 km",
		"placed": "fit day 0 10000 km", "unbalanced": "fit day 0 10000 km", "last event": "day 0",
		"minimum": wearText(&thin), "mean": wearText(&mean)}
	if diff := cmp.Diff(want, tireWords(s)); diff != "" {
		t.Errorf("tire (-want +got):\n%s", diff)
	}

	want = map[string]string{"last event": "day 0", "odometer": "read day 0 10000 km", "first": "read day 0 10000 km",
		"retorque": "fit day 0 10000 km", "use": "50.0 km a day from day 0 at 10000 km"}
	if diff := cmp.Diff(want, vehicleWords(history.ReplayVehicle(car, []models.Event{fitted()}))); diff != "" {
		t.Errorf("vehicle (-want +got):\n%s", diff)
	}
}

// TestEventsOfATire: what follows for the tire from each kind of event after it was fitted.
func TestEventsOfATire(t *testing.T) {
	t.Parallel()

	type words = map[string]string

	// The estimates of the thinnest groove and of the mean are the estimator's own, fed by
	// hand: three grooves make the mean, a change of person adds 0.5 mm.
	reading := func(km, mm float64) wear.Reading { return wear.Reading{XKM: km, DepthMM: mm, Gauge: wear.GaugeTenth} }
	of3 := func(r wear.Reading) wear.Reading { r.Count = 3; return r }
	thin, mean := estimate(t, "steer", 10_000, 7.5, true), estimate(t, "steer", 10_000, 8, true)
	thin6, mean6 := taken(t, thin, reading(15_000, 6.5)), taken(t, mean, of3(reading(15_000, 7)))

	other := inspected(when("again", 60, 18_000), 7, 6, 8)
	other.Person = "Prue"
	byOther := func(r wear.Reading) wear.Reading { r.ExtraSDMM = 0.5; return r }
	thinPrue := taken(t, thin6, byOther(reading(18_000, 6)))
	meanPrue := taken(t, mean6, byOther(of3(reading(18_000, 7))))
	thinOdd, meanOdd := taken(t, thin6, reading(18_000, 6)), taken(t, mean6, of3(reading(18_000, 7)))

	doubtful := func(r wear.Reading) wear.Reading { r.DistanceSDKM = 400; return r }
	thinDoubt, meanDoubt := taken(t, thin, doubtful(reading(15_000, 6.5))), taken(t, mean, doubtful(of3(reading(15_000,
		7))))

	worn := inspected(when("see", 30, 15_000), 7, 6.5, 7.5)
	thinFar, meanFar := taken(t, thin6, reading(15_100, 5)), taken(t, mean6, of3(reading(15_100, 19.5/3)))

	driven := wear.DefaultPrior("car", "drive")
	thinMoved, meanMoved := placed(t, thin, 15_000, 15_000, driven), placed(t, mean, 15_000, 15_000, driven)
	thinSpare := placed(t, thin, 15_000, 15_000, wear.SparePrior())
	meanSpare := placed(t, mean, 15_000, 15_000, wear.SparePrior())
	thinBack, meanBack := placed(t, thin, 12_000, 30_000, driven), placed(t, mean, 12_000, 30_000, driven)
	thinUnknown, meanUnknown := placed(t, thin, 30_000, 30_000, driven), placed(t, mean, 30_000, 30_000, driven)

	looseBalance := balanced(unread("loose", 50), "", true)
	off, on := removed(when("off", 40, 12_000)), fitAt(when("on", 90, 30_000), "2R", "w2")
	offWords := words{"status": "stock", "place": "-", "fitted": "-", "placed": "-", "travelled": "2000 km",
		"removed": "season_change from 1L to stock", "removed at": "off day 40 12000 km", "left": "12000 km",
		"last event": "day 40"}
	onWords := words{"place": "v 2R w2", "fitted": "on day 90 30000 km", "placed": "on day 90 30000 km",
		"travelled": "2000 km", "removed": "season_change from 1L to stock", "removed at": "off day 40 12000 km",
		"left": "12000 km", "last event": "day 90", "unbalanced": "on day 90 30000 km",
		"minimum": wearText(&thinBack), "mean": wearText(&meanBack)}
	but := func(base words, changed words) words {
		out := maps.Clone(base)
		maps.Copy(out, changed)
		maps.DeleteFunc(out, func(_, text string) bool { return text == "" })
		return out
	}

	retread := &models.TireMove{Meta: unread("tread", 70), TireID: "t", To: models.InStock,
		NewDepths: []units.Length{7 * units.Millimetre}}
	noOdometer := removed(estimated("off", 40, 12_000, 300))
	nowhere := removed(unread("off", 40))
	backwards := removed(when("off", 40, 9_000))
	mate := inspected(when("see", 30, 15_000), 7, 6.5, 7.5)
	mate.Readings[0].TireID = "another"

	for name, row := range map[string]struct {
		events []models.Event
		want   words
	}{
		"an odometer entry": {[]models.Event{&models.OdometerEntry{Meta: when("o", 30, 15_000)}}, words{}},
		"an alignment":      {[]models.Event{&models.Alignment{Meta: when("a", 30, 15_000)}}, words{}},
		"a re-torque":       {[]models.Event{&models.Retorque{Meta: when("r", 30, 15_000)}}, words{}},
		"new dampers": {[]models.Event{&models.Service{Meta: when("s", 30, 15_000), What: "dampers"}},
			words{}},
		"a vibration report":        {[]models.Event{&models.Vibration{Meta: when("v", 30, 15_000)}}, words{}},
		"a withdrawal":              {[]models.Event{&models.Void{Meta: when("x", 30, 15_000)}}, words{}},
		"another tire's inspection": {[]models.Event{mate}, words{}},
		"depths": {[]models.Event{inspected(when("see", 30, 15_000), 7, 6.5, 7.5)}, words{
			"last": "see day 30 15000 km by Odd 6.5 mm", "last event": "day 30",
			"minimum": wearText(&thin6), "mean": wearText(&mean6)}},
		"depths at an estimated distance": {[]models.Event{inspected(estimated("see", 30, 15_000, 400), 7, 6.5, 7.5)},
			words{"last": "see day 30 by Odd 6.5 mm", "last event": "day 30",
				"minimum": wearText(&thinDoubt), "mean": wearText(&meanDoubt)}},
		"depths at an unknown distance": {[]models.Event{inspected(unread("see", 30), 7, 6.5, 7.5)},
			words{"last": "see day 30 by Odd 6.5 mm", "last event": "day 30"}},
		"depths twice, by the same person": {[]models.Event{inspected(when("see", 30, 15_000), 7, 6.5, 7.5),
			inspected(when("again", 60, 18_000), 7, 6, 8)}, words{"last": "again day 60 18000 km by Odd 6 mm",
			"previous": "see day 30 15000 km by Odd 6.5 mm", "last event": "day 60",
			"minimum": wearText(&thinOdd), "mean": wearText(&meanOdd)}},
		"depths twice, by two people": {[]models.Event{inspected(when("see", 30, 15_000), 7, 6.5, 7.5), other},
			words{"last": "again day 60 18000 km by Prue 6 mm", "previous": "see day 30 15000 km by Odd 6.5 mm",
				"last event": "day 60", "minimum": wearText(&thinPrue), "mean": wearText(&meanPrue)}},
		"depths deeper than the new tread": {[]models.Event{inspected(when("see", 30, 15_000), 12, 12, 12)}, words{
			"last": "see day 30 15000 km by Odd 12 mm", "last event": "day 30",
			"doubts": "thinnest groove, mean groove"}},
		"one groove far from what was expected": {[]models.Event{worn, inspected(when("far", 31, 15_100), 7, 5, 7.5)},
			words{"last": "far day 31 15100 km by Odd 5 mm", "previous": "see day 30 15000 km by Odd 6.5 mm",
				"last event": "day 31", "doubts": "thinnest groove", "minimum": wearText(&thinFar), "mean": wearText(&meanFar)}},
		"a doubt outlives a pressure, not the next depths": {[]models.Event{worn,
			inspected(when("far", 31, 15_100), 7, 5, 7.5), pumped(when("pump", 32, 15_200)),
			inspected(unread("next", 33), 7, 6.4, 7.5)}, words{"last": "next day 33 by Odd 6.4 mm",
			"previous": "pump day 32 15200 km by Odd", "last event": "day 33",
			"minimum": wearText(&thinFar), "mean": wearText(&meanFar)}},
		"a doubt stays over a pressure": {[]models.Event{worn, inspected(when("far", 31, 15_100), 7, 5, 7.5),
			pumped(when("pump", 32, 15_200))}, words{"last": "pump day 32 15200 km by Odd",
			"previous": "far day 31 15100 km by Odd 5 mm", "kept": "far day 31 15100 km by Odd 5 mm",
			"last event": "day 32", "doubts": "thinnest groove",
			"minimum": wearText(&thinFar), "mean": wearText(&meanFar)}},
		"a pressure": {[]models.Event{pumped(when("pump", 30, 15_000))},
			words{"last": "pump day 30 15000 km by Odd", "last event": "day 30"}},
		"depths, then pressures": {[]models.Event{inspected(when("see", 30, 15_000), 7, 6.5, 7.5),
			pumped(when("pump", 31, 15_100)), pumped(when("again", 32, 15_200))}, words{
			"last": "again day 32 15200 km by Odd", "previous": "pump day 31 15100 km by Odd",
			"kept": "see day 30 15000 km by Odd 6.5 mm", "last event": "day 32",
			"minimum": wearText(&thin6), "mean": wearText(&mean6)}},
		"pressures, then depths": {[]models.Event{pumped(when("pump", 20, 14_000)),
			inspected(when("see", 30, 15_000), 7, 6.5, 7.5)}, words{"last": "see day 30 15000 km by Odd 6.5 mm",
			"previous": "pump day 20 14000 km by Odd", "last event": "day 30",
			"minimum": wearText(&thin6), "mean": wearText(&mean6)}},

		"damage that takes off the road": {[]models.Event{seen(unread("see", 30), models.ObsBulge, models.ObsNail)},
			words{"last": "see day 30 by Odd", "last event": "day 30", "damage": "bulge see day 30"}},
		"the same damage again": {[]models.Event{seen(unread("see", 30), models.ObsBulge),
			seen(unread("again", 40), models.ObsBulge, models.ObsFlat)}, words{"last": "again day 40 by Odd",
			"previous": "see day 30 by Odd", "last event": "day 40", "damage": "bulge see day 30, flat again day 40"}},
		"damage that is not seen again stays": {[]models.Event{seen(unread("see", 30), models.ObsBulge),
			pumped(unread("pump", 40))}, words{"last": "pump day 40 by Odd", "previous": "see day 30 by Odd",
			"last event": "day 40", "damage": "bulge see day 30"}},
		"a missing weight, twice": {[]models.Event{seen(unread("see", 30), models.ObsMissingWeight),
			seen(unread("again", 40), models.ObsMissingWeight)}, words{"last": "again day 40 by Odd",
			"previous": "see day 30 by Odd", "last event": "day 40", "missing": "see day 30"}},
		"a clearance": {[]models.Event{seen(unread("see", 30), models.ObsBulge, models.ObsFlat),
			&models.Clearance{Meta: unread("clear", 31), TireID: "t", Codes: []models.ObservationCode{models.ObsBulge}}},
			words{"last": "see day 30 by Odd", "last event": "day 31", "damage": "flat see day 30"}},
		"a repair on the wheel": {[]models.Event{
			seen(unread("see", 30), models.ObsFlat, models.ObsLeak, models.ObsBulge),
			balanced(unread("zero", 30), "1L", true), gapped(unread("gap", 30)), repaired(unread("plug", 31), false)},
			words{"last": "see day 30 by Odd", "last event": "day 31", "damage": "bulge see day 30",
				"balance": "zero day 30", "unbalanced": "-", "out of true": "bead_gap gap day 30"}},
		"a repair off the wheel": {[]models.Event{balanced(unread("zero", 30), "1L", true), gapped(unread("gap", 30)),
			repaired(unread("patch", 31), true)}, words{"last event": "day 31", "balance": "zero day 30",
			"unbalanced": "patch day 31"}},

		"a balance job within its limits": {[]models.Event{seen(unread("see", 30), models.ObsMissingWeight),
			balanced(unread("zero", 31), "1L", true)}, words{"last": "see day 30 by Odd", "last event": "day 31",
			"balance": "zero day 31", "unbalanced": "-"}},
		"a balance job outside its limits": {[]models.Event{seen(unread("see", 30), models.ObsMissingWeight),
			balanced(unread("spin", 31), "1L", false)}, words{"last": "see day 30 by Odd", "last event": "day 31",
			"balance": "spin day 31", "missing": "see day 30"}},
		"a wheel check": {[]models.Event{gapped(when("gap", 30, 15_000))},
			words{"last event": "day 30", "out of true": "bead_gap gap day 30 15000 km"}},

		"a removal": {[]models.Event{off}, offWords},
		"a removal at an estimated distance": {[]models.Event{noOdometer},
			but(offWords, words{"travelled": "", "removed at": "off day 40"})},
		"a removal at an unknown distance": {[]models.Event{nowhere},
			but(offWords, words{"travelled": "", "left": "", "removed at": "off day 40"})},
		"a removal below the first odometer": {[]models.Event{backwards},
			but(offWords, words{"travelled": "", "left": "9000 km", "removed at": "off day 40 9000 km"})},
		"a removal leaves the damage of the wheel": {[]models.Event{seen(unread("see", 30), models.ObsContact,
			models.ObsWedged, models.ObsLooseNuts, models.ObsCrackedWheel, models.ObsBulge), off},
			but(offWords, words{"last": "see day 30 by Odd", "damage": "bulge see day 30"})},
		"off and on": {[]models.Event{off, on}, onWords},
		"off at an unknown distance, and on": {[]models.Event{nowhere, on}, but(onWords, words{"travelled": "", "left": "",
			"removed at": "off day 40", "minimum": wearText(&thinUnknown), "mean": wearText(&meanUnknown)})},
		"off, and on at an unknown distance": {[]models.Event{off, fitAt(unread("on", 90), "2R", "w2")}, but(onWords, words{
			"fitted": "on day 90", "placed": "on day 90", "unbalanced": "on day 90", "minimum": "-", "mean": "-"})},
		"balanced loose, then on": {[]models.Event{balanced(unread("zero", 20), "1L", true), off, looseBalance, on},
			but(onWords, words{"balance": "loose day 50", "unbalanced": "-"})},
		"balanced before it came off, then on": {[]models.Event{balanced(unread("zero", 20), "1L", true), off, on},
			but(onWords, words{"balance": "zero day 20"})},
		"spun loose outside its limits, then on": {[]models.Event{off, balanced(unread("loose", 50), "", false), on},
			but(onWords, words{"balance": "loose day 50"})},
		"off twice": {[]models.Event{off, on, &models.Removal{Meta: when("off2", 120, 33_000), Removed: []models.Removed{
			{Position: "2R", TireID: "t", Reason: models.WornEven, To: models.Scrapped}}}}, but(offWords, words{
			"status": "scrapped", "travelled": "5000 km", "removed": "worn_even from 2R to scrapped",
			"removed at": "off2 day 120 33000 km", "left": "33000 km", "last event": "day 120",
			"unbalanced": "on day 90 30000 km", "minimum": wearText(&thinBack), "mean": wearText(&meanBack)})},

		"a rotation": {[]models.Event{moved(when("turn", 30, 15_000), "2L")}, words{"place": "v 2L w1",
			"placed": "turn day 30 15000 km", "last event": "day 30",
			"minimum": wearText(&thinMoved), "mean": wearText(&meanMoved)}},
		"a rotation to the spare's place": {[]models.Event{moved(when("turn", 30, 15_000), "SP1")}, words{
			"place": "v SP1 w1", "placed": "turn day 30 15000 km", "last event": "day 30",
			"minimum": wearText(&thinSpare), "mean": wearText(&meanSpare)}},
		"a rotation at an unknown distance": {[]models.Event{moved(unread("turn", 30), "2L")}, words{"place": "v 2L w1",
			"placed": "turn day 30", "last event": "day 30", "minimum": "-", "mean": "-"}},

		"to the retreader": {[]models.Event{off,
			&models.TireMove{Meta: unread("send", 60), TireID: "t", To: models.AtRetreader}},
			but(offWords, words{"status": "at_retreader", "last event": "day 60"})},
		"back with a new tread": {[]models.Event{inspected(when("see", 20, 11_000), 7, 6.5, 7.5), pumped(unread("pump",
			21)),
			seen(unread("cut", 22), models.ObsCutToCord, models.ObsMissingWeight),
			balanced(unread("zero", 23), "1L", false), gapped(unread("gap", 24)), off, retread}, words{
			"status": "stock", "place": "-", "fitted": "-", "placed": "-", "travelled": "2000 km", "last event": "day 70",
			"minimum": "-", "mean": "-"}},

		// A late entry stands where it belongs in time, a correction in the place of what it
		// corrects, and what was withdrawn is not there: the caller gives events in that order.
		"a reading that arrives late": {[]models.Event{inspected(when("late", 10, 12_000), 8, 7.4, 8.2),
			pumped(when("pump", 30, 15_000))}, words{"last": "pump day 30 15000 km by Odd",
			"previous": "late day 10 12000 km by Odd 7.4 mm", "kept": "late day 10 12000 km by Odd 7.4 mm",
			"last event": "day 30", "minimum": wearText(new(taken(t, thin, reading(12_000, 7.4)))),
			"mean": wearText(new(taken(t, mean, of3(reading(12_000, (8+7.4+8.2)/3)))))}},
	} {
		events := append([]models.Event{fitted()}, row.events...)
		vehicles := map[models.VehicleID]models.Vehicle{car.ID: car}
		before, _ := history.ReplayTire(grooved, vehicles, events[:1])
		after, _ := history.ReplayTire(grooved, vehicles, events)
		if diff := cmp.Diff(row.want, change(tireWords(before), tireWords(after))); diff != "" {
			t.Errorf("%s: the tire (-want +got):\n%s", name, diff)
		}
	}
}

// TestEventsOfAVehicle: what follows for the vehicle from each kind of event. Its use is
// 50 km a day, usual for a car, until odometers say more.
func TestEventsOfAVehicle(t *testing.T) {
	t.Parallel()

	type words = map[string]string

	seenOn := inspected(when("see", 30, 11_500), 7)
	seenOn.Vehicle = []models.Observation{{Code: models.ObsDamperLeak}}
	read := func(id string, more words) words {
		out := words{"last event": "day 30", "odometer": "read day 30 11500 km",
			"use": "50.0 km a day from day 30 at 11500 km"}
		for part, text := range more {
			out[part] = text
		}
		return out
	}
	shaken := func(id string, day float64, settles models.EventID) *models.Vibration {
		return &models.Vibration{Meta: unread(id, day), WorstKMH: 90, Settles: settles}
	}
	existing := fitAt(when("found", 30, 11_500), "1R", "")
	existing.Existing = true
	spinMode := func(mode string, p models.Position) *models.BalanceJob {
		j := balanced(unread("spin", 30), p, true)
		j.Mode = mode
		return j
	}
	newCounter := &models.OdometerEntry{Meta: when("o", 30, 100)}

	for name, row := range map[string]struct {
		events []models.Event
		want   words
	}{
		"an odometer entry": {[]models.Event{&models.OdometerEntry{Meta: when("o", 30, 11_500)}}, read("o", nil)},
		"an odometer below the last: a new counter": {[]models.Event{newCounter}, words{"last event": "day 30",
			"odometer": "read day 30 100 km", "use": "50.0 km a day from day 30 at 100 km"}},
		"an event without odometer": {[]models.Event{&models.Void{Meta: unread("x", 30)}}, words{"last event": "day 30"}},
		"an inspection of depths": {[]models.Event{inspected(when("see", 30, 11_500), 7)},
			read("see", words{"inspection": "see day 30 11500 km"})},
		"an inspection of pressures": {[]models.Event{pumped(when("see", 30, 11_500))},
			read("see", words{"inspection": "see day 30 11500 km", "pressure": "see day 30 11500 km"})},
		"what is found on the vehicle": {[]models.Event{seenOn},
			read("see", words{"inspection": "see day 30 11500 km", "found": "damper_leak on day 30"})},
		"what is not found again is gone": {[]models.Event{seenOn, inspected(unread("again", 40), 7)},
			read("see", words{"last event": "day 40", "inspection": "again day 40"})},
		"a pressure, then depths": {[]models.Event{pumped(unread("pump", 20)), inspected(unread("see", 30), 7)},
			words{"last event": "day 30", "inspection": "see day 30", "pressure": "pump day 20"}},

		"another fit": {[]models.Event{fitAt(when("on", 30, 11_500), "1R", "")},
			read("on", words{"retorque": "on day 30 11500 km"})},
		"tires found on the vehicle": {[]models.Event{existing}, read("found", nil)},
		"a removal":                  {[]models.Event{removed(unread("off", 30))}, words{"last event": "day 30"}},
		"a rotation": {[]models.Event{moved(unread("turn", 30), "2L")},
			words{"last event": "day 30", "rotation": "turn day 30", "retorque": "turn day 30"}},
		"a repair on the wheel": {[]models.Event{repaired(unread("plug", 30), false)}, words{"last event": "day 30"}},
		"a repair off the wheel": {[]models.Event{repaired(unread("patch", 30), true)},
			words{"last event": "day 30", "retorque": "patch day 30"}},
		"a balance job off the vehicle": {[]models.Event{spinMode("two_plane", "1L")},
			words{"last event": "day 30", "retorque": "spin day 30"}},
		"a balance job on the vehicle":      {[]models.Event{spinMode("on_vehicle", "1L")}, words{"last event": "day 30"}},
		"a balance job of a loose assembly": {[]models.Event{spinMode("two_plane", "")}, words{"last event": "day 30"}},
		"a wheel check":                     {[]models.Event{gapped(unread("gap", 30))}, words{"last event": "day 30"}},
		"a clearance": {[]models.Event{&models.Clearance{Meta: unread("c", 30)}},
			words{"last event": "day 30"}},
		"a re-torque": {[]models.Event{&models.Retorque{Meta: unread("nuts", 1)}},
			words{"last event": "day 1", "retorque": "-"}},
		"a re-torque, then wheels off again": {[]models.Event{&models.Retorque{Meta: unread("nuts", 1)},
			moved(unread("turn", 2), "2L")}, words{"last event": "day 2", "rotation": "turn day 2", "retorque": "turn day 2"}},
		"an alignment": {[]models.Event{&models.Alignment{Meta: unread("toe", 30)}},
			words{"last event": "day 30", "alignment": "toe day 30"}},
		"new dampers": {[]models.Event{&models.Service{Meta: unread("s", 30), What: "dampers"}},
			words{"last event": "day 30", "dampers": "s day 30"}},
		"new brakes": {[]models.Event{&models.Service{Meta: unread("s", 30), What: "brakes"}},
			words{"last event": "day 30"}},
		"a vibration report": {[]models.Event{shaken("v1", 30, "")},
			words{"last event": "day 30", "complaints": "v1 day 30 90 km/h"}},
		"two reports, the first settled": {[]models.Event{shaken("v1", 30, ""), shaken("v2", 31, ""), shaken("v3", 32,
			"v1")},
			words{"last event": "day 32", "complaints": "v2 day 31 90 km/h"}},
	} {
		events := append([]models.Event{fitted()}, row.events...)
		before, after := history.ReplayVehicle(car, events[:1]), history.ReplayVehicle(car, events)
		if diff := cmp.Diff(row.want, change(vehicleWords(before), vehicleWords(after))); diff != "" {
			t.Errorf("%s: the vehicle (-want +got):\n%s", name, diff)
		}
	}
}

// TestFitments: one tire on one position from one moment to another, with the wear of its
// own readings. A rotation ends one and begins the next on the same wheel; a repair, an
// inspection and a move while loose begin none.
func TestFitments(t *testing.T) {
	t.Parallel()
	off := removed(when("off", 90, 22_000))
	off.Removed[0].Position = "2L"
	events := []models.Event{
		fitted(),
		inspected(when("see", 20, 14_000), 7, 6.5, 7.5),
		moved(when("turn", 30, 15_000), "2L"),
		repaired(when("patch", 60, 19_000), true),
		off,
		&models.TireMove{Meta: unread("send", 100), TireID: "t", To: models.AtRetreader},
		&models.TireMove{Meta: unread("back", 110), TireID: "t", To: models.InStock},
		fitAt(when("on", 120, 25_000), "SP1", "w2"),
		inspected(when("see2", 130, 26_000), 7, 6.5, 7.5),
	}

	// A removal of another tire in the same event ends nothing of this one.
	mate := &models.Removal{Meta: when("mate", 140, 27_000), Removed: []models.Removed{{Position: "1R", TireID: "u"}}}
	_, list := history.ReplayTire(grooved, map[models.VehicleID]models.Vehicle{car.ID: car}, append(events, mate))

	var got []string
	for _, f := range list {
		text := fmt.Sprintf("%s: %s on %s %s %s from %s", f.ID, f.TireID, f.VehicleID, f.Position, f.WheelID,
			pointText(&f.From))
		if f.To != nil {
			text += " to " + pointText(f.To)
		}
		if f.Wear != nil {
			text += fmt.Sprintf(", %s %s %s", f.Wear.Class, f.Wear.Role, f.Wear.Design)
		}
		got = append(got, text)
	}

	want := []string{
		"fit/t: t on v 1L w1 from fit day 0 10000 km to turn day 30 15000 km, car steer Larch",
		"turn/t: t on v 2L w1 from turn day 30 15000 km to off day 90 22000 km",
		"on/t: t on v SP1 w2 from on day 120 25000 km",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("fitments (-want +got):\n%s", diff)
	}
}

// TestRateOfTheRunningFitment: the rate comes from the fitment's own readings. From 8 mm
// new at 0 km (break-in apart) to 4 mm at 40,000 km it lies between 0.09 and 0.10 mm per
// 1000 km; a spare and a tire that was not read have none.
func TestRateOfTheRunningFitment(t *testing.T) {
	t.Parallel()
	plain := models.Tire{ID: "t", NewDepths: []units.Length{8 * units.Millimetre}}
	vehicles := map[models.VehicleID]models.Vehicle{car.ID: car}
	fit := fitAt(when("fit", 0, 0), "1L", "")
	s, _ := history.ReplayTire(plain, vehicles, []models.Event{fit})
	if w := history.Wear(plain, car, s); w != nil {
		t.Errorf("a tire that was never read: %+v", w)
	}
	if w := history.Wear(plain, car, models.TireState{}); w != nil {
		t.Errorf("a tire without an estimate: %+v", w)
	}

	s, _ = history.ReplayTire(plain, vehicles, []models.Event{fit, inspected(when("see", 400, 40_000), 4)})
	w := history.Wear(plain, car, s)
	if w == nil || w.RateMM < 0.09 || w.RateMM > 0.10 || w.SEMM <= 0 || w.SEMM > 0.02 {
		t.Fatalf("4 mm in 40,000 km: %+v", w)
	}

	if s.Position = "SP1"; history.Wear(plain, car, s) != nil {
		t.Error("a spare has a wear rate")
	}
}

// TestWhatTheFleetTaught: an estimate begins with what the event keeps of the place, not
// of another place.
func TestWhatTheFleetTaught(t *testing.T) {
	t.Parallel()
	taught := func(p models.Position, fitments int) models.PlacePrior {
		return models.PlacePrior{Position: p,
			Learned: wear.Learned{Level: "role", Fitments: fitments, Ratio: 1.5, SD: 0.2}}
	}
	fit := fitAt(when("fit", 0, 10_000), "1L", "")
	fit.Priors = []models.PlacePrior{taught("1R", 5), taught("1L", 7)}
	s, _ := history.ReplayTire(grooved, map[models.VehicleID]models.Vehicle{car.ID: car}, []models.Event{fit})
	if p := s.MinWear.Prior; p.Source.Fitments != 7 || p.Source.Level != "role" {
		t.Errorf("began with %+v", p.Source)
	}

	// Learned for a spare's place or not, a spare does not wear.
	spare := fitAt(when("fit", 0, 10_000), "SP1", "")
	spare.Priors = []models.PlacePrior{taught("SP1", 7)}
	s, _ = history.ReplayTire(grooved, map[models.VehicleID]models.Vehicle{car.ID: car}, []models.Event{spare})
	if s.MinWear.RateMM != 0 || s.MinWear.Prior.Source.Fitments != 0 {
		t.Errorf("a spare began with %+v", s.MinWear.Prior)
	}
}

// TestGaugeOfAReading: a reading is as sure as its gauge: the named step, or for a gauge
// of unknown step that of the unit in which the depth was typed; a step above half a
// millimetre is that of a gauge in 32nds.
func TestGaugeOfAReading(t *testing.T) {
	t.Parallel()
	start := estimate(t, "steer", 10_000, 7.5, true)
	inch := wear.Gauge32nd
	fine, coarse := wear.GaugeTenth, wear.Gauge32nd
	fine.ResolutionMM, coarse.ResolutionMM = 0.5, 0.6

	for name, row := range map[string]struct {
		resolution units.Length
		text       string
		want       wear.Gauge
	}{
		"typed in mm":             {0, "6.5 mm", wear.GaugeTenth},
		"typed in 32nds":          {0, "8/32", inch},
		"a step of 0.5 mm":        {units.Millimetre / 2, "8/32", fine},
		"a step of 0.6 mm":        {units.Millimetre * 6 / 10, "6.5 mm", coarse},
		"a step of a 32nd":        {units.ThirtySecond, "6.5 mm", inch},
		"a step of a tenth":       {units.Millimetre / 10, "6.5 mm", wear.GaugeTenth},
		"a step of 0.1, in 32nds": {units.Millimetre / 10, "8/32", wear.GaugeTenth},
	} {
		e := inspected(when("see", 30, 15_000), 6.5)
		e.Gauge.Resolution, e.Readings[0].Depths[0][0].Text = row.resolution, row.text
		s, _ := history.ReplayTire(grooved, map[models.VehicleID]models.Vehicle{car.ID: car},
			[]models.Event{fitted(), e})
		want := taken(t, start, wear.Reading{XKM: 15_000, DepthMM: 6.5, Gauge: row.want})
		if got := wearText(s.MinWear); got != wearText(&want) || s.MinWear.ResolutionMM != row.want.ResolutionMM {
			t.Errorf("%s: %s, want %s", name, got, wearText(&want))
		}
	}
}

// TestTiresFoundOnAVehicle: nobody fitted them now, so nothing waits for a balance; they
// are not at their new depth, so the estimate begins with their first reading.
func TestTiresFoundOnAVehicle(t *testing.T) {
	t.Parallel()
	found := fitAt(when("found", 0, 10_000), "1L", "")
	found.Existing = true
	vehicles := map[models.VehicleID]models.Vehicle{car.ID: car}
	s, _ := history.ReplayTire(grooved, vehicles, []models.Event{found})
	began := estimate(t, "steer", 10_000, 7.5, false)
	if s.UnbalancedSince != nil || wearText(s.MinWear) != wearText(&began) {
		t.Errorf("tires found: %+v, want %s", tireWords(s), wearText(&began))
	}

	// The same where the distance is not known at the fit, but at the first reading.
	s, _ = history.ReplayTire(grooved, vehicles, []models.Event{fitAt(unread("fit", 0), "1L", ""),
		inspected(when("see", 10, 12_000), 6, 6, 6)})
	if s.MinWear == nil || s.MinWear.StartKM != 12_000 || s.MinWear.BreakInKM != 0 ||
		s.MinWear.DepthMM < 5.9 || s.MinWear.DepthMM > 6.1 {
		t.Errorf("fitted at an unknown distance: %s", wearText(s.MinWear))
	}
}

// TestVehicleOfItsOwnUse: a tractor starts with the use of its class, and odometers move it.
func TestVehicleOfItsOwnUse(t *testing.T) {
	t.Parallel()
	truck := models.Vehicle{ID: "v", Class: models.Tractor}
	s := history.ReplayVehicle(truck, []models.Event{&models.OdometerEntry{Meta: unread("a", 0)}})
	if s.Use.KMPerDay != wear.DefaultUse("tractor") || s.Use.Known || s.Odometer.Known || !s.FirstOdometerAt.IsZero() {
		t.Errorf("before any odometer: %+v", s)
	}

	// 60,000 km in 100 days is 600 a day, far from the expected 350 and much surer.
	s = history.ReplayVehicle(truck, []models.Event{&models.OdometerEntry{Meta: when("a", 0, 100)},
		&models.OdometerEntry{Meta: when("b", 100, 60_100)}})
	if s.Use.KMPerDay < 560 || s.Use.KMPerDay > 600 ||
		pointText(&models.Point{At: s.FirstOdometerAt, Odometer: s.FirstOdometer}) != " day 0 100 km" {
		t.Errorf("after 600 km a day: %+v", s)
	}
}

// TestDay: the time scale of the use is days since 1970: 1 January 2000 is day 10,957
// (30 years of 365 days and 7 leap days).
func TestDay(t *testing.T) {
	t.Parallel()
	noon := time.Date(2000, 1, 1, 12, 0, 0, 0, time.UTC)
	if got := history.Day(noon); got != 30*365+7+0.5 {
		t.Errorf("noon of 1 January 2000 is day %g", got)
	}
}

// TestJobs: each balance job of a tire as it stood when it was done, and no other event.
func TestJobs(t *testing.T) {
	t.Parallel()
	jobs := history.Jobs(grooved, map[models.VehicleID]models.Vehicle{car.ID: car}, []models.Event{fitted(),
		balanced(unread("one", 10), "1L", false), inspected(unread("see", 20), 7, 7, 7),
		balanced(unread("two", 30), "1L", true)})
	names := slices.Sorted(maps.Keys(jobs))
	if !slices.Equal(names, []models.EventID{"one",
		"two"}) || jobs["one"].Verdict.Within || !jobs["two"].Verdict.Within {
		t.Errorf("jobs %+v", jobs)
	}
}
