package assess

import (
	"fmt"
	"time"

	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/units"
)

// gaugePressure returns the newest reading with a pressure since the tire was fitted to
// this vehicle; nil: none.
func (p *place) gaugePressure() *models.Measured {
	for _, m := range []*models.Measured{p.State.Last, p.State.Previous} {
		if m != nil && m.Reading.Pressure != nil && (p.State.FittedOn == nil || !m.At.Before(p.State.FittedOn.At)) {
			return m
		}
	}
	return nil
}

// roundingTolerance is far below the step of any gauge: it only absorbs the rounding of
// computed shares and differences.
const roundingTolerance = units.Pressure(1e-6)

// pressure compares the newest pressure with the axle's cold target. A warm tire is
// judged by the same percentages, since its pressure is lower still when cold.
func (c *checker) pressure(p *place) {
	target := c.target(p)
	m := p.gaugePressure()
	if m == nil || target <= 0 {
		return
	}

	was := *m.Reading.Pressure
	percent := float64(was.Value) / float64(target) * 100
	share := func(n int) units.Pressure { return target * units.Pressure(n) / 100 }
	if was.Value >= share(max(c.Policy.LowPercent, c.Policy.RunFlatPercent))+roundingTolerance {
		return
	}

	f := models.Finding{Since: m.At, Evidence: []models.Evidence{c.pressureLine(p, m, target)}}
	switch {
	case c.Policy.RunFlatPercent > 0 && was.Value <= share(c.Policy.RunFlatPercent)+roundingTolerance:
		f.Code, f.Urgency = models.RunFlat, models.DoNow
		f.Title = fmt.Sprintf("%s at %s, %.0f%% of the target: counts as run flat", pressure(was), p.at, percent)
		f.FirstJob = fmt.Sprintf("Take the wheel at %s off and have the tire looked at inside "+
			"before any air goes in; then find the leak.", p.at)
		f.Safety = cautionRunFlat
		rule := c.guide(legal.RunFlat, p)
		f.Evidence = append(f.Evidence, sourced("policy; "+rule.Cite(), "at or below %d%% counts as run flat",
			c.Policy.RunFlatPercent))

		// The rule is about large vehicles; on the others it is good practice.
		if c.Vehicle.Class.Heavy() && !p.spare {
			f.Urgency = models.OffTheRoad
			f.Safety = cautionPark + " " + cautionRunFlat
			f.Notice = rule.Explain() + " " + legal.Notice
		}

	case was.Value < share(c.Policy.LowPercent)-roundingTolerance:
		f.Code, f.Urgency = models.PressureLow, models.DoNow
		f.Title = fmt.Sprintf("%s at %s, %.0f%% of the target", pressure(was), p.at, percent)
		f.FirstJob = "Find the leak, then inflate it cold to " + units.MarkPressure(target) + "."
		f.Safety = cautionInflate
		f.Evidence = append(f.Evidence, policyLine("low is below %d%% of the target", c.Policy.LowPercent))

	default:
		return
	}

	if p.spare {
		f.Urgency = models.Plan
	}
	c.add(p, f)
}

// target returns the cold target at p, 0 if none is set. A spare may have to run on any
// axle: its target is the highest.
func (c *checker) target(p *place) units.Pressure {
	target := p.axle.Pressure.Value
	if p.spare {
		for _, a := range c.Vehicle.Axles {
			target = max(target, a.Pressure.Value)
		}
	}
	return target
}

// pressureLine is the evidence of a pressure beside its target.
func (c *checker) pressureLine(p *place, m *models.Measured, target units.Pressure) models.Evidence {
	cold := "cold"
	if m.Reading.Hot {
		cold = "on a warm tire: cold it is lower"
	}

	return line("%s at %s, %s, on %s%s; target %s cold", pressure(*m.Reading.Pressure), p.at, cold, c.date(m.At),
		by(m.Person), units.MarkPressure(target))
}

// sameVisit reports whether two pressures can be compared: both were taken, within a day
// of each other.
func sameVisit(a, b *models.Measured) bool {
	return a != nil && b != nil && a.At.Sub(b.At).Abs() <= 24*time.Hour
}

// dualPressure compares the pressures of a dual pair, both cold or both warm. Where one
// of them is found low already, that says it: filled to its target, the pair is even.
func (c *checker) dualPressure(outer, inner *place) {
	a, b := outer.gaugePressure(), inner.gaugePressure()
	if c.Policy.DualPressure <= 0 || !sameVisit(a, b) || a.Reading.Hot != b.Reading.Hot {
		return
	}

	for _, p := range []*place{outer, inner} {
		for _, code := range []models.FindingCode{models.PressureLow, models.RunFlat} {
			if c.added[models.FindingKey{Position: p.at, TireID: p.Tire.ID, Code: code}] {
				return
			}
		}
	}

	apart := max(a.Reading.Pressure.Value-b.Reading.Pressure.Value, b.Reading.Pressure.Value-a.Reading.Pressure.Value)
	if apart <= c.Policy.DualPressure+roundingTolerance {
		return
	}

	c.add(outer, models.Finding{
		Code:    models.DualPressureApart,
		Urgency: models.DoNow,
		Since:   newer(a, b).At,
		Title: fmt.Sprintf("pressures of the pair at %s and %s are %s apart", outer.at, inner.at,
			units.MarkPressure(apart)),
		Evidence: []models.Evidence{
			line("%s at %s and %s at %s on %s", pressure(*a.Reading.Pressure), outer.at, pressure(*b.Reading.Pressure),
				inner.at, c.date(newer(a, b).At)),
			sourced("policy; trade rule for radial duals, read 2026-11", "a pair stays within %s",
				units.MarkPressure(c.Policy.DualPressure)),
			sourced("trade press, read 2026-11", "%s to %s apart ruins one or both tires of a pair in weeks",
				units.MarkPressure(10*units.PSI), units.MarkPressure(15*units.PSI)),
		},
		FirstJob: "Find why one is lower, then set both tires of the pair to the same cold pressure.",
		Safety:   "Check first that neither was run flat. " + cautionInflate,
	})
}
