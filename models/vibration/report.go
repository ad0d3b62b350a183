package vibration

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rimledger/models/badinput"
	"rimledger/models/units"
)

// Report is a driver's description of a shake. The zero value of a field is "not known".
type Report struct {
	Class                         Class
	CircumferenceMM               float64 // rolling; 0: the usual one of the class
	StartsKMH, WorstKMH, FadesKMH float64
	ReturnsHigher                 bool   // fades and comes back at a higher speed
	FeltAt                        string // steering_wheel, seat, floor or body
	Audible                       bool   // growl or slap that is heard
	Braking, Throttle, Neutral    string // how each changes it: worse, better, same or only
	Since                         string // fit, rotation, pothole, repair, parked, gradual
	WarmFixes                     bool   // gone after 10 to 15 minutes of driving
}

// The words of a Report.
var (
	feltWords   = []string{"", "steering_wheel", "seat", "floor", "body"}
	effectWords = []string{"", "worse", "better", "same", "only"}
	sinceWords  = []string{"", "fit", "rotation", "pothole", "repair", "parked", "gradual"}
)

// Cause names what a report can point to.
type Cause string

// What a report can point to.
const (
	OrderOne    Cause = "order_1"    // once a turn: imbalance first, run-out, stiffness of the tire
	OrderTwo    Cause = "order_2"    // twice a turn: oval or two spots, beside order 1
	RunOut      Cause = "runout"     // run-out, belt or bent wheel: inspect before driving
	RoughWear   Cause = "rough_wear" // irregular wear, flat spots: heard more than felt
	Brake       Cause = "brake"      // rotor or drum
	Driveline   Cause = "driveline"  // driveshaft and joints
	Engine      Cause = "engine"     // engine or its mounts, not wheels
	ParkedFlats Cause = "parked_flats"
)

// Ends of the vehicle a report points to.
const (
	Front = "front"
	Rear  = "rear"
)

// Reason is one line of evidence in a report.
type Reason struct {
	Text   string
	Points float64
	Basis  string // where the rule comes from
}

// Indication is one cause with its reasons.
type Indication struct {
	Cause   Cause
	Points  float64
	Reasons []Reason
}

// Reading is what a report points to, most likely first.
type Reading struct {
	Indications []Indication
	End         string // front, rear or empty; a rule of thumb only
	EndReason   Reason
	Urgent      bool // inspect before the vehicle is driven again
	// Rising is true if the shake lies in the speed band where imbalance is felt and
	// neither brake, throttle nor neutral changes it: evidence for imbalance.
	Rising      bool
	HopOrder1   Band // km/h at which order 1 excites wheel hop
	HopOrder2   Band // km/h at which order 2 does
	OrdersWorst Orders
}

// First returns the leading cause, or "" if nothing is indicated.
func (r Reading) First() Cause {
	if len(r.Indications) == 0 {
		return ""
	}
	return r.Indications[0].Cause
}

// Points returns the points of c, 0 if it is not indicated.
func (r Reading) Points(c Cause) float64 {
	for _, i := range r.Indications {
		if i.Cause == c {
			return i.Points
		}
	}
	return 0
}

// Speed bands, km/h. Onset 40-50 mph and the waddle of 5-35 mph: workshop manuals on
// vibration. The band in which imbalance is felt: common practice, no source.
var (
	onsetBand  = Band{64, 80}
	waddleBand = Band{8, 56}
	feltBand   = map[Class]Band{Car: {65, 110}, LightTruck: {65, 110}, Heavy: {80, 115}}
)

// Sources of the rules of Read.
const (
	fromManual   = "workshop manuals, vibration analysis (1998-2008)"
	fromOnset    = "web pages on the speed of onset, in agreement"
	fromHop      = "wheel hop 10-15 Hz: engineer's interview; speeds derived"
	fromWarm     = "workshop manuals, run-out measured on a warm tire"
	fromPractice = "common practice, no source"
)

