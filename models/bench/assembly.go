package bench

import (
	"math"
	"slices"
	"strings"

	"rimledger/models/badinput"
	"rimledger/models/balance"
	"rimledger/models/tiresize"
)

// Assembly is what the limits of a balance job depend on. A loose assembly has no
// class: its tire's size then says whether it is a heavy one.
type Assembly struct {
	Class     string // car, light_truck, rigid_truck, tractor, trailer or bus; empty: loose, or not known
	AxleRole  string // steer, drive or free; empty: not known
	Size      string // size designation of the tire; empty: not known
	Complaint bool   // the vehicle shakes: only a wheel near zero is cleared
}

// Limits are the limits that decide on a job.
type Limits struct {
	Residual balance.Limit  // left in each plane
	Sum      *balance.Limit // left of the sum of both planes (static); nil: no limit of its own
	Needed   *balance.Limit // asked for by the bare assembly, both planes; nil for light vehicles
	Usual    *balance.Limit // for information: what may be left without a complaint, where that is more
}

// The words for vehicles and axles.
var (
	lightClasses = []string{"car", "light_truck"}
	heavyClasses = []string{"rigid_truck", "tractor", "trailer", "bus"}
	axleRoles    = []string{"steer", "drive", "free"}
)

// check refuses words that are not known: they would pass for a light vehicle. A size
// may be any text, as a tire's may.
func (a Assembly) check() error {
	classes := slices.Concat(lightClasses, heavyClasses)
	if a.Class != "" && !slices.Contains(classes, a.Class) {
		return badinput.New("class", a.Class, ErrWord, "give one of %s, or leave it out", strings.Join(classes, ", "))
	}

	if a.AxleRole != "" && !slices.Contains(axleRoles, a.AxleRole) {
		return badinput.New(
			"axle_role",
			a.AxleRole,
			ErrWord,
			"give one of %s, or leave it out",
			strings.Join(axleRoles, ", "),
		)
	}

	return nil
}

// known reports whether anything is known by which limits are chosen.
func (a Assembly) known() bool { return a.Class != "" || a.Size != "" }

// Heavy reports whether heavy limits apply.
func (a Assembly) Heavy() bool {
	if a.Class != "" {
		return slices.Contains(heavyClasses, a.Class)
	}

	size, err := tiresize.Parse(a.Size)
	return err == nil && heavySize(size)
}

// heavySize reports whether a size is that of a heavy vehicle: a load index above
// 121, where passenger and light truck sizes end, or where none is written a rim
// of half an inch from 17.5 up, which only trucks and buses have (trade usage,
// from memory).
func heavySize(s tiresize.Designation) bool {
	if s.LoadIndex > 0 {
		return s.LoadIndex > 121
	}
	return s.RimCode >= 17.5 && s.RimCode != math.Trunc(s.RimCode)
}

// Limits returns the limits for an assembly. Light vehicles: a workshop manual's
// residual a flange. Heavy ones: the total weight before correction of TMC RP 214,
// and for what is left a textbook's figure, since no published residual limit for
// heavy wheels was found.
//
// After a complaint a wheel must be near zero, in each plane and in the sum of both: about
// one step of a balancer, 1/4 oz on light wheels and 1 oz on heavy ones (chosen by us). What
// a textbook allows to be left can still be felt, so it clears nothing and only informs.
func (a Assembly) Limits() Limits {
	l := a.usualLimits()
	if !a.Complaint {
		return l
	}

	near := balance.MustLimit("near-zero-light")
	if a.Heavy() {
		near = balance.MustLimit("near-zero-heavy")
	}
	if usual := l.Residual; usual.Base() > near.Base() {
		l.Usual = &usual
	}
	l.Residual, l.Sum = near, &near

	return l
}

// usualLimits are the limits where nothing shakes.
func (a Assembly) usualLimits() Limits {
	if !a.Heavy() {
		return Limits{Residual: balance.MustLimit("car-flange")}
	}

	residual := "textbook-heavy-truck"
	if a.Class == "rigid_truck" || a.Class == "bus" {
		residual = "textbook-truck"
	}
	needed := balance.MustLimit(a.HeavyRotor())

	return Limits{Residual: balance.MustLimit(residual), Needed: &needed}
}

// wideBaseMM is the section width from which a heavy tire is a wide base single
// (trade usage, from memory).
const wideBaseMM = 385

// HeavyRotor returns what a heavy assembly is called in the table of limits.
func (a Assembly) HeavyRotor() string {
	size, err := tiresize.Parse(a.Size)
	kind := "road"
	switch {
	case err == nil && size.RimCode == 19.5:
		kind = "19.5"
	case err == nil && size.WidthMM >= wideBaseMM:
		kind = "wide"
	}

	// Where it is not known on which axle it will run, the stricter limit applies.
	if a.AxleRole == "steer" || a.Class == "" {
		return "heavy-" + kind + "-steer"
	}

	return "heavy-" + kind + "-other"
}
