package assess

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/pattern"
	"rimledger/models/units"
	"rimledger/models/vibration"
)

// pattern reports uneven wear of a tire and the causes that it and all else known of the
// wheel point to. It skips tires with no sign of either, which are most.
func (c *checker) pattern(p *place) {
	report := c.reportFor(p)
	shakes := report != nil && c.unbalanced(p)
	if p.spare || !c.uneven(p) && !shakes && !c.outOfTrue(p) {
		return
	}

	a, ok := c.account(p, report)
	if !ok {
		return // depths above the new ones: doubts reports them
	}
	if p.read != nil {
		c.unevenWear(p, a)
	}
	if ask := a.Result.CountQuestion(); ask != "" {
		c.ask[p.at] = append(c.ask[p.at], ask)
	}
	c.suspects(p, a)
}

// Account returns how the tire at a place is worn and the scored causes, from the same
// computation as the findings. It returns false if the place is a spare, if the depths are
// above the new ones, or if no depth was read and no measured run-out or bead gap is over
// its limit.
func Account(s Snapshot, at models.Position) (pattern.Account, bool) {
	c := runChecks(s, false)
	p := c.placeAt(at)
	if p == nil || p.spare || p.read == nil && !c.outOfTrue(p) {
		return pattern.Account{}, false
	}
	return c.account(p, c.reportFor(p))
}

// askedAround is how many stations someone reads only to know how a tire is worn around:
// chosen by us. Package pattern then finds less than 2/32 in.
const askedAround = 6

// uneven reports whether the wear of the newest reading differs by 2/32 in or more
// between places on the tread, which is more than gauge error (package pattern), the tire
// was read at many stations, or hand and eye found uneven wear.
func (c *checker) uneven(p *place) bool {
	if p.read == nil {
		return false
	}
	if slices.ContainsFunc(p.inspected.Reading.Observations, isUnevenWear) {
		return true
	}

	var low, high units.Length
	first := true
	for g, groove := range p.read.Reading.Depths {
		if len(groove) >= askedAround {
			return true
		}

		for _, d := range groove {
			if d == nil {
				continue
			}

			// Without new depths all grooves count as equally deep when new.
			worn := -d.Value
			if len(p.Tire.NewDepths) == len(p.read.Reading.Depths) {
				worn += p.Tire.NewDepths[g]
			}
			if first {
				low, high, first = worn, worn, false
			}
			low, high = min(low, worn), max(high, worn)
		}
	}

	return high-low >= 2*units.ThirtySecond
}

// isUnevenWear reports whether an observation is one of uneven wear: of those that
// package pattern knows, a smooth tread, dirt and a lost weight are not.
func isUnevenWear(o models.Observation) bool {
	switch o.Code {
	case models.ObsSmooth, models.ObsDirt, models.ObsMissingWeight:
		return false
	}
	return slices.Contains(pattern.ObservationCodes, string(o.Code))
}

// unbalanced reports whether a finding already says that p needs balancing: it was not
// balanced, is overdue, over its limit or has lost a weight. One that is due soon does not
// count.
func (c *checker) unbalanced(p *place) bool {
	return slices.ContainsFunc(c.findings, func(f models.Finding) bool {
		if f.TireID != p.Tire.ID || f.Position != p.at {
			return false
		}

		switch f.Code {
		case models.NotBalanced, models.WeightMissing, models.BalanceOverLimit:
			return true
		case models.RebalanceOverdue:
			return f.DueAt != nil && !f.DueAt.After(c.Now)
		}
		return false
	})
}

// reportFor returns the newest open report of a shake, if it can be about p: one felt
// at the steering wheel is about the first axle, one in seat or floor about the
// others (a rule of thumb of workshop manuals).
func (c *checker) reportFor(p *place) *vibration.Report {
	if len(c.State.Complaints) == 0 {
		return nil
	}

	r := c.report(c.State.Complaints[len(c.State.Complaints)-1].Report)
	reading, err := vibration.Read(r)
	if err != nil {
		return nil
	}

	front := p.at.Axle() == 1
	if reading.End == vibration.Front && !front || reading.End == vibration.Rear && front {
		return nil
	}
	return &r
}

