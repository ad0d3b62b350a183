// Package assess turns what is known of a vehicle into findings: what is wrong
// or due, how urgent it is, the evidence in numbers, what to do first, and the
// caution that stands where the work is.
//
// It is pure: everything it uses is in the Snapshot, the time included.
package assess

import (
	"fmt"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/history"
	"rimledger/models/legal"
	"rimledger/models/units"
)

// Snapshot is a vehicle with everything that findings rest on.
type Snapshot struct {
	Now     time.Time
	Zone    *time.Location // of the depot
	Depot   models.Depot
	Policy  models.Policy
	Vehicle models.Vehicle
	State   models.VehicleState
	Tires   []models.TireWithState // mounted
}

// Result is what an assessment comes to. Findings have no ids yet.
type Result struct {
	Findings []models.Finding // in a stable order, one for each key
	// NextCheck is when time alone changes the findings; nil: never.
	NextCheck    *time.Time
	LegalMinimum map[models.Position]units.Length // strictest number in force
}

// Assess returns the findings of a vehicle. A retired vehicle has none.
func Assess(s Snapshot) Result {
	c := &checker{Snapshot: s, minimum: map[models.Position]units.Length{}}
	if s.Vehicle.Retired {
		return Result{LegalMinimum: c.minimum}
	}
	for _, t := range s.Tires {
		c.tire(t)
	}
	c.pairs()
	c.vehicle()
	return Result{Findings: c.findings, NextCheck: c.next, LegalMinimum: c.minimum}
}

// checker gathers the findings of one assessment.
type checker struct {
	Snapshot
	findings []models.Finding
	next     *time.Time
	minimum  map[models.Position]units.Length
}

// tire checks one mounted tire.
func (c *checker) tire(t models.TireWithState) {
	c.damage(t)
	c.legal(t)
	c.pull(t)
	c.pressure(t)
	c.age(t)
	c.retread(t)
	if !t.State.Position.IsSpare() {
		c.balance(t)
		c.wearPattern(t)
	}
	c.doubts(t)
}

// add records a finding at a tire's position; Since defaults to now.
func (c *checker) add(t *models.TireWithState, f models.Finding) {
	if t != nil {
		f.Position, f.TireID = t.State.Position, t.Tire.ID
	}
	f.DepotID, f.VehicleID = c.Depot.ID, c.Vehicle.ID
	if f.Since.IsZero() {
		f.Since = c.Now
	}
	f.Since = f.Since.UTC()
	if slices.ContainsFunc(c.findings, func(g models.Finding) bool { return g.Key() == f.Key() }) {
		return
	}
	c.findings = append(c.findings, f)
}

// flipsAt notes that the findings may change at t.
func (c *checker) flipsAt(t time.Time) {
	t = t.UTC().Truncate(time.Microsecond)
	if t.After(c.Now) && (c.next == nil || t.Before(*c.next)) {
		c.next = &t
	}
}

func (c *checker) length(l units.Length) string { return units.FormatLength(l, c.Depot.Units.Depth) }

// about writes an estimated depth with one decimal in the depot's unit.
func (c *checker) about(mm float64) string {
	if c.Depot.Units.Depth == units.In32 {
		return fmt.Sprintf("%.1f/32 in", mm/units.ThirtySecond.Millimetres())
	}
	return fmt.Sprintf("%.1f mm", mm)
}

func (c *checker) distance(d units.Distance) string {
	return units.FormatDistance(d, c.Depot.Units.Distance)
}

func (c *checker) kpa(p units.Pressure) string {
	return units.FormatPressure(p, c.Depot.Units.Pressure)
}

func (c *checker) date(t time.Time) string { return t.In(c.Zone).Format(time.DateOnly) }

// policyLine is the evidence that a setting of the fleet asks for something.
func policyLine(format string, args ...any) models.Evidence {
	return models.Evidence{Text: fmt.Sprintf(format, args...), Source: "policy"}
}

// along returns where the vehicle is on its odometer now, in km, and whether
// that is an estimate. Never read: not known.
func (c *checker) along() (km float64, estimated, known bool) {
	if !c.State.Odometer.Known {
		return 0, true, false
	}
	if c.Now.Sub(c.State.OdometerAt) < 24*time.Hour {
		return c.State.Odometer.Value.Kilometres(), c.State.Odometer.Estimated, true
	}
	km, _, known = c.State.Use.At(history.Day(c.Now))
	return km, true, known
}

// zoneDay is today in the depot, as legal seasons count it.
func (c *checker) zoneDay() legal.MonthDay {
	d := c.Now.In(c.Zone)
	return legal.MonthDay{Month: int(d.Month()), Day: d.Day()}
}

func (c *checker) legalVehicle() legal.Vehicle {
	return legal.Vehicle{Class: string(c.Vehicle.Class), MassKG: c.Vehicle.MaxMassKG, Seats: c.Vehicle.Seats}
}

func (c *checker) legalPlace(p models.Position) legal.Place {
	a := c.Vehicle.AxleAt(p)
	return legal.Place{Steered: a.Steered, Driven: a.Driven}
}
