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

// pattern reads how a tire is worn, and reports uneven wear and what it points
// to. Tires on which gauge and hand found nothing are not looked at further.
func (c *checker) pattern(p *place) {
	report := c.felt(p)
	if p.spare || !c.uneven(p) && (report == nil || !c.unbalanced(p)) && !c.outOfTrue(p) {
		return
	}
	a, ok := c.weigh(p, report)
	if !ok {
		return // depths that contradict the new ones: the estimator doubts them already
	}
	if p.read != nil {
		c.unevenWear(p, a)
	}
	c.suspects(p, a)
}

// Account returns how the tire at a place is worn and what that and all else
// known of it points to: the very account that the findings rest on. False where
// the place is a spare, the depths contradict the new ones, or nothing was read and
// the wheel runs true as far as known.
func Account(s Snapshot, at models.Position) (pattern.Account, bool) {
	c := checked(s, false)
	p := c.on(at)
	if p == nil || p.spare || p.read == nil && !c.outOfTrue(p) {
		return pattern.Account{}, false
	}
	return c.weigh(p, c.felt(p))
}

// uneven reports whether the newest readings differ by what asks for a second
// look (2/32 in of wear, derived from gauge error), or something was felt.
func (c *checker) uneven(p *place) bool {
	if p.read == nil {
		return false
	}

	if slices.ContainsFunc(p.looked.Reading.Observations, func(o models.Observation) bool {
		return slices.Contains(pattern.ObservationCodes, string(o.Code)) && o.Code != models.ObsSmooth &&
			o.Code != models.ObsDirt &&
			o.Code != models.ObsMissingWeight
	}) {
		return true
	}

	var low, high units.Length

	first := true
	for g, groove := range p.read.Reading.Depths {
		for _, d := range groove {
			if d == nil {
				continue
			}

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

// unbalanced reports whether balance alone already asks for work at p.
func (c *checker) unbalanced(p *place) bool {
	return slices.ContainsFunc(c.findings, func(f models.Finding) bool {
		if f.TireID != p.Tire.ID || f.Position != p.at {
			return false
		}
		overdue := f.Code == models.RebalanceOverdue && f.DueAt != nil && !f.DueAt.After(c.Now)
		return overdue || f.Code == models.NotBalanced || f.Code == models.WeightMissing ||
			f.Code == models.BalanceOverLimit
	})
}

// felt returns the newest open report of a shake, if it can be about p: one felt
// at the steering wheel is about the first axle, one in seat or floor about the
// others (a rule of thumb of workshop manuals).
func (c *checker) felt(p *place) *vibration.Report {
	if len(c.State.Complaints) == 0 {
		return nil
	}
	r := c.report(c.State.Complaints[len(c.State.Complaints)-1].Report)
	reading, err := vibration.Read(r)
	if err != nil || reading.End == vibration.Front && p.at.Axle() != 1 ||
		reading.End == vibration.Rear && p.at.Axle() == 1 {
		return nil
	}
	return &r
}

// weigh reads and weighs p with all that is known of it. What of the mates or
// the new depths cannot be read is left out.
func (c *checker) weigh(p *place, report *vibration.Report) (pattern.Account, bool) {
	if p.read == nil {
		in := pattern.Input{Wheel: c.wheel(p), Facts: c.facts(p, report)}
		if p.looked != nil {
			in.Observations = observations(p.looked.Reading)
		}
		a, err := pattern.CausesUnread(in)
		return a, err == nil
	}

	in := pattern.Input{
		Tread:        tread(p, p.read),
		Wheel:        c.wheel(p),
		ResolutionMM: resolution(p.read, p.least),
		Facts:        c.facts(p, report),
	}

	in.Observations = observations(p.looked.Reading)
	if m := c.on(p.at.AxleMate()); m != nil && m.read != nil {
		t := tread(m, m.read)
		in.AxleMate = &t
	}
	if m := c.on(p.at.DualMate()); m != nil && m.read != nil {
		t := tread(m, m.read)
		in.DualMate = &t
	}

	if was := p.State.Previous; was != nil && was != p.read &&
		(p.State.PlacedAt == nil || !was.At.Before(p.State.PlacedAt.At)) {
		if _, ok := was.Reading.Min(); ok {
			in.Previous = &pattern.Visit{
				Tread:      tread(p, was),
				OtherGauge: was.Person != p.read.Person || was.Gauge.Name != p.read.Gauge.Name,
			}
		}
	}

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

	if len(p.Tire.NewDepths) == len(m.Reading.Depths) {
		for _, d := range p.Tire.NewDepths {
			t.NewMM = append(t.NewMM, d.Millimetres())
		}
	}

	return t
}

func observations(r models.Reading) []pattern.Observation {
	var out []pattern.Observation
	for _, o := range r.Observations {
		if slices.Contains(pattern.ObservationCodes, string(o.Code)) {
			out = append(
				out,
				pattern.Observation{
					Code:      string(o.Code),
					Count:     o.Count,
					SpacingMM: o.Spacing.Millimetres(),
					SizeMM:    o.Size.Millimetres(),
					Direction: o.Direction,
					Place:     o.Place,
				},
			)
		}
	}

	return out
}

// resolution is the step of the gauge in mm; where it is not known, that in
// which the depths were typed.
func resolution(m *models.Measured, d models.Depth) float64 {
	switch {
	case m.Gauge.Resolution > 0:
		return m.Gauge.Resolution.Millimetres()
	case d.Text == "" || units.In32Typed(d.Text):
		return pattern.Step
	}
	return 0.1
}

func (c *checker) wheel(p *place) pattern.Wheel {
	w := pattern.Wheel{Class: c.springs()}
	if size, known := c.size(p); known {
		w.CircumferenceMM = size.RollingCircumference().Millimetres()
		w.RadiusMM = size.Diameter().Millimetres() / 2
		w.RimRadiusMM = size.RimCode * units.Inch.Millimetres() / 2
	}
	return w
}

// springs is the class of the vehicle as shakes see it.
func (c *checker) springs() vibration.Class {
	if c.Vehicle.Class.Heavy() {
		return vibration.Heavy
	}
	return vibration.Class(c.Vehicle.Class)
}

// facts gathers what else is known of the wheel.
func (c *checker) facts(p *place, report *vibration.Report) pattern.Facts {
	f := pattern.Facts{Vibration: report, BalanceOverdue: c.unbalanced(p), Looseness: c.noted(p, models.ObsLooseness),
		DampersLeak: c.noted(
			p,
			models.ObsDamperLeak,
		), Pulls: c.noted(p, models.ObsPull), BrakesSuspect: c.noted(p, models.ObsBrakeDrag), ShakeRemains: report != nil, SpinZero: spunZero(p)}
	f.AllSpinsZero = !slices.ContainsFunc(c.places, func(q *place) bool { return !q.spare && !spunZero(q) })

	f.DemandToLimit, f.BalanceDrifts = c.demand(p), c.drifts(p)
	f.DampersChecked, f.PartsChecked = c.lookedAt(p, "dampers") &&
		!f.DampersLeak, c.lookedAt(p, "bearings") &&
		!f.Looseness

	if d := c.State.LastDampers; d != nil {
		c.flipsAt(d.At.Add(days(10 * 365.25))) // old by years, as the account counts them
		f.DampersYears = min(max(c.Now.Sub(d.At).Hours()/24/365.25, 0), 100)
		if d.Odometer.Known && c.State.Odometer.Known {
			f.DampersKM = max((c.State.Odometer.Value - d.Odometer.Value).Kilometres(), 0)
		}
	}

	if last := c.State.LastAlignment; last != nil {
		d, ok := c.dueAfter(*last, c.Policy.AlignKM, c.Policy.AlignDays)
		f.AlignmentOverdue = ok && !d.at.After(c.Now)
	}
	m := p.gaugePressure()
	if m != nil && !m.Reading.Hot && p.axle.Pressure.Value > 0 {
		f.PressureToTarget = min(float64(m.Reading.Pressure.Value/p.axle.Pressure.Value), 10)
	}

	if mate := c.on(p.at.DualMate()); mate != nil {
		if n := mate.gaugePressure(); sameVisit(m, n) && m.Reading.Hot == n.Reading.Hot {
			f.DualPressureKPa = math.Abs(float64(m.Reading.Pressure.Value - n.Reading.Pressure.Value))
		}
		if wide, known := c.diameters(p, mate); known {
			f.DualDiameterMM = min(wide.Millimetres(), 500)
		}
	}

	f.WornShare = c.wornShare(p)
	c.wheelChecked(p, &f)
	return f
}

// noted reports whether something was noted on the vehicle that is about p's axle.
func (c *checker) noted(p *place, code models.ObservationCode) bool {
	return slices.ContainsFunc(c.State.Observations, func(o models.Observation) bool {
		return o.Code == code && (o.Axle == 0 || o.Axle == p.at.Axle())
	})
}

// lookedAt reports whether a part of the place was looked at for the newest balance
// job, which stands on the place where the tire still is, and nothing was found.
func (c *checker) lookedAt(p *place, part string) bool {
	b, on := p.State.Balance, p.State.PlacedAt
	return b != nil && b.VehicleID == c.Vehicle.ID && (on == nil || !b.At.Before(on.At)) &&
		slices.Contains(b.Checks, part)
}

// spunZero reports whether a check spin since the last change read zero.
func spunZero(p *place) bool {
	b := p.State.Balance
	return b != nil && b.CheckSpin && b.Verdict.Within && p.State.UnbalancedSince == nil && p.State.MissingWeight == nil
}

// wornShare is the worn part of what there is to wear down to the pull point.
func (c *checker) wornShare(p *place) float64 {
	left, ok := mean(p)
	if !ok || len(p.Tire.NewDepths) == 0 {
		return 0
	}

	var fresh units.Length
	for _, d := range p.Tire.NewDepths {
		fresh += d
	}

	fresh /= units.Length(len(p.Tire.NewDepths))
	usable := fresh - c.Policy.Pull(p.axle.Role())
	if usable <= 0 {
		return 0
	}

	return min(max(float64(fresh-left)/float64(usable), 0), 1)
}

// unevenWear reports the patterns with their numbers and the readings that
// would decide what these cannot.
func (c *checker) unevenWear(p *place, a pattern.Account) {
	f := models.Finding{Code: models.UnevenWear, Urgency: models.Watch, Since: p.looked.At}

	var words []string
	for _, w := range a.Result.Patterns {
		if w.Key == pattern.Separation {
			continue // damage says it, until it is cleared
		}
		if w.Severity == pattern.Moderate || w.Severity == pattern.Severe {
			f.Urgency = models.Plan
		}

		words = append(words, w.Text)
		f.Evidence = append(
			f.Evidence,
			models.Evidence{
				Text:   fmt.Sprintf("%s, %s: %s%s", word(w.Key), w.Severity, w.Text, numbers(w.Numbers)),
				Source: w.Confidence + ": " + w.Basis,
			},
		)
	}

	if len(words) == 0 {
		return
	}

	f.Title = fmt.Sprintf("uneven wear at %s: %s", p.at, strings.Join(words, "; "))
	var jobs []string
	for _, q := range a.Result.Wanted {
		jobs = append(jobs, q.Text)
	}

	for _, m := range a.Result.Mates {
		f.Evidence = append(f.Evidence, line("%s", m.Text))
	}

	f.FirstJob = checkFirst(a)
	if len(jobs) > 0 {
		f.FirstJob = "Read first: " + strings.Join(jobs, "; ") + "."
	}
	c.add(p, f)
}

// numbers writes the figures behind a pattern.
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

// suspectOf is the finding that stands for a cause; others are suspect_other.
var suspectOf = map[string]models.FindingCode{
	pattern.Imbalance: models.SuspectImbalance, pattern.Alignment: models.SuspectAlignment,
	pattern.Dampers: models.SuspectDampers, pattern.Pressure: models.SuspectPressure,
}

// suspects reports the leading cause, every other likely one, and imbalance
// where it is possible, each with the account it rests on.
func (c *checker) suspects(p *place, a pattern.Account) {
	for i, cause := range a.Ranked {
		likely := cause.Verdict == pattern.Likely
		if !likely && (cause.Verdict != pattern.Possible || i > 0 && cause.Key != pattern.Imbalance) {
			continue
		}

		f := models.Finding{
			Code:     models.SuspectOther,
			Urgency:  models.Watch,
			Since:    c.knownSince(p),
			FirstJob: checkFirst(a),
			Safety:   cautionBalancer + " " + cautionWheels,
			Title: fmt.Sprintf(
				"%s is %s at %s (%s)",
				pattern.CauseName(cause.Key),
				cause.Verdict,
				p.at,
				points(cause.Score),
			),
		}

		if code, ok := suspectOf[cause.Key]; ok {
			f.Code = code
		}
		if likely {
			f.Urgency = models.Plan
		}

		for _, l := range cause.Lines {
			f.Evidence = append(f.Evidence, models.Evidence{Text: l.Text, Source: l.Basis, Points: l.Points})
		}

		if rivals := rivals(a, cause.Key); rivals != "" {
			f.Evidence = append(
				f.Evidence,
				practice("points chosen by us: likely from 6, possible from 3", "weighed beside it: %s", rivals),
			)
		}

		c.add(p, f)
	}
}

// knownSince is when what speaks for a cause at p was last seen: at the tread, else at
// the wheel, else by the driver.
func (c *checker) knownSince(p *place) time.Time {
	if p.looked != nil {
		return p.looked.At
	}

	var at time.Time
	for _, v := range p.State.True {
		if v.At.After(at) {
			at = v.At
		}
	}

	if n := len(c.State.Complaints); at.IsZero() && n > 0 {
		return c.State.Complaints[n-1].At
	}
	return at
}

// points writes a score.
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

// checkFirst writes what to check before anyone balances, and then what.
func checkFirst(a pattern.Account) string {
	var out []string
	for _, k := range a.ChecksFirst {
		out = append(out, k.Text)
	}
	then := sentence(a.NextStep)
	if len(out) == 0 {
		return then
	}
	return "Before balancing, look at: " + strings.Join(out, "; ") + ". " + then
}

// sentence begins s with a capital letter and ends it with a full stop.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + s[1:] + "."
}
