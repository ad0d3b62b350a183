package legal

import (
	"slices"

	"rimledger/models/units"
)

// Grid is the depths of one tire: grooves outboard to inboard by stations, the
// stations evenly spaced from the valve on; nil where nothing was read. A groove
// without a wear indicator is not a major groove (49 CFR 393.5): leave it nil.
type Grid [][]*units.Length

// Outcome is the result of comparing a grid with a rule.
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

// Check returns the outcome of Judge.
func (r Rule) Check(g Grid) Outcome { return r.Judge(g).Outcome }

// Judge compares a grid with the rule and returns which readings are below its number.
// Equality passes, unless r.EqualFails.
//
// The texts leave three questions open, which are chosen by us on the safe side: the
// pair of grooves may differ from place to place; places are evenly spaced if neighbors
// are 90 to 180 degrees apart; grooves are evenly spaced across the breadth.
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

// below reports whether a depth breaks the number of the rule.
func (r Rule) below(d units.Length) bool { return d < r.Min || r.EqualFails && d == r.Min }

// judgeBand returns Fails unless a band of three quarters of the breadth without a thin
// groove may be left. Whether it is left, only breadths that are measured can say.
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

// judgePlaces decides by the stations at which enough grooves are below, and those at
// which enough were read.
func (r Rule) judgePlaces(g Grid) Outcome {
	n := 0
	for _, groove := range g {
		n = max(n, len(groove))
	}

	var below, read []int // stations
	for k := range n {
		thin, known := r.thinAt(g, k)
		if thin {
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

// decide returns the outcome for a rule that was broken or not, by readings that are
// enough to know or not.
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

// thinAt reports whether as many grooves as the sampling wants are below at station k,
// and whether enough were read there to know.
func (r Rule) thinAt(g Grid, k int) (thinEnough, known bool) {
	below, read := 0, 0
	pair, previous := false, false // two adjacent grooves below; the last groove below

	for _, groove := range g {
		if k >= len(groove) || groove[k] == nil {
			previous = false
			continue
		}

		read++
		thin := r.below(*groove[k])
		if thin {
			below++
			pair = pair || previous
		}
		previous = thin
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

// spread reports whether three of the places, numbers of n stations around the tire, are
// each from least to most degrees from the next.
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

// judgeFour decides a rule about four evenly spaced places of which one may be below. It
// tries every such four among n stations. If n has none, three thin places fail: chosen
// by us.
func judgeFour(below, read []int, n int) Outcome {
	if n%4 != 0 {
		return decide(len(below) >= 3, false)
	}

	whole := false // one of the fours was read as a whole
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
