package web

import (
	"strings"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/pattern"
	"rimledger/models/units"
)

// causesPart is what the wear of a tire points to: the account that the findings
// rest on.
type causesPart struct {
	Read     bool
	Around   string
	Patterns []patternLine
	Wanted   []pattern.Request
	Mates    []pattern.Comparison
	Ranked   []causeLine
	Rest     string // causes that nothing speaks for or against
	Checks   []pattern.Check
	Next     string
}

type causeLine struct {
	pattern.Cause
	Name string
}

// patternLine is a way in which the tire is worn, with its figures as the reader
// reads them.
type patternLine struct {
	pattern.Pattern
	Figures []string
}

var aroundWords = map[pattern.Around]string{
	pattern.AroundNotRead:   "Read at one place around the tire: nothing can be said of cups or flat spots.",
	pattern.AroundNotProven: "Not shown to be even around the tire: too few places, or no hand felt for cups.",
	pattern.AroundEven:      "Even around the tire, within the error of the gauge.",
	pattern.AroundUneven:    "Uneven around the tire.",
}

func newCauses(a *pattern.Account, u units.Style) causesPart {
	if a == nil {
		return causesPart{}
	}
	p := causesPart{Read: true, Around: aroundWords[a.Result.Around], Wanted: a.Result.Wanted,
		Mates: a.Result.Mates, Checks: a.ChecksFirst, Next: strings.ToUpper(a.NextStep[:1]) + a.NextStep[1:] + "."}
	for _, w := range a.Result.Patterns {
		line := patternLine{Pattern: w}
		for _, n := range w.Numbers {
			line.Figures = append(line.Figures, u.Render(n.String()))
		}
		p.Patterns = append(p.Patterns, line)
	}
	var rest []string
	for _, c := range a.Ranked {
		name := pattern.CauseName(c.Key)
		if len(c.Lines) == 0 {
			rest = append(rest, name+" ("+string(c.Verdict)+")")
			continue
		}
		p.Ranked = append(p.Ranked, causeLine{c, name})
	}
	p.Rest = strings.Join(rest, ", ")
	return p
}

// placePage is one position of a vehicle: how its tire wears and why.
type placePage struct {
	Vehicle  models.Vehicle
	Position models.Position
	Tire     models.Tire
	Bar      treadBar
	Strip    *strip
	outlookPart
}

func (s *site) place(r *request) error {
	id, at := models.VehicleID(r.Param("id")), models.Position(r.Param("position"))
	v, err := s.Fleet.Vehicle(r.ctx(), r.actor, id)
	if err != nil {
		return err
	}
	o, err := s.Fleet.PlaceOutlook(r.ctx(), r.actor, id, at)
	if err != nil {
		return err
	}
	u := r.units(v.Depot)
	p := placePage{Vehicle: v.Vehicle, Position: at, Tire: o.Tire, outlookPart: newOutlook(o, u, r.now.In(zone(v.Depot)))}
	in := barInput{Position: at, New: o.Tire.NewDepths, Legal: v.LegalMinimum[at], Pull: pullOf(v, at), Units: u}
	if last := o.State.LastRead(); last != nil {
		in.Depths = last.Reading.Depths
	}
	p.Bar, p.Strip = drawBar(in), drawStrip(in)
	return r.render("place", "vehicles", string(at)+" of "+v.Vehicle.Number, p)
}

// pullOf is the pull point of a place; a spare has none.
func pullOf(v fleet.VehicleView, at models.Position) (pull units.Length) {
	if !at.IsSpare() {
		pull = v.Policy.Pull(v.Vehicle.AxleAt(at).Role())
	}
	return pull
}
