package pattern

import (
	"fmt"
	"math"
	"slices"
)

// across adds the patterns from outboard to inboard: one shoulder, both shoulders,
// center, single ribs. It compares wear, not depth, since many tires are molded
// shallower at the shoulder.
func (r *reader) across() {
	w, n := r.meansAcross()
	if len(w) < 2 {
		r.ask(Request{Code: "more_grooves", Text: "outer, center and inner major groove"})
		return
	}

	// Few readings and unknown new depths make the result less sure, not another one.
	confidence, basis := Measured, fmt.Sprintf("mean of %d readings a groove", n)
	switch n {
	case 1:
		basis = "1 reading a groove: three would make it sure"
	case 2:
		basis = "2 readings a groove: three would make it sure"
	}
	if !r.grid.newKnown {
		confidence, basis = Suspected, "new depths not known: depths compared, as if all grooves were molded alike"
	}

	// One worn shoulder explains more than a worn center, so it is looked at first.
	out, in := w[0], w[len(w)-1]
	if s, ok := gradeAcross(math.Abs(out - in)); ok {
		side := "outer"
		if in > out {
			side = "inner"
		}

		p := Pattern{ShoulderOneSide, s, confidence, basis, []Number{{"outer minus inner wear", out - in, "mm"}},
			"the " + side + " shoulder is worn more"}
		if r.shoulderVaries() {
			p.Confidence, p.Basis = Suspected, "differs from station to station"
		}

		r.add(p)
		return
	}

	if len(w) >= 3 {
		r.crown(w, confidence, basis)
	}
}

// crown adds both shoulders, a single inner rib or the center, in this order, for a
// tread whose shoulders are worn alike.
func (r *reader) crown(w []float64, confidence, basis string) {
	last := len(w) - 1
	out, in := w[0], w[last]
	inner := w[1:last]

	var mid float64
	for _, v := range inner {
		mid += v / float64(len(inner))
	}

	// The numbers are the same for every result below.
	shoulders := []Number{{"outer shoulder minus center wear", out - mid, "mm"},
		{"inner shoulder minus center wear", in - mid, "mm"}}

	if s, ok := gradeAcross(math.Min(out, in) - mid); ok {
		text := "both shoulders are worn more than the center"
		if math.Abs(out-in) <= Step+1e-6 {
			text += ", alike: may be normal on some radial designs"
		}
		r.add(Pattern{ShoulderBoth, s, confidence, basis, shoulders, text})
		return
	}

	if g, excess, ok := singleRib(w); ok {
		s, _ := gradeAcross(excess)
		r.add(Pattern{RibDepression, s, confidence, basis,
			[]Number{{"groove", float64(g + 1), "from outboard"}, {"more worn than its neighbors by", excess, "mm"}},
			fmt.Sprintf("groove %d is worn more than its neighbors; a straight edge shows a low rib, a gauge does not",
				g+1)})
		return
	}

	if s, ok := gradeAcross(mid - (out+in)/2); ok {
		r.add(Pattern{Center, s, confidence, basis, shoulders, "the center is worn more than the shoulders"})
	}
}

// singleRib returns the inner groove, counted from 0, that is worn at least 2/32 in
// more than every other groove, and by how much in mm. With fewer than four grooves
// the center cannot be distinguished from a single rib, so ok is false.
func singleRib(w []float64) (groove int, excess float64, ok bool) {
	if len(w) < 4 {
		return 0, 0, false
	}

	for g := 1; g < len(w)-1; g++ {
		excess = math.Inf(1)
		for i, v := range w {
			if i != g {
				excess = math.Min(excess, w[g]-v)
			}
		}

		if steps(excess, 2) {
			return g, excess, true
		}
	}

	return 0, 0, false
}

// meansAcross returns the mean wear (mm) of each groove that was read, and the least
// number of readings behind one of the means.
func (r *reader) meansAcross() (means []float64, least int) {
	var rows [][]*float64
	for _, row := range r.grid.wear {
		if spanOf(row).n > 0 {
			rows = append(rows, row)
		}
	}

	// Only stations at which every groove was read compare like with like on a tire
	// that is uneven around. Without such a station each groove takes its own.
	var common []int
	for k := range r.grid.stations {
		if !slices.ContainsFunc(rows, func(row []*float64) bool { return row[k] == nil }) {
			common = append(common, k)
		}
	}

	for _, row := range rows {
		if len(common) > 0 {
			picked := make([]*float64, len(common))
			for i, k := range common {
				picked[i] = row[k]
			}
			row = picked
		}

		s := spanOf(row)
		means = append(means, s.mean)
		if least == 0 || s.n < least {
			least = s.n
		}
	}

	return means, least
}

// shoulderVaries reports whether the difference between the shoulders changes by
// 3/32 in or more from station to station.
func (r *reader) shoulderVaries() bool {
	outer, inner := r.grid.wear[0], r.grid.wear[len(r.grid.wear)-1]

	var differences []*float64
	for k := range outer {
		if outer[k] != nil && inner[k] != nil {
			d := *outer[k] - *inner[k]
			differences = append(differences, &d)
		}
	}

	return steps(spanOf(differences).spread(), 3)
}