// account reads and weighs p with all that is known of it. What of the mates or
// the new depths cannot be read is left out.
func (c *checker) account(p *place, report *vibration.Report) (pattern.Account, bool) {
	if p.read == nil {
		in := pattern.Input{Wheel: c.wheel(p), Facts: c.facts(p, report)}
		if p.inspected != nil {
			in.Observations = observations(p.inspected.Reading)
		}
		in.Observations = append(in.Observations, notCleared(p)...)
		a, err := pattern.CausesUnread(in)
		return a, err == nil
	}

	in := pattern.Input{
		Tread:        tread(p, p.read),
		Wheel:        c.wheel(p),
		ResolutionMM: resolution(p.read, p.least),
		Facts:        c.facts(p, report),
	}
	in.Observations = observations(p.inspected.Reading) // may be newer than the depths
	in.Observations = append(in.Observations, notCleared(p)...)

	if m := c.placeAt(p.at.AxleMate()); m != nil && m.read != nil {
		t := tread(m, m.read)
		in.AxleMate = &t
	}
	if m := c.placeAt(p.at.DualMate()); m != nil && m.read != nil {
		t := tread(m, m.read)
		in.DualMate = &t
	}

	in.Previous = previousVisit(p)

	// Readings of mates, of before, and new depths may contradict the rest: what is left
	// of the input still gives an account.
	a, err := pattern.Causes(in)
	if err != nil {
		in.AxleMate, in.DualMate, in.Previous = nil, nil, nil
		a, err = pattern.Causes(in)
	}
	if err != nil {
		in.NewMM = nil
		a, err = pattern.Causes(in)
	}

	return a, err == nil
}

// previousVisit returns the reading before the newest, if it was taken in the same place
// and has a depth; otherwise nil.
func previousVisit(p *place) *pattern.Visit {
	previous, placed := p.State.Previous, p.State.PlacedAt
	if previous == nil || previous == p.read || placed != nil && previous.At.Before(placed.At) {
		return nil
	}
	if _, ok := previous.Reading.Min(); !ok {
		return nil
	}

	return &pattern.Visit{
		Tread:      tread(p, previous),
		OtherGauge: previous.Person != p.read.Person || previous.Gauge.Name != p.read.Gauge.Name,
	}
}

// tread returns a reading of p's tire as package pattern takes it: depths in mm.
func tread(p *place, m *models.Measured) pattern.Tread {
	t := pattern.Tread{DepthsMM: make([][]*float64, len(m.Reading.Depths)), Observations: observations(m.Reading)}
	for g, groove := range m.Reading.Depths {
		t.DepthsMM[g] = make([]*float64, len(groove))
		for k, d := range groove {
			if d != nil {
				mm := d.Value.Millimetres()
				t.DepthsMM[g][k] = &mm
			}
		}
	}

	for _, s := range m.Reading.Stations {
		t.StationsDeg = append(t.StationsDeg, s.Deg)
	}

	if len(p.Tire.NewDepths) == len(m.Reading.Depths) {
		for _, d := range p.Tire.NewDepths {
			t.NewMM = append(t.NewMM, d.Millimetres())
		}
	}

	return t
}

// notCleared returns the damage at p that nobody cleared, as far as an account reads it:
// it takes the tire off the road whatever the newest inspection noted.
func notCleared(p *place) []pattern.Observation {
	var seen []models.Observation
	for _, d := range p.State.Damage {
		seen = append(seen, d.Observation)
	}
	return observations(models.Reading{Observations: seen})
}

// observations returns the observations of a reading that package pattern knows.
func observations(r models.Reading) []pattern.Observation {
	var out []pattern.Observation
	for _, o := range r.Observations {
		if slices.Contains(pattern.ObservationCodes, string(o.Code)) {
			out = append(out, pattern.Observation{
				Code:      string(o.Code),
				Count:     o.Count,
				SpacingMM: o.Spacing.Millimetres(),
				SizeMM:    o.Size.Millimetres(),
				Direction: o.Direction,
				Place:     o.Place,
			})
		}
	}

	return out
}

// resolution returns the step of the gauge in mm; if that is not known, the step of the
// unit in which the depths were typed.
func resolution(m *models.Measured, d models.Depth) float64 {
	switch {
	case m.Gauge.Resolution > 0:
		return m.Gauge.Resolution.Millimetres()
	case d.Text == "" || units.In32Typed(d.Text):
		return pattern.Step
	}
	return 0.1
}

// wheel returns the dimensions of p's tire in mm, zero where the size does not parse.
func (c *checker) wheel(p *place) pattern.Wheel {
	w := pattern.Wheel{Class: c.vibrationClass()}
	if size, known := c.size(p); known {
		w.CircumferenceMM = size.RollingCircumference().Millimetres()
		w.RadiusMM = size.Diameter().Millimetres() / 2
		w.RimRadiusMM = size.RimCode * units.Inch.Millimetres() / 2
	}
	return w
}

// vibrationClass returns the vehicle's class as package vibration distinguishes them: all
// heavy vehicles are one.
func (c *checker) vibrationClass() vibration.Class {
	if c.Vehicle.Class.Heavy() {
		return vibration.Heavy
	}
	return vibration.Class(c.Vehicle.Class)
}

