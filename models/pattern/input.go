package pattern

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rimledger/models/badinput"
	"rimledger/models/vibration"
)

// Step is 1/32 in, in mm: the step of the common gauge and the unit of the
// thresholds.
const Step = 0.79375

// Limits on the size of an input.
const (
	maxGrooves    = 16
	maxStations   = 72
	maxDepthMM    = 26 // a gauge reads 0 to 32 32nds
	maxNewDepthMM = 40 // deeper than any tread is molded: chosen by us
)

// Tread is one tire's depths and what hand and eye found on it.
type Tread struct {
	// DepthsMM has the grooves outboard to inboard, each with the same number of
	// stations; nil where nothing was read.
	DepthsMM [][]*float64
	// NewMM is the new depth of each groove, one value for all, or empty if not
	// known; grooves are then compared by depth, with less confidence.
	NewMM []float64
	// StationsDeg is the angle of each station, rising; empty: equally spaced from the
	// valve. Unequal angles tell numbers of dips apart that equal ones cannot.
	StationsDeg  []float64
	Observations []Observation
}

// Observation is one finding of hand or eye.
type Observation struct {
	Code      string // one of ObservationCodes
	Count     int    // of cups or spots; 0 if not counted
	SpacingMM float64
	SizeMM    float64 // height of a step; 0 if not measured
	Direction string  // of feather edges: inward or outward
	Place     string
}

// ObservationCodes lists the codes that an observation may have; Read refuses others.
var ObservationCodes = []string{"smooth", "cupping", "feathering", "heel_toe", "flat_spot", "diagonal", "erosion",
	"shoulder_step", "rib_depression", "depression_local", "alternate_lug", "bulge", "separation", "exposed_cord",
	"cut_to_cord", "missing_weight", "dirt"}

// Visit is the previous reading of the same tire.
type Visit struct {
	Tread      Tread
	OtherGauge bool // another gauge or another person: 1.0 mm is added to every threshold of change
}

// Wheel is the sizes that turn wear into unbalance. A zero value is replaced by the
// usual size of the class.
type Wheel struct {
	Class           vibration.Class // empty: car
	CircumferenceMM float64         // rolling
	RadiusMM        float64         // of the tire
	WidthMM         float64         // of the tread
	RimRadiusMM     float64         // where weights sit
}

// Input is one tire at one visit, with its mates.
type Input struct {
	Tread
	Wheel        Wheel
	ResolutionMM float64 // step of the gauge; 0: 1/32 in
	Confirmed    bool    // lowest and highest stations were read a second time
	RateToMedian float64 // wear rate over the fleet's median for the place; 0: not known
	Previous     *Visit
	AxleMate     *Tread // other end of the axle
	DualMate     *Tread // other tire of the dual
	Facts        Facts
}

// Facts is what else is known of the wheel. A zero value means "not known".
type Facts struct {
	Vibration          *vibration.Report
	BalanceOverdue     bool    // rebalance overdue, or never balanced since it was mounted or repaired
	DampersLeak        bool    // seen to leak
	DampersYears       float64 // since they were new
	DampersKM          float64
	DampersChecked     bool // looked at and found good
	Looseness          bool // end play in bearing, kingpin or tie rod
	PartsChecked       bool // looked at and found tight
	PressureToTarget   float64
	DualPressureKPa    float64 // difference of the two
	DualDiameterMM     float64 // difference of the two
	WornShare          float64 // worn part of the usable tread, 0 to 1; 0: not known
	DemandToLimit      float64 // weight needed at the last balance, over its limit
	BalanceDrifts      bool    // needed weight again and again between balances
	BeadGapVariationMM float64 // guide rib to rim flange, around the wheel
	BeadGapNote        string  // how it was measured, for the account
	RunoutMM           float64
	RunoutLimitMM      float64 // 0: not known
	RunoutNote         string  // what was measured and whose limit, for the account
	SpinZero           bool    // a check spin of this wheel, nothing removed, reads zero
	AllSpinsZero       bool    // so do all wheels of the vehicle
	ShakeRemains       bool
	BrakesSuspect      bool // hard or locked braking, dragging or frozen brakes
	Pulls              bool // runs to one side
	AlignmentOverdue   bool
}

