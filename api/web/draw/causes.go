package draw

import (
	"strings"

	"rimledger/models/pattern"
	"rimledger/models/units"
)

// causesPart is what the wear of a tire points to: the account that the findings
// rest on.
type causesPart struct {
	Read     bool
	Around   string
	Patterns []patternLine
	Count    string // asks for the dips to be counted by hand; empty: not open
	Wanted   []pattern.Request
	Mates    []pattern.Comparison
	Ranked   []causeLine
	Rest     string // causes without evidence for or against them
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

	if ask := a.Result.CountQuestion(); ask != "" {
		p.Count = strings.ToUpper(ask[:1]) + ask[1:] + "."
	}

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
