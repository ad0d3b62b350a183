package models

import (
	"slices"
	"time"

	"rimledger/models/units"
	"rimledger/models/wear"
)

// Point is a moment in a vehicle's life: when, and at which odometer.
type Point struct {
	EventID  EventID
	At       time.Time
	Odometer Odometer
}

// VehicleState is what a vehicle's history comes to: rebuilt exactly by
// replaying its events in order of time (package history).
type VehicleState struct {
	LastEventAt     time.Time // newest event; an older one that arrives later means a replay
	Odometer        Odometer  // last known
	OdometerAt      time.Time // when it was read
	FirstOdometer   Odometer
	FirstOdometerAt time.Time
	LastInspection  *Point
	LastPressure    *Point
	LastRotation    *Point
	LastAlignment   *Point
	LastDampers     *Point
	RetorqueFrom    *Point        // wheels were off here and not yet re-torqued
	Observations    []Observation // on the whole vehicle, at the last inspection
	ObservedAt      time.Time
	Complaints      []Complaint // vibration reports not yet settled
	Use             wear.Use    // distance covered a day; days since the Unix epoch, odometer km
}

// Complaint is an open vibration report.
type Complaint struct {
	EventID EventID
	At      time.Time
	Report  Vibration
}

// Is reports whether id names the report of c, or one whose place that takes.
func (c Complaint) Is(id EventID) bool {
	return c.EventID == id || slices.Contains(c.Report.Corrects, id)
}

// TireState is what a tire's history comes to: where it is and what was last
// known of it. It follows the tire through every move and is rebuilt exactly
// by replaying its events.
type TireState struct {
	LastEventAt     time.Time
	Status          TireStatus
	VehicleID       VehicleID // where it is mounted; empty if it is not
	Position        Position
	WheelID         WheelID
	FittedOn        *Point         // put on this vehicle (a rotation keeps it)
	PlacedAt        *Point         // came to this position
	Travelled       units.Distance // on earlier vehicles, as far as odometers were known
	Last            *Measured      // newest reading
	Previous        *Measured      // the one before
	Kept            *Measured      // newest reading with a depth, where Last has none
	Removed         *Removed       // how it last came off
	LeftKM          *float64       // odometer km of the vehicle it last came off, if known
	RemovedAt       *Point
	Balance         *BalanceRecord // newest balance job of the assembly
	UnbalancedSince *Point         // fitted, demounted or repaired and not balanced since
	Damage          []ActiveDamage // not cleared
	MissingWeight   *Point
	// Trueness has bead seat and run-out of the assembly, the newest of each. The tag
	// is the name under which stored states have it.
	Trueness []TruenessRecord `json:"True"`
	// MinWear and MeanWear estimate wear on the minimum and the mean groove; nil
	// before the first reading of this tread life.
	MinWear, MeanWear *wear.State
	Doubts            []string // what the estimator flagged at the last reading; contains marks, see units.Style.Render
}

// Measured is a reading with its circumstances.
type Measured struct {
	Point
	VehicleID VehicleID
	Person    string
	Gauge     Gauge
	Reading   Reading
}

// BalanceRecord is what matters later of a balance job.
type BalanceRecord struct {
	Point
	VehicleID VehicleID
	WheelID   WheelID // empty if not known
	Why       BalanceWhy
	Verdict   BalanceVerdict
	Demand    units.Mass // sum of what was shown before, both planes
	CheckSpin bool
	Checks    []string       // of BalanceChecks, found good before the weights
	Planes    string         // of BalancePlanes: where Bare is known
	Geometry  *WheelGeometry // newest known of the assembly
	Weights   []FittedWeight // on the wheel after the job, as far as the record knows
	// What the bare assembly asked for, to compare with the next job; empty if not known.
	Bare  []PlaneUnbalance
	After []PlaneUnbalance // what was shown last, with Weights on; empty if it was not
	Drift *BalanceDrift    // since the job before, on the same mounting
}

// BalanceDrift is how what an assembly asks for has changed between two jobs
// without the tire coming off its wheel: wear, a moved tire, lost rubber, or
// where the weights were left on a lost weight.
type BalanceDrift struct {
	Since  Point
	LeftOn bool             // the weights were left on in between; else bare is compared with bare
	Planes []PlaneUnbalance // change in the mass to add, by plane
	WorstG float64          // most of a plane, g
}

// ActiveDamage is damage seen and not cleared, repaired or removed since.
type ActiveDamage struct {
	Point
	Observation Observation
}

// LastRead returns the newest reading with a depth, nil if there is none: a visit
// for pressure alone does not push it out.
func (s TireState) LastRead() *Measured {
	if s.Last != nil {
		if _, ok := s.Last.Reading.Min(); ok {
			return s.Last
		}
	}
	return s.Kept
}