// facts returns all that is known of the wheel at p besides the tread.
func (c *checker) facts(p *place, report *vibration.Report) pattern.Facts {
	f := pattern.Facts{
		Vibration:      report,
		ShakeRemains:   report != nil,
		BalanceOverdue: c.unbalanced(p),
		BalanceDrifts:  c.drifts(p),
		DemandToLimit:  c.demand(p),
		SpinZero:       spunZero(p),
		AllSpinsZero:   !slices.ContainsFunc(c.places, func(q *place) bool { return !q.spare && !spunZero(q) }),
		Looseness:      c.noted(p, models.ObsLooseness),
		DampersLeak:    c.noted(p, models.ObsDamperLeak),
		Pulls:          c.noted(p, models.ObsPull),
		BrakesSuspect:  c.noted(p, models.ObsBrakeDrag),
		WornShare:      c.wornShare(p),
	}

	// An observation since the job outweighs the technician's check.
	f.DampersChecked = c.foundGood(p, "dampers") && !f.DampersLeak
	f.PartsChecked = c.foundGood(p, "bearings") && !f.Looseness

	c.serviceFacts(&f)
	c.pressureFacts(p, &f)
	c.wheelChecked(p, &f)
	return f
}

// serviceFacts adds the age of the dampers and whether an alignment is overdue.
func (c *checker) serviceFacts(f *pattern.Facts) {
	if d := c.State.LastDampers; d != nil {
		// Package pattern calls dampers old from ten years on.
		c.scheduleRecheck(d.At.Add(days(10 * 365.25)))
		// Bounded, as are the values below, to what package pattern accepts.
		f.DampersYears = min(max(c.Now.Sub(d.At).Hours()/24/365.25, 0), 100)
		if d.Odometer.Known && c.State.Odometer.Known {
			f.DampersKM = max((c.State.Odometer.Value - d.Odometer.Value).Kilometres(), 0)
		}
	}

	if last := c.State.LastAlignment; last != nil {
		d, ok := c.dueAfter(*last, c.Policy.AlignKM, c.Policy.AlignDays)
		f.AlignmentOverdue = ok && !d.at.After(c.Now)
	}
}

// pressureFacts adds the pressure as a share of the target, and how far the tires of a
// dual pair are apart in pressure and diameter.
func (c *checker) pressureFacts(p *place, f *pattern.Facts) {
	m := p.gaugePressure()
	if m != nil && !m.Reading.Hot && p.axle.Pressure.Value > 0 {
		f.PressureToTarget = min(float64(m.Reading.Pressure.Value/p.axle.Pressure.Value), 10)
	}

	if mate := c.placeAt(p.at.DualMate()); mate != nil {
		if n := mate.gaugePressure(); sameVisit(m, n) && m.Reading.Hot == n.Reading.Hot {
			f.DualPressureKPa = math.Abs(float64(m.Reading.Pressure.Value - n.Reading.Pressure.Value))
		}
		if diameter, known := c.diameterDifference(p, mate); known {
			f.DualDiameterMM = min(diameter.Millimetres(), 500)
		}
	}
}

// noted reports whether the vehicle has an open observation with a code that is about p's
// axle or about all axles.
func (c *checker) noted(p *place, code models.ObservationCode) bool {
	return slices.ContainsFunc(c.State.Observations, func(o models.Observation) bool {
		return o.Code == code && (o.Axle == 0 || o.Axle == p.at.Axle())
	})
}

// foundGood reports whether the newest balance job was done on the tire in its present
// place and lists a part among those that were checked and found good.
func (c *checker) foundGood(p *place, part string) bool {
	b, on := p.State.Balance, p.State.PlacedAt
	return b != nil && b.VehicleID == c.Vehicle.ID && (on == nil || !b.At.Before(on.At)) &&
		slices.Contains(b.Checks, part)
}

// spunZero reports whether a check spin since the last change read zero.
func spunZero(p *place) bool {
	b := p.State.Balance
	return b != nil && b.CheckSpin && b.Verdict.Within && p.State.UnbalancedSince == nil && p.State.MissingWeight == nil
}

// wornShare returns the worn part of the tread from new to the pull point, 0 to 1; 0 if
// it is not known.
func (c *checker) wornShare(p *place) float64 {
	left, ok := mean(p)
	if !ok || len(p.Tire.NewDepths) == 0 {
		return 0
	}

	fresh := meanNew(p)
	usable := fresh - c.Policy.Pull(p.axle.Role())
	if usable <= 0 {
		return 0
	}
	return min(max(float64(fresh-left)/float64(usable), 0), 1)
}