// Read returns what a report points to, ranked by points chosen by us; each reason
// names its source. Errors: ErrWord for a class or word not known,
// ErrSpeed, ErrSpeedOrder if it fades below where it starts or is worst outside
// that range, ErrCircumference, ErrEmptyReport if nothing was answered.
func Read(r Report) (Reading, error) {
	if err := r.check(); err != nil {
		return Reading{}, err
	}
	if r.CircumferenceMM == 0 {
		r.CircumferenceMM, _ = UsualCircumferenceMM(r.Class) // the class was checked
	}

	var (
		out Reading
		err error
	)
	if out.HopOrder1, err = HopSpeeds(r.Class, r.CircumferenceMM, 1); err != nil {
		return Reading{}, err
	}
	if out.HopOrder2, err = HopSpeeds(r.Class, r.CircumferenceMM, 2); err != nil {
		return Reading{}, err
	}

	if r.WorstKMH > 0 {
		if out.OrdersWorst, err = OrdersAt(r.CircumferenceMM, r.WorstKMH); err != nil {
			return Reading{}, err
		}
	}

	out.scoreSpeeds(r)
	out.scoreEffects(r)
	out.locateEnd(r)

	slices.SortStableFunc(out.Indications, func(a, b Indication) int { return cmp.Compare(b.Points, a.Points) })
	return out, nil
}

// scoreSpeeds adds what the speeds and the sound of the shake point to.
func (out *Reading) scoreSpeeds(r Report) {
	onset := r.StartsKMH
	if onset > 0 && onsetBand.Contains(onset) {
		out.add(OrderOne, 2, fromOnset, "starts at %s: once a turn of the wheel, imbalance first",
			units.MarkSpeed(onset))
	}

	if r.WorstKMH > 0 && out.HopOrder1.Contains(r.WorstKMH) {
		out.add(OrderOne, 2, fromHop, "worst at %s, where one push a turn meets wheel hop (%s to %s)",
			units.MarkSpeed(r.WorstKMH), units.MarkSpeed(out.HopOrder1.Lo), units.MarkSpeed(out.HopOrder1.Hi))
	}

	if r.FadesKMH > 0 && r.WorstKMH > waddleBand.Hi && !r.ReturnsHigher {
		out.add(OrderOne, 1, fromHop, "fades above %s: a resonance has been passed", units.MarkSpeed(r.FadesKMH))
	}

	if r.ReturnsHigher {
		out.scoreReturn(r)
	}
	if r.waddles() {
		out.add(RunOut, 4, fromManual,
			"waddle at low speed (%s to %s): run-out, belt or bent wheel, not balance; inspect before driving",
			units.MarkSpeed(waddleBand.Lo), units.MarkSpeed(waddleBand.Hi))
		out.Urgent = true
	}

	if r.Audible {
		out.add(RoughWear, 3, fromManual, "growl or slap that is heard (above 20 Hz): irregular wear or flat spots")
	}
}

// scoreReturn adds what a shake that fades and comes back at a higher speed points to:
// two pushes a turn meet a resonance at half the speed at which one push does.
func (out *Reading) scoreReturn(r Report) {
	out.add(OrderTwo, 2, fromManual,
		"fades and returns higher: two pushes a turn at half the speed, one push at the full speed")
	out.add(OrderOne, 1, fromManual, "returns higher, where one push a turn meets the same resonance")

	low := r.WorstKMH
	if low == 0 {
		low = r.StartsKMH
	}
	if out.HopOrder2.Contains(low) {
		out.add(OrderTwo, 1, fromHop, "felt at %s, where two pushes a turn meet wheel hop (%s to %s)",
			units.MarkSpeed(low), units.MarkSpeed(out.HopOrder2.Lo), units.MarkSpeed(out.HopOrder2.Hi))
	}
}

// waddles reports whether the shake is one of low speed only.
func (r Report) waddles() bool {
	top := max(r.WorstKMH, r.FadesKMH)
	if top == 0 || top > waddleBand.Hi || r.StartsKMH > waddleBand.Hi {
		return false
	}
	return !r.ReturnsHigher && r.Braking != "only" && r.Throttle != "only"
}

