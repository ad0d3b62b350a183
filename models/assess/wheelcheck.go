package assess

import (
	"fmt"
	"math"

	"rimledger/models"
	"rimledger/models/balance"
	"rimledger/models/legal"
	"rimledger/models/pattern"
	"rimledger/models/units"
)

// wheelChecked fills f with what was measured of the assembly at p: the largest variation
// of the bead gap, and the run-out that is largest as a share of its limit.
func (c *checker) wheelChecked(p *place, f *pattern.Facts) {
	worst := -1.0
	for _, v := range p.State.Trueness {
		mm := v.Value.Value.Millimetres()
		if v.What == models.BeadGap {
			if mm >= f.BeadGapVariationMM {
				f.BeadGapVariationMM, f.BeadGapNote = mm, c.describeMeasured(v)
			}
			continue
		}

		// Limits differ by place, so run-outs are compared as shares of theirs.
		l := c.runoutLimit(p, v)
		if share := mm / l.Base(); share > worst {
			worst = share
			f.RunoutMM, f.RunoutLimitMM = mm, l.Base()
			f.RunoutNote = fmt.Sprintf("%s; limit %g %s, %s", c.describeMeasured(v), l.Value, l.Unit, l.Source)
		}
	}
}

// describeMeasured returns what was measured, as typed, where and when.
func (c *checker) describeMeasured(v models.TruenessRecord) string {
	s := fmt.Sprintf("%s %s", plainWords(string(v.What)), v.Value.Text)
	if v.Place != "" {
		s += ", " + v.Place
	}
	if v.High != nil {
		s += fmt.Sprintf(", highest at %.0f degrees from the valve", float64(*v.High))
	}
	return s + ", " + c.date(v.At)
}

// runoutLimit returns the limit for a run-out of the assembly at p. A rim of unknown
// material is judged by the limit for steel, the wider one.
func (c *checker) runoutLimit(p *place, v models.TruenessRecord) balance.Limit {
	heavy := c.Vehicle.Class.Heavy()
	switch {
	case v.What.OfRim() && heavy && v.Material == "alloy":
		return balance.MustLimit("wheel-aluminum-runout")
	case v.What.OfRim() && heavy:
		return balance.MustLimit("wheel-steel-runout")
	case v.What.OfRim() && v.Material == "alloy":
		return balance.MustLimit("car-wheel-aluminum-runout")
	case v.What.OfRim():
		return balance.MustLimit("car-wheel-steel-runout")
	case heavy:
		return balance.MustLimit(c.assembly(p).Bench().HeavyRotor() + "-runout")
	case v.OnVehicle:
		return balance.MustLimit("car-runout-on")
	}
	return balance.MustLimit("car-runout-off")
}

// rimOverLegal compares what was measured of the rim at p with the rules on run-out in
// force for the vehicle. Equal to the limit passes.
func (c *checker) rimOverLegal(p *place) {
	if p.spare {
		return
	}

	for _, o := range c.other(legal.WheelRunoutIn, p) {
		most := units.Length(math.Round(o.Limit * float64(units.Inch)))
		f := models.Finding{
			Code:    models.RimOverLegal,
			Urgency: models.DoNow,
			Notice:  o.Explain(),
			FirstJob: fmt.Sprintf("Take the wheel at %s off: clean the hub and its face, measure again, "+
				"and replace a wheel that is bent.", p.at),
			Safety: cautionWheels + " A bent rim is not straightened by heat, welding or hammer.",
		}

		// The title names the first value over the rule, the evidence all of them.
		for _, v := range p.State.Trueness {
			if !v.What.OfRim() || v.Value.Value <= most {
				continue
			}
			if f.Since.IsZero() || v.At.Before(f.Since) {
				f.Since = v.At
			}
			if f.Title == "" {
				f.Title = fmt.Sprintf("%s %s at %s, over %g in", plainWords(string(v.What)), v.Value.Text, p.at,
					o.Limit)
			}
			f.Evidence = append(f.Evidence, line("%s", c.describeMeasured(v)))
		}

		if f.Title == "" { // nothing is over the limit
			continue
		}
		f.Evidence = append(f.Evidence, models.Evidence{Text: o.Text, Source: citation(o.Rule)})
		c.add(p, f)
	}
}

// outOfTrue reports whether the measurements of the assembly at p point to run-out or a
// bad seat even without uneven wear.
func (c *checker) outOfTrue(p *place) bool {
	var f pattern.Facts
	c.wheelChecked(p, &f)
	return f.OutOfTrue()
}