// grid is a checked tread: the wear by groove and station, nil where not read.
type grid struct {
	wear     [][]*float64
	stations int
	newKnown bool
}

// check returns a badinput.Error for the first size, fact or note that is out of range.
func (in Input) check() error {
	if in.Wheel.Class != "" {
		if _, err := vibration.HopBandHz(in.Wheel.Class); err != nil {
			return badinput.New("class", string(in.Wheel.Class), ErrWord, "car, light_truck or heavy")
		}
	}

	f := in.Facts
	for _, v := range []struct {
		field string
		v, hi float64
	}{
		{"rolling circumference mm", in.Wheel.CircumferenceMM, 10_000}, {"tire radius mm", in.Wheel.RadiusMM, 1600},
		{"tread width mm", in.Wheel.WidthMM, 1000}, {"rim radius mm", in.Wheel.RimRadiusMM, 1000},
		{"gauge resolution mm", in.ResolutionMM, 2}, {"rate over median", in.RateToMedian, 1000},
		{"damper age years", f.DampersYears, 100}, {"damper distance km", f.DampersKM, 1e7},
		{"pressure over target", f.PressureToTarget, 10}, {"dual pressure difference kPa", f.DualPressureKPa, 2000},
		{"dual diameter difference mm", f.DualDiameterMM, 500}, {"worn share", f.WornShare, 1},
		{"demand over limit", f.DemandToLimit, 100}, {"bead gap variation mm", f.BeadGapVariationMM, 50},
		{"run-out mm", f.RunoutMM, 50}, {"run-out limit mm", f.RunoutLimitMM, 50},
	} {
		if err := badinput.Within(v.field, v.v, 0, v.hi, ""); err != nil {
			return err
		}
	}

	// Notes come from a record and are shown again, so they are bounded.
	for _, n := range []struct{ field, text string }{{"bead gap note", f.BeadGapNote}, {"run-out note", f.RunoutNote}} {
		if len(n.text) > 300 {
			return badinput.New(n.field, n.text, ErrTooMany, "at most 300 characters")
		}
	}

	return nil
}

// grid returns the wear of t, or a badinput.Error; who names the tread in errors.
func (t Tread) grid(who string) (grid, error) {
	if err := t.checkShape(who); err != nil {
		return grid{}, err
	}

	g := grid{stations: len(t.DepthsMM[0]), newKnown: len(t.NewMM) > 0}

	read := false
	for i, groove := range t.DepthsMM {
		row := make([]*float64, g.stations)
		for k, d := range groove {
			if d == nil {
				continue
			}

			field := fmt.Sprintf("%s depth of groove %d station %d", who, i+1, k+1)
			if err := badinput.Within(field, *d, 0, maxDepthMM, ""); err != nil {
				return grid{}, err
			}

			// Without new depths the wear is known up to a constant: only its
			// differences are used.
			w := -*d

			if g.newKnown {
				newMM := t.NewMM[min(i, len(t.NewMM)-1)]
				if w = newMM - *d; w < -Step-1e-9 { // one step of the gauge is its error
					return grid{}, badinput.New(field, fmt.Sprint(*d), ErrAboveNew,
						"at most the new depth, %g mm", newMM)
				}
			}

			row[k], read = &w, true
		}

		g.wear = append(g.wear, row)
	}

	if !read {
		return grid{}, badinput.New(who+" depths", "", ErrNoReadings, "at least one depth")
	}
	return g, nil
}

// checkShape returns a badinput.Error if the grid is empty, too large or ragged, or if
// new depths, station angles or observations do not fit it.
func (t Tread) checkShape(who string) error {
	n := len(t.DepthsMM)
	if n == 0 || len(t.DepthsMM[0]) == 0 {
		return badinput.New(who+" depths", "", ErrNoReadings, "at least one depth")
	}

	k := len(t.DepthsMM[0])
	if n > maxGrooves || k > maxStations {
		return badinput.New(who+" grid", fmt.Sprintf("%d x %d", n, k), ErrTooMany,
			"at most 16 grooves and 72 stations")
	}

	for i, groove := range t.DepthsMM {
		if len(groove) != k {
			return badinput.New(fmt.Sprintf("%s stations of groove %d", who, i+1), fmt.Sprint(len(groove)), ErrRagged,
				"%d as in the first groove; leave holes empty", k)
		}
	}

	if err := t.checkNewDepths(who); err != nil {
		return err
	}
	if err := t.checkStations(who, k); err != nil {
		return err
	}

	return t.checkObservations(who)
}

