package legal

import (
	"slices"

	"rimledger/models/units"
)

// Grid is the depths of one tire: grooves outboard to inboard by stations; nil
// where nothing was read.
type Grid [][]*units.Length

// Outcome is what a grid says about a rule.
type Outcome string

// The outcomes.
const (
	Passes Outcome = "passes"
	Fails  Outcome = "fails"
	// BelowNumber: a reading is below the number, but the rule wants it below at
	// more grooves or places than were read.
	BelowNumber Outcome = "below_number"
	NotRead     Outcome = "not_read"
)

// Check compares a grid with the rule. Equality passes.
func (r Rule) Check(g Grid) Outcome {
	read, below := 0, 0
	for _, groove := range g {
		for _, d := range groove {
			if d != nil {
				read++
				if *d < r.Min {
					below++
				}
			}
		}
	}
	switch {
	case read == 0:
		return NotRead
	case below == 0:
		return Passes
	}
	switch r.Sampling {
	case AnyPoint:
		return Fails
	case Adjacent:
		return outcome(r.places(g, r.pairAt), 1, enough(g, 2, 1))
	case AdjacentThrice:
		return outcome(r.places(g, r.pairAt), 3, enough(g, 2, 3))
	default:
		return outcome(r.places(g, r.anyAt), 2, enough(g, 1, 4))
	}
}

// outcome judges how many places are below where need are wanted. full reports
// whether enough was read for the answer to be no.
func outcome(places, need int, full bool) Outcome {
	switch {
	case places >= need:
		return Fails
	case full:
		return Passes
	default:
		return BelowNumber
	}
}

// places counts the stations at which below holds.
func (r Rule) places(g Grid, below func(Grid, int) bool) int {
	n := 0
	for k := range stations(g) {
		if below(g, k) {
			n++
		}
	}
	return n
}

func stations(g Grid) int {
	n := 0
	for _, groove := range g {
		n = max(n, len(groove))
	}
	return n
}

func (r Rule) at(g Grid, groove, k int) bool {
	return groove < len(g) && k < len(g[groove]) && g[groove][k] != nil && *g[groove][k] < r.Min
}

// pairAt reports whether two adjacent grooves are below at station k.
func (r Rule) pairAt(g Grid, k int) bool {
	for i := range g {
		if r.at(g, i, k) && r.at(g, i+1, k) {
			return true
		}
	}
	return false
}

// anyAt reports whether a groove is below at station k.
func (r Rule) anyAt(g Grid, k int) bool {
	return slices.ContainsFunc(g, func(groove []*units.Length) bool {
		return k < len(groove) && groove[k] != nil && *groove[k] < r.Min
	})
}

// enough reports whether at least so many grooves were read at so many stations.
func enough(g Grid, grooves, places int) bool {
	full := 0
	for k := range stations(g) {
		n := 0
		for _, groove := range g {
			if k < len(groove) && groove[k] != nil {
				n++
			}
		}
		if n >= grooves {
			full++
		}
	}
	return full >= places
}
