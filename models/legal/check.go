package legal

import (
	"slices"

	"rimledger/models/units"
)

// Grid is the depths of one tire: grooves outboard to inboard by stations, the
// stations evenly spaced from the valve on; nil where nothing was read. Grooves
// without a wear indicator are no major grooves (49 CFR 393.5): leave them nil.
type Grid [][]*units.Length

// Outcome is what a grid says about a rule.
type Outcome string

// The outcomes.
const (
	Passes Outcome = "passes" // as far as was read
	Fails  Outcome = "fails"
	// BelowNumber: a reading is below the number, but the rule wants it below at
	// more grooves or places than were read.
	BelowNumber Outcome = "below_number"
	NotRead     Outcome = "not_read"
)

// Spot is one reading of a grid.
type Spot struct {
	Groove, Station int // from 0
	Depth           units.Length
}

// Verdict is an outcome with its evidence.
type Verdict struct {
	Outcome Outcome
	Below   []Spot // readings below the number, also where the rule is not broken
	// AtIndicator: nothing is below, a reading is at the number, and tread level
	// with a wear indicator breaks the rule: the indicators must be looked at.
	AtIndicator bool
}

// Check compares a grid with the rule: the outcome of Judge.
func (r Rule) Check(g Grid) Outcome { return r.Judge(g).Outcome }

// Judge compares a grid with the rule and says which readings are below its
// number. Equality passes, unless r.EqualFails.
//
// Three judgments are ours, on the safe side, as the texts leave them open: the
// pair of grooves may differ from place to place; places are evenly spaced if
// neighbors are 90 to 180 degrees apart; grooves are taken as evenly spaced
// across the breadth.
func (r Rule) Judge(g Grid) Verdict {
	var v Verdict

	read, atNumber := 0, false
	for i, groove := range g {
		for k, d := range groove {
			if d == nil {
				continue
			}
			read++
			atNumber = atNumber || *d == r.Min
			if r.below(*d) {
				v.Below = append(v.Below, Spot{i, k, *d})
			}
		}
	}

	switch {
	case read == 0:
		v.Outcome = NotRead
	case len(v.Below) == 0:
		v.Outcome = Passes
		v.AtIndicator = atNumber && r.AtIndicatorFails
	case r.Grooves == Band75:
		v.Outcome = judgeBand(g, v.Below)
	default:
		v.Outcome = r.judgePlaces(g)
	}

	return v
}

func (r Rule) below(d units.Length) bool { return d < r.Min || r.EqualFails && d == r.Min }

// judgeBand looks for a band of three quarters of the breadth that no thin
// groove lies in. Where one may be left, breadths must be measured to know.
func judgeBand(g Grid, below []Spot) Outcome {
	longest, from := 0, -1
	for i := range len(g) + 1 {
		if i == len(g) || slices.ContainsFunc(below, func(s Spot) bool { return s.Groove == i }) {
			longest = max(longest, i-from)
			from = i
		}
	}
	if 4*longest < 3*(len(g)+1) { // grooves part the breadth into len(g)+1 equal strips
		return Fails
	}
	return BelowNumber
}

// judgePlaces counts the stations at which enough grooves are below.
func (r Rule) judgePlaces(g Grid) Outcome {
	n := 0
	for _, groove := range g {
		n = max(n, len(groove))
	}

	var below, read []int // stations
	for k := range n {
		bad, known := r.thinAt(g, k)
		if bad {
			below = append(below, k)
		}
		if known {
			read = append(read, k)
		}
	}

	switch r.Sampling {
	case AnyPoint:
		return Fails
	case Adjacent:
		return decide(len(below) > 0, len(read) > 0)
	case AdjacentThrice, AnyTwoThrice:
		return decide(spread(below, n, 90, 180), spread(read, n, 90, 180))
	case AdjacentApart:
		// 8 in is 23 degrees on a tire of 40 in and 31 degrees on one of 30 in.
		return decide(spread(below, n, 30, 300), spread(read, n, 30, 300))
	default:
		return judgeFour(below, read, n)
	}
}

// decide says what follows if the rule was broken, or else if enough was read to know.
func decide(broken, enough bool) Outcome {
	switch {
	case broken:
		return Fails
	case enough:
		return Passes
	default:
		return BelowNumber
	}
}

// thinAt reports whether the grooves that the sampling wants are below at
// station k, and whether enough were read there to say.
func (r Rule) thinAt(g Grid, k int) (thin, known bool) {
	below, read, pair, previous := 0, 0, false, false
	for _, groove := range g {
		if k >= len(groove) || groove[k] == nil {
			previous = false
			continue
		}

		read++
		bad := r.below(*groove[k])
		if bad {
			below++
			pair = pair || previous
		}
		previous = bad
	}

	switch r.Sampling {
	case AnyPoint, FourPoints:
		return below > 0, read > 0
	case AnyTwoThrice:
		return below >= 2, read >= 2
	default:
		return pair, read >= 2
	}
}

// spread reports whether three of the places, of n around the tire, have
// neighbors that are from least to most degrees apart.
func spread(places []int, n, least, most int) bool {
	apart := func(from, to int) bool {
		gap := 360 * (to - from)
		return gap >= least*n && gap <= most*n
	}

	for i, a := range places {
		for j, b := range places[i+1:] {
			for _, c := range places[i+j+2:] {
				if apart(a, b) && apart(b, c) && apart(c, a+n) {
					return true
				}
			}
		}
	}

	return false
}

// judgeFour judges four evenly spaced places of which one may be below: every
// such four among n stations. If n has none, three thin places of any sort fail.
func judgeFour(below, read []int, n int) Outcome {
	if n%4 != 0 {
		return decide(len(below) >= 3, false)
	}

	whole := false
	for start := range n / 4 {
		thin, known := 0, 0
		for k := start; k < n; k += n / 4 {
			if slices.Contains(below, k) {
				thin++
			}
			if slices.Contains(read, k) {
				known++
			}
		}

		if thin >= 2 {
			return Fails
		}

		whole = whole || known == 4
	}

	return decide(false, whole)
}
