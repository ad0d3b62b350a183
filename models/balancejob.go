package models

import (
	"fmt"
	"slices"
	"time"

	"rimledger/models/units"
)

// MaxWeight is heavier than anything that is ever put on a wheel's plane.
const MaxWeight units.Mass = 2000

// BalanceWhy is the reason of a balance job.
type BalanceWhy string

// Why an assembly is balanced.
const (
	BalanceFitted    BalanceWhy = "fitted"
	BalanceInterval  BalanceWhy = "interval"
	BalanceComplaint BalanceWhy = "complaint"
	BalanceLost      BalanceWhy = "lost_weight"
	BalanceUneven    BalanceWhy = "uneven_wear"
)

// BalanceWhys lists every reason.
var BalanceWhys = []BalanceWhy{BalanceFitted, BalanceInterval, BalanceComplaint, BalanceLost, BalanceUneven}

// BalanceModes lists how an assembly is balanced.
var BalanceModes = []string{"two_plane", "single_plane", "hidden", "on_vehicle"}

// BalancePlanes lists which pair of planes a balancer may show: the two rim
// flanges, the band and the inner flange, or the band and the back band.
var BalancePlanes = []string{"flanges", "band_and_flange", "bands"}

// WeightPlaces lists where weights can sit on a wheel, from the outside in.
var WeightPlaces = []string{"outer_flange", "band", "back_band", "inner_flange"}

// WeightPlanes lists what a weight's plane may be: one of those the balancer showed,
// or where that was another, one of WeightPlaces.
var WeightPlanes = append([]string{"outer", "inner", "single"}, WeightPlaces...)

// PairOf returns which of WeightPlaces a value of BalancePlanes shows; the flanges
// where none is said.
func PairOf(planes string) (outer, inner string) {
	switch planes {
	case "bands":
		return "band", "back_band"
	case "band_and_flange":
		return "band", "inner_flange"
	}
	return "outer_flange", "inner_flange"
}

// BalanceChecks lists what is looked at before the weights, and "surface",
// the preparation of the rim for adhesive weights.
var BalanceChecks = []string{
	"clean", "stones", "tread", "seated", "cone", "centered", "run_out", "dampers", "bearings", "surface",
}

// BalanceJob is the work on one assembly, mounted or loose. Angles are degrees
// clockwise from the valve seen from outside.
type BalanceJob struct {
	Meta
	Position   Position // empty for a loose assembly
	TireID     TireID   // resolved by the use-case, or named for a loose assembly
	WheelID    WheelID  // resolved by the use-case where the record knows it
	Why        BalanceWhy
	Mode       string // of BalanceModes
	Planes     string // of BalancePlanes, empty if not said
	CheckSpin  bool   // nothing was removed or fitted
	Machine    string
	SelfCheck  *time.Time     // last self-check of the machine
	Geometry   *WheelGeometry // as measured now; kept on the wheel too
	Checks     []string       // of BalanceChecks, done before the weights
	WeightsOff bool           // Shown is of the bare assembly, all weights off
	Shown      []PlaneUnbalance
	Removed    []FittedWeight
	Fitted     []FittedWeight
	ShownAfter []PlaneUnbalance
	Media      *BalanceMedia
	TorqueNM   float64

	// Set by the use-case when it is recorded, never typed:
	Verdict BalanceVerdict
	Notes   []string // what was changed before use, such as "400° taken as 40°"
}

// BalanceVerdict is what a job left compared with the limits that apply.
type BalanceVerdict struct {
	Proven  bool     // something was shown after the work, or on a check spin
	Within  bool     // proven, and every limit is met
	Limit   string   // the limits that were applied, with source; quantities are marked, see units.Style.Render
	Reason  string   // why it is not proven or not within, likewise
	Doubts  []string // why it may be wrong all the same; empty in jobs recorded before December 2026
	LeftG   float64  // most that is left in one plane, g
	SumG    float64  // left of the sum of both planes, g; 0 in jobs recorded before December 2026
	NeededG float64  // what the bare assembly asked for, both planes, g; 0 if not known
}

// BalanceMedia is loose balancing material inside a tire: recorded as put in by
// the maker's chart; no dose is ever computed.
type BalanceMedia struct {
	Type string
	Dose string // as the chart gives it, with its unit
	In   time.Time
}

