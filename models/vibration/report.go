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
// Speeds are given as Bands, or, for one band alone, in StartsKMH, WorstKMH and FadesKMH.
type Report struct {
	Class                         Class
	CircumferenceMM               float64     // rolling; 0: the usual one of the class
	Bands                         []SpeedBand // in any order; at most 8
	Places                        []string    // where it is felt: see FeltAt
	StartsKMH, WorstKMH, FadesKMH float64
	ReturnsHigher                 bool   // fades and comes back at a higher speed
	FeltAt                        string // steering_wheel, dash, pedal, seat, floor or body
	Audible                       bool   // growl or slap that is heard
	Braking, Throttle, Neutral    string // how each changes it: worse, better, same or only
	Since                         string // fit, rotation, pothole, repair, parked, gradual
	WarmFixes                     bool   // gone after 10 to 15 minutes of driving
}

// SpeedBand is a range of speeds, km/h, in which a shake is felt. Zero is "not known", but
// one of the three speeds is known.
type SpeedBand struct {
	FromKMH, WorstKMH, ToKMH float64
	Strength                 string // light, clear or strong
}

// maxBands is the greatest number of bands in a report: chosen by us.
const maxBands = 8

// The words of a Report.
var (
	feltWords     = []string{"", "steering_wheel", "dash", "pedal", "seat", "floor", "body"}
	strengthWords = []string{"", "light", "clear", "strong"} // weakest first
	effectWords   = []string{"", "worse", "better", "same", "only"}
	sinceWords    = []string{"", "fit", "rotation", "pothole", "repair", "parked", "gradual"}
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
	// InBand is true if the shake lies in the speed band where imbalance is felt and no
	// answer says that brake, throttle, neutral or warmth changes it.
	InBand bool
	// Rising is true if InBand is, and brake, throttle and neutral were all answered: none
	// changes it. That is stronger evidence for imbalance.
	Rising      bool
	Bands       []BandReading // lowest first; empty if no speed was given
	HopOrder1   Band          // km/h at which order 1 excites wheel hop
	HopOrder2   Band          // km/h at which order 2 does
	OrdersWorst Orders
}