// unevenWear reports the patterns with their numbers, and as the first job the further
// readings that would decide between them.
func (c *checker) unevenWear(p *place, a pattern.Account) {
	f := models.Finding{Code: models.UnevenWear, Urgency: models.Watch, Since: p.inspected.At}

	var words []string
	for _, w := range a.Result.Patterns {
		if w.Key == pattern.Separation {
			continue // reported by damage until it is cleared
		}
		if w.Severity == pattern.Moderate || w.Severity == pattern.Severe {
			f.Urgency = models.Plan
		}

		words = append(words, w.Text)
		f.Evidence = append(f.Evidence, models.Evidence{
			Text:   fmt.Sprintf("%s, %s: %s%s", plainWords(w.Key), w.Severity, w.Text, numbers(w.Numbers)),
			Source: w.Confidence + ": " + w.Basis,
		})
	}

	if len(words) == 0 {
		return
	}

	f.Title = fmt.Sprintf("uneven wear at %s: %s", p.at, strings.Join(words, "; "))
	for _, m := range a.Result.Mates {
		f.Evidence = append(f.Evidence, line("%s", m.Text))
	}

	// More readings may change the cause, so they come before any work.
	var jobs []string
	for _, q := range a.Result.Wanted {
		jobs = append(jobs, q.Text)
	}

	f.FirstJob = checkFirst(a)
	if _, off := a.Result.Find(pattern.Separation); len(jobs) > 0 && !off {
		f.FirstJob = "Read first: " + strings.Join(jobs, "; ") + "."
	}
	c.add(p, f)
}

// numbers returns the figures behind a pattern in parentheses, "" if there are none.
func numbers(all []pattern.Number) string {
	var out []string
	for _, n := range all {
		out = append(out, n.String())
	}
	if len(out) == 0 {
		return ""
	}
	return " (" + strings.Join(out, ", ") + ")"
}

// suspectOf is the code of the finding about a cause; other causes are suspect_other.
var suspectOf = map[string]models.FindingCode{
	pattern.Imbalance: models.SuspectImbalance, pattern.Alignment: models.SuspectAlignment,
	pattern.Dampers: models.SuspectDampers, pattern.Pressure: models.SuspectPressure,
}

// suspects reports the leading cause, every other likely one, and imbalance if it is
// possible, each with its lines of evidence.
func (c *checker) suspects(p *place, a pattern.Account) {
	for i, cause := range a.Ranked {
		likely := cause.Verdict == pattern.Likely
		named := i == 0 || cause.Key == pattern.Imbalance
		if !likely && !(named && cause.Verdict == pattern.Possible) {
			continue
		}

		f := models.Finding{
			Code:     models.SuspectOther,
			Urgency:  models.Watch,
			Since:    c.knownSince(p),
			FirstJob: checkFirst(a),
			Safety:   cautionBalancer + " " + cautionWheels,
			Title: fmt.Sprintf("%s is %s at %s (%s)", pattern.CauseName(cause.Key), cause.Verdict, p.at,
				points(cause.Score)),
		}

		// The cause decides the code, how sure it is decides the urgency.
		if code, ok := suspectOf[cause.Key]; ok {
			f.Code = code
		}
		if likely {
			f.Urgency = models.Plan
		}

		for _, l := range cause.Lines {
			f.Evidence = append(f.Evidence, models.Evidence{Text: l.Text, Source: l.Basis, Points: l.Points})
		}
		if others := rivals(a, cause.Key); others != "" {
			f.Evidence = append(f.Evidence,
				sourced("points chosen by us: likely from 6, possible from 3", "weighed beside it: %s", others))
		}

		c.add(p, f)
	}
}

// knownSince returns the time of the newest evidence for a cause at p: of the tread, else
// of the wheel check, else of the driver's report.
func (c *checker) knownSince(p *place) time.Time {
	if p.inspected != nil {
		return p.inspected.At
	}

	var at time.Time
	for _, v := range p.State.Trueness {
		if v.At.After(at) {
			at = v.At
		}
	}

	if n := len(c.State.Complaints); at.IsZero() && n > 0 {
		return c.State.Complaints[n-1].At
	}
	return at
}

// points returns a score in words.
func points(n int) string {
	if n == 1 {
		return "1 point"
	}
	return fmt.Sprintf("%d points", n)
}

// rivals lists the other causes that have points, in their order.
func rivals(a pattern.Account, but string) string {
	var out []string
	for _, cause := range a.Ranked {
		if cause.Key != but && cause.Score > 0 {
			out = append(out, fmt.Sprintf("%s %d (%s)", pattern.CauseName(cause.Key), cause.Score, cause.Verdict))
		}
	}
	return strings.Join(out, ", ")
}

// checkFirst writes what to check before anyone balances, and then what. A tire that is
// off the road is neither checked further nor balanced.
func checkFirst(a pattern.Account) string {
	then := models.Sentence(a.NextStep)
	if _, off := a.Result.Find(pattern.Separation); off || len(a.ChecksFirst) == 0 {
		return then
	}

	var out []string
	for _, k := range a.ChecksFirst {
		out = append(out, k.Text)
	}
	return "Before balancing, look at: " + strings.Join(out, "; ") + ". " + then
}