// PlaneUnbalance is what a balancer showed for one plane: the mass to add and where.
type PlaneUnbalance struct {
	Plane     string // outer, inner or single
	Mass      Mass   // as the display rounded it
	Unrounded *Mass
	Angle     units.Angle
}

// Grams returns the mass to add in g: unrounded where it was read.
func (p PlaneUnbalance) Grams() float64 {
	if p.Unrounded != nil {
		return float64(p.Unrounded.Value)
	}
	return float64(p.Mass.Value)
}

// FittedWeight is one weight on a wheel.
type FittedWeight struct {
	Plane string // of WeightPlanes
	Type  string // clip or adhesive
	Mass  Mass
	Angle units.Angle
	Place string // such as flange, band, spoke 3
}

// Arc is a stretch of the circle, degrees clockwise from one angle to another.
type Arc struct {
	From, To float64
	At       string // of WeightPlaces; empty for all of them
}

// WheelGeometry is where weights sit on a wheel: radius to a weight's center of
// mass, and distance of its plane inboard from the outer flange; zero if not
// measured. The band is the adhesive place nearer the outside, often behind
// spokes; the back band is the one near the inner flange.
type WheelGeometry struct {
	Flange string // clip type that fits: P, C, T, MC; empty if none fits
	// Spokes are the center of each spoke, in degrees clockwise from the valve seen
	// from outside.
	Spokes  []float64
	Blocked []Arc // where nothing fits: valve, sensor, weld

	OuterRadius, InnerRadius, AdhesiveRadius, BackRadius units.Length
	InnerOffset, AdhesiveOffset, BackOffset              units.Length

	// SpokeWidth is 0 if not measured; a longer strip behind a spoke would show.
	SpokeWidth units.Length
}

// At returns the radius of one of WeightPlaces and its distance inboard from the
// outer flange; zero if not measured.
func (g WheelGeometry) At(place string) (radius, depth units.Length) {
	switch place {
	case "outer_flange":
		return g.OuterRadius, 0
	case "band":
		return g.AdhesiveRadius, g.AdhesiveOffset
	case "back_band":
		return g.BackRadius, g.BackOffset
	case "inner_flange":
		return g.InnerRadius, g.InnerOffset
	}
	return 0, 0
}

// maxRim is larger than any rim's radius or width.
const maxRim = 1500 * units.Millimetre

func (g WheelGeometry) validate(f *Faults, at string) {
	switch g.Flange {
	case "", "P", "C", "T", "MC":
	default:
		f.Add(at+"flange", g.Flange, "must be P, C, T or MC, or empty where no clip fits")
	}

	// NaN fails both comparisons and is refused too.
	turn := func(name string, a float64) {
		if !(a >= 0 && a < 360) {
			f.Add(name, fmt.Sprint(a), "must be 0 up to 360 degrees clockwise from the valve")
		}
	}

	if len(g.Spokes) > 60 || len(g.Blocked) > 20 {
		f.Add(at+"spokes", fmt.Sprint(len(g.Spokes)), "must be at most 60 spokes and 20 blocked arcs")
	}

	for i, a := range g.Spokes {
		turn(fmt.Sprintf("%sspokes[%d]", at, i), a)
	}

	for i, a := range g.Blocked {
		turn(fmt.Sprintf("%sblocked[%d].from", at, i), a.From)
		turn(fmt.Sprintf("%sblocked[%d].to", at, i), a.To)

		if a.At != "" && !slices.Contains(WeightPlaces, a.At) {
			f.Add(
				fmt.Sprintf("%sblocked[%d].at", at, i),
				a.At,
				"must be one of %q, or empty for all of them",
				WeightPlaces,
			)
		}
	}

	for _, l := range []struct {
		name string
		v    units.Length
	}{{"outer_radius", g.OuterRadius}, {"inner_radius", g.InnerRadius}, {"adhesive_radius", g.AdhesiveRadius}, {"back_radius", g.BackRadius},
		{"inner_offset", g.InnerOffset}, {"adhesive_offset", g.AdhesiveOffset}, {"back_offset", g.BackOffset}, {"spoke_width", g.SpokeWidth}} {
		if l.v < 0 || l.v > maxRim {
			f.Add(at+l.name, units.FormatLength(l.v, units.MM), "must be 0 (not measured) to 1500 mm")
		}
	}
}

// Validate returns an Invalid error that names every bad field, each with at before it.
func (g WheelGeometry) Validate(at string) error {
	var f Faults
	g.validate(&f, at)
	return f.Err("wheel geometry")
}