// BandReading is one band of speeds with what a wheel does there.
type BandReading struct {
	SpeedBand
	FirstHz   float64 // turns per second where it is worst, else in the middle of what is known
	HopByOne  bool    // one push a turn meets wheel hop there
	HopByTwo  bool    // two pushes a turn do
	WhereFelt bool    // it lies where imbalance is felt
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
// names its source. Errors: ErrWord for a class or word not known, ErrSpeed,
// ErrSpeedOrder if a band ends below where it starts, is worst outside or overlaps
// another, ErrBands if there are too many or both forms of speeds are filled, ErrPlaces
// if a place is named twice or both forms of places are filled,
// ErrCircumference, ErrEmptyReport if nothing was answered.
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

	if err := out.readBands(r); err != nil {
		return Reading{}, err
	}

	r = r.asOneCourse()

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

// course returns the bands of a report, lowest first, in whichever form they were given.
func (r Report) course() []SpeedBand {
	if len(r.Bands) > 0 {
		bands := slices.Clone(r.Bands)
		slices.SortStableFunc(bands, func(a, b SpeedBand) int { return cmp.Compare(a.lowest(), b.lowest()) })
		return bands
	}
	if one := (SpeedBand{FromKMH: r.StartsKMH, WorstKMH: r.WorstKMH, ToKMH: r.FadesKMH}); one != (SpeedBand{}) {
		return []SpeedBand{one}
	}
	return nil
}

// asOneCourse returns r with the speeds of all its bands in the fields of a single one:
// it starts at the lowest, is worst in the strongest (the highest of equals) and fades
// at the end of the last.
func (r Report) asOneCourse() Report {
	if len(r.Bands) == 0 {
		return r
	}

	bands := r.course()
	strongest := bands[0]
	for _, b := range bands {
		if slices.Index(strengthWords, b.Strength) >= slices.Index(strengthWords, strongest.Strength) {
			strongest = b
		}
	}

	r.StartsKMH, r.WorstKMH, r.FadesKMH = bands[0].FromKMH, strongest.WorstKMH, bands[len(bands)-1].ToKMH
	if r.WorstKMH == 0 && len(bands) > 1 {
		r.WorstKMH = strongest.middle()
	}
	r.ReturnsHigher = r.ReturnsHigher || len(bands) > 1
	return r
}

// lowest returns the lowest speed of b that is known.
func (b SpeedBand) lowest() float64 { return cmp.Or(b.FromKMH, b.WorstKMH, b.ToKMH) }

// highest returns the highest speed of b that is known.
func (b SpeedBand) highest() float64 { return cmp.Or(b.ToKMH, b.WorstKMH, b.FromKMH) }

// middle returns where b is worst, else the middle of what is known of it.
func (b SpeedBand) middle() float64 { return cmp.Or(b.WorstKMH, (b.lowest()+b.highest())/2) }

// felt says where b is worst or, if that was not answered, from where to where it is felt.
func (b SpeedBand) felt() string {
	switch low, high := b.lowest(), b.highest(); {
	case b.WorstKMH > 0:
		return "worst at " + units.MarkSpeed(b.WorstKMH)
	case low == high:
		return "felt at " + units.MarkSpeed(low)
	default:
		return "felt from " + units.MarkSpeed(low) + " to " + units.MarkSpeed(high)
	}
}

// meets reports whether b is worst in band, or, if that is not known, overlaps it.
func (b SpeedBand) meets(band Band) bool {
	if b.WorstKMH > 0 {
		return band.Contains(b.WorstKMH)
	}
	return b.lowest() <= band.Hi && b.highest() >= band.Lo
}

// readBands sets Bands. The speeds of hop are set before.
func (out *Reading) readBands(r Report) error {
	for _, b := range r.course() {
		hz, err := OrderHz(r.CircumferenceMM, b.middle(), 1)
		if err != nil {
			return err
		}
		out.Bands = append(out.Bands, BandReading{b, hz, b.meets(out.HopOrder1), b.meets(out.HopOrder2),
			b.meets(feltBand[r.Class])})
	}
	return nil
}

// scoreSpeeds adds what the speeds and the sound of the shake point to.
func (out *Reading) scoreSpeeds(r Report) {
	if onsetBand.Contains(r.StartsKMH) {
		out.add(OrderOne, 2, fromOnset, "starts at %s: once a turn of the wheel, imbalance first",
			units.MarkSpeed(r.StartsKMH))
	}

	// A band whose worst speed is not known counts by where it lies, if there are several.
	for _, b := range out.Bands {
		if b.HopByOne && (b.WorstKMH > 0 || len(out.Bands) > 1) {
			out.add(OrderOne, 2, fromHop, "%s: one push a turn meets wheel hop there (%s to %s)",
				b.felt(), units.MarkSpeed(out.HopOrder1.Lo), units.MarkSpeed(out.HopOrder1.Hi))
			break
		}
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

	// The shake that comes first is the one that two pushes a turn can drive.
	if len(out.Bands) > 0 && out.Bands[0].HopByTwo {
		out.add(OrderTwo, 1, fromHop, "%s: two pushes a turn meet wheel hop there (%s to %s)",
			out.Bands[0].felt(), units.MarkSpeed(out.HopOrder2.Lo), units.MarkSpeed(out.HopOrder2.Hi))
	}
}

// waddles reports whether the shake is one of low speed only.
func (r Report) waddles() bool {
	top := max(r.WorstKMH, r.FadesKMH)
	if top == 0 || top > waddleBand.Hi {
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

	out.setRising(r)
}

// setRising sets InBand and Rising. What was not answered is not known: it leaves the
// shake in the band, but does not make it one that nothing changes.
func (out *Reading) setRising(r Report) {
	felt := slices.ContainsFunc(out.Bands, func(b BandReading) bool { return b.WhereFelt })
	changed, answered := r.WarmFixes, true
	for _, effect := range []string{r.Braking, r.Throttle, r.Neutral} {
		changed = changed || effect != "" && effect != "same"
		answered = answered && effect == "same"
	}

	out.InBand = felt && !changed
	out.Rising = out.InBand && answered
}

// locateEnd sets the end of the vehicle from where the shake is felt; none if it is felt
// at both.
func (out *Reading) locateEnd(r Report) {
	places := r.Places
	if r.FeltAt != "" {
		places = append(slices.Clone(places), r.FeltAt)
	}

	var rear []string
	front := slices.Contains(places, "steering_wheel")

	for _, place := range []string{"seat", "floor"} {
		if slices.Contains(places, place) {
			rear = append(rear, place)
		}
	}

	switch {
	case front && len(rear) == 0:
		out.End = Front
		out.EndReason = Reason{Text: "felt at the steering wheel: the front pair first, not always", Basis: fromManual}
	case !front && len(rear) > 0:
		out.End = Rear
		out.EndReason = Reason{Text: "felt at the " + strings.Join(rear, " and ") + ": the rear pair first, not always",
			Basis: fromManual}
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

	if err := r.checkPlaces(); err != nil {
		return err
	}
	if err := r.checkSpeeds(); err != nil {
		return err
	}

	empty := len(r.course()) == 0 && len(r.Places) == 0 && !r.ReturnsHigher && !r.Audible && !r.WarmFixes &&
		r.FeltAt+r.Braking+r.Throttle+r.Neutral+r.Since == ""
	if empty {
		return badinput.New("report", "", ErrEmptyReport,
			"at least one answer: a speed, where it is felt, or what changes it")
	}

	return nil
}

// checkPlaces refuses places beside FeltAt, a place given twice and unknown words.
func (r Report) checkPlaces() error {
	if r.FeltAt != "" && len(r.Places) > 0 {
		return badinput.New("places", fmt.Sprint(len(r.Places)), ErrPlaces, "places, or felt at, not both")
	}

	for i, place := range r.Places {
		if slices.Contains(r.Places[:i], place) {
			return badinput.New("places", place, ErrPlaces, "each place once")
		}
		if place == "" || !slices.Contains(feltWords, place) {
			return badinput.New("places", place, ErrWord, "each one of %s", strings.Join(feltWords[1:], ", "))
		}
	}

	return nil
}

// checkSpeeds returns a badinput.Error for the first speed that is out of range or out of
// order.
func (r Report) checkSpeeds() error {
	one := SpeedBand{FromKMH: r.StartsKMH, WorstKMH: r.WorstKMH, ToKMH: r.FadesKMH}
	if err := one.check([3]string{"starts km/h", "worst km/h", "fades km/h"}); err != nil {
		return err
	}

	if len(r.Bands) > 0 && one != (SpeedBand{}) {
		return badinput.New("bands", fmt.Sprint(len(r.Bands)), ErrBands, "bands, or starts, worst and fades, not both")
	}
	if len(r.Bands) > maxBands {
		return badinput.New("bands", fmt.Sprint(len(r.Bands)), ErrBands, "at most %d", maxBands)
	}

	for i, b := range r.Bands {
		name := fmt.Sprintf("band %d ", i+1)
		if err := b.check([3]string{name + "from km/h", name + "worst km/h", name + "to km/h"}); err != nil {
			return err
		}
		if b.highest() == 0 {
			return badinput.New(name+"speeds", "", ErrSpeed, "from, worst or to, above 0")
		}

		if !slices.Contains(strengthWords, b.Strength) {
			return badinput.New(name+"strength", b.Strength, ErrWord, "empty or one of %s",
				strings.Join(strengthWords[1:], ", "))
		}
	}

	course := r.course()
	for i := 1; i < len(course); i++ {
		if below := course[i-1].highest(); course[i].lowest() < below {
			return badinput.Number("bands from km/h", course[i].lowest(), ErrSpeedOrder,
				"at least %g, where the band below ends", below)
		}
	}

	return nil
}

// check returns a badinput.Error unless the speeds that are known are in range and rise;
// fields names them.
func (b SpeedBand) check(fields [3]string) error {
	for i, v := range []float64{b.FromKMH, b.WorstKMH, b.ToKMH} {
		if !(v >= 0 && v <= maxSpeedKMH) {
			return badinput.Number(fields[i], v, ErrSpeed, "0 for not known, at most 300")
		}
	}

	if b.WorstKMH > 0 && b.WorstKMH < b.FromKMH {
		return badinput.Number(fields[1], b.WorstKMH, ErrSpeedOrder, "at least where it starts, %g", b.FromKMH)
	}
	if b.ToKMH > 0 && b.ToKMH < max(b.FromKMH, b.WorstKMH) {
		return badinput.Number(fields[2], b.ToKMH, ErrSpeedOrder, "at least where it starts and is worst")
	}

	return nil
}