// scoreEffects adds what brake, throttle, neutral, warmth and history point to, and
// sets Rising.
func (out *Reading) scoreEffects(r Report) {
	switch r.Braking {
	case "only":
		out.add(Brake, 6, fromPractice, "shakes only while braking: rotor or drum")
	case "worse":
		out.add(Brake, 3, fromPractice, "worse while braking: rotor or drum")
	}

	switch r.Throttle {
	case "only":
		out.add(Driveline, 6, fromPractice, "shakes only under throttle: driveshaft or joints")
	case "worse", "better":
		out.add(Driveline, 3, fromPractice, "changes with throttle: driveshaft or joints")
	}

	switch r.Neutral {
	case "same":
		out.add(OrderOne, 1, fromManual,
			"unchanged in neutral at the same road speed: tire, wheel or driveline, not the engine")
	case "better", "worse":
		out.add(Engine, 3, fromManual, "changes in neutral at the same road speed: engine or its mounts")
	}

	if r.WarmFixes {
		out.add(ParkedFlats, 5, fromWarm, "gone after 10 to 15 minutes of driving: flat from standing, temporary")
	}
	if r.Since == "parked" {
		out.add(ParkedFlats, 2, fromWarm, "began after standing long")
	}

	switch r.Since {
	case "fit", "repair":
		out.add(OrderOne, 1, fromPractice, "began when the tire was mounted or repaired: balance, or bead not seated")
		out.add(RunOut, 2, fromPractice, "began when the tire was mounted or repaired: bead seat and run-out first")
	case "pothole":
		out.add(RunOut, 2, fromPractice, "began after a hard hit: bent wheel or broken belt")
		out.add(OrderOne, 1, fromPractice, "began after a hard hit: a weight may have been thrown")
	case "rotation":
		out.add(OrderOne, 1, fromPractice, "began at a rotation: a wheel that shakes moved to where it is felt")
	}

	out.Rising = rises(r)
}

// rises reports whether the shake is worst, or else starts, in the band where imbalance
// is felt, and nothing but speed changes it.
func rises(r Report) bool {
	speed := r.WorstKMH
	if speed == 0 {
		speed = r.StartsKMH
	}

	unchanged := func(s string) bool { return s == "" || s == "same" }
	return feltBand[r.Class].Contains(speed) && unchanged(r.Braking) && unchanged(r.Throttle) &&
		unchanged(r.Neutral) && !r.WarmFixes
}

// locateEnd sets the end of the vehicle from where the shake is felt.
func (out *Reading) locateEnd(r Report) {
	switch r.FeltAt {
	case "steering_wheel":
		out.End = Front
		out.EndReason = Reason{Text: "felt at the steering wheel: the front pair first, not always", Basis: fromManual}
	case "seat", "floor":
		out.End = Rear
		out.EndReason = Reason{Text: "felt at the " + r.FeltAt + ": the rear pair first, not always", Basis: fromManual}
	}
}

// add adds a reason with its points to the indication of c, which it makes if there is
// none. format and args are those of fmt.Sprintf.
func (out *Reading) add(c Cause, points float64, basis, format string, args ...any) {
	i := slices.IndexFunc(out.Indications, func(i Indication) bool { return i.Cause == c })
	if i < 0 {
		out.Indications = append(out.Indications, Indication{Cause: c})
		i = len(out.Indications) - 1
	}

	ind := &out.Indications[i]
	ind.Points += points
	ind.Reasons = append(ind.Reasons, Reason{fmt.Sprintf(format, args...), points, basis})
}

// check returns a badinput.Error for the first answer that is no known word, out of range
// or out of order, or if there is no answer.
func (r Report) check() error {
	if _, err := HopBandHz(r.Class); err != nil {
		return err
	}

	for _, w := range []struct {
		field, value string
		words        []string
	}{
		{"felt at", r.FeltAt, feltWords}, {"braking", r.Braking, effectWords}, {"throttle", r.Throttle, effectWords},
		{"neutral", r.Neutral, effectWords}, {"since", r.Since, sinceWords},
	} {
		if !slices.Contains(w.words, w.value) {
			return badinput.New(w.field, w.value, ErrWord, "empty or one of %s", strings.Join(w.words[1:], ", "))
		}
	}

	for _, s := range []struct {
		field string
		v     float64
	}{{"starts km/h", r.StartsKMH}, {"worst km/h", r.WorstKMH}, {"fades km/h", r.FadesKMH}} {
		if !(s.v >= 0 && s.v <= maxSpeedKMH) {
			return badinput.Number(s.field, s.v, ErrSpeed, "0 for not known, at most 300")
		}
	}

	if r.WorstKMH > 0 && r.WorstKMH < r.StartsKMH {
		return badinput.Number("worst km/h", r.WorstKMH, ErrSpeedOrder, "at least where it starts, %g", r.StartsKMH)
	}
	if r.FadesKMH > 0 && r.FadesKMH < max(r.StartsKMH, r.WorstKMH) {
		return badinput.Number("fades km/h", r.FadesKMH, ErrSpeedOrder, "at least where it starts and is worst")
	}

	if r == (Report{Class: r.Class, CircumferenceMM: r.CircumferenceMM}) {
		return badinput.New("report", "", ErrEmptyReport,
			"at least one answer: a speed, where it is felt, or what changes it")
	}

	return nil
}