// checkNewDepths returns a badinput.Error unless there is no new depth, one for all
// grooves, or one for each, all within what a tread can be.
func (t Tread) checkNewDepths(who string) error {
	grooves := len(t.DepthsMM)
	if m := len(t.NewMM); m > 1 && m != grooves {
		return badinput.New(who+" new depths", fmt.Sprint(m), ErrNewCount, "none, one, or %d", grooves)
	}

	for i, v := range t.NewMM {
		field := fmt.Sprintf("%s new depth of groove %d", who, i+1)
		if err := badinput.Within(field, v, 1, maxNewDepthMM, ""); err != nil {
			return err
		}
	}

	return nil
}

// checkObservations returns a badinput.Error for the first observation with an unknown
// code, or a count, spacing or size out of range.
func (t Tread) checkObservations(who string) error {
	for _, o := range t.Observations {
		if !slices.Contains(ObservationCodes, o.Code) {
			return badinput.New(who+" observation", o.Code, ErrWord,
				"one of %s", strings.Join(ObservationCodes, ", "))
		}

		if o.Count < 0 || o.Count > 200 {
			return badinput.New(who+" count of "+o.Code, fmt.Sprint(o.Count), ErrOutOfRange, "0 to 200")
		}
		if err := badinput.Within(who+" spacing of "+o.Code, o.SpacingMM, 0, 10_000, ""); err != nil {
			return err
		}
		if err := badinput.Within(who+" size of "+o.Code, o.SizeMM, 0, 500, ""); err != nil {
			return err
		}
	}

	return nil
}

// checkStations returns a badinput.Error if the k angles are fewer than three, repeat or do
// not rise.
func (t Tread) checkStations(who string, k int) error {
	if len(t.StationsDeg) == 0 {
		return nil
	}

	if len(t.StationsDeg) != k {
		return badinput.New(who+" station angles", fmt.Sprint(len(t.StationsDeg)), ErrRagged, "%d, one a station", k)
	}

	if k < 3 {
		return badinput.New(who+" station angles", fmt.Sprint(k), ErrTooFew, "angles of three stations or more")
	}

	for i, a := range t.StationsDeg {
		field := fmt.Sprintf("%s angle of station %d", who, i+1)
		if err := badinput.Within(field, a, 0, 360, ""); err != nil {
			return err
		}

		// Two stations closer than a degree cannot be distinguished by hand.
		for _, b := range t.StationsDeg[:i] {
			if d := math.Abs(a - b); d < 1 || d > 359 {
				return badinput.New(field, fmt.Sprint(a), ErrStationTwice, "each station once")
			}
		}

		if i > 0 && a < t.StationsDeg[i-1] {
			return badinput.New(field, fmt.Sprint(a), ErrStations,
				"above %g, the angle of the station before", t.StationsDeg[i-1])
		}
	}

	return nil
}

// angles returns the angle of each station in radians from the valve.
func (t Tread) angles() []float64 {
	k := len(t.DepthsMM[0])

	out := make([]float64, k)
	for i := range out {
		deg := 360 * float64(i) / float64(k)
		if len(t.StationsDeg) > 0 {
			deg = t.StationsDeg[i]
		}
		out[i] = deg * math.Pi / 180
	}
	return out
}

// sameStations reports whether t and u were read at the same places around the tire.
func (t Tread) sameStations(u Tread) bool {
	return slices.Equal(t.angles(), u.angles())
}

// equalStations reports whether no station is more than 5 degrees from equal spacing
// (chosen by us: hand and eye set the stations).
func (t Tread) equalStations() bool {
	for i, a := range t.StationsDeg {
		if math.Abs(a-360*float64(i)/float64(len(t.StationsDeg))) > 5 {
			return false
		}
	}
	return true
}

// observed returns the first observation with code; ok is false if there is none.
func (t Tread) observed(code string) (o Observation, ok bool) {
	i := slices.IndexFunc(t.Observations, func(o Observation) bool { return o.Code == code })
	if i < 0 {
		return Observation{}, false
	}
	return t.Observations[i], true
}
