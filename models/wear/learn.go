package wear

import (
	"cmp"
	"math"
	"slices"
)

// Summary is what one finished or running fitment says of the wear rate.
type Summary struct {
	Class, Role, Design string
	RateMM              float64 // mm per 1000 km
	SEMM                float64 // its standard error
}

// Summary returns what the fitment's own readings say of its rate, in mm per
// 1000 km with its standard error: wear from first to now over the distance,
// break-in taken off. The prior hardly enters, so that it is not learned from
// itself. It is false before the fitment was read at two places.
func (s State) Summary() (rate, se float64, ok bool) {
	sd, known := s.DepthSD()
	way := (s.XKM - s.FirstKM) / 1000
	if !known || s.Places == 0 || way <= 0 {
		return 0, 0, false
	}
	rate = (s.FirstMM - s.DepthMM - s.BreakInMM) / way
	return rate, math.Sqrt(s.FirstVar+sd*sd) / way, true
}

// GroupRate is the wear rate of a group of fitments as a ratio to the embedded
// rate of each one's class and role. Empty names stand for all.
type GroupRate struct {
	Class, Role, Design string
	Mean                float64 // ratio
	MeanVar             float64 // how sure the mean is
	Within              float64 // variance between the fitments of the group
	Fitments            int
}

// Priors holds what a fleet's own fitments taught, sorted by group. It is plain
// data; the zero Priors answers with the embedded table.
type Priors struct{ Groups []GroupRate }

// Judged numbers of the shrinkage, chosen by us.
const (
	fleetVar      = 0.36 * 0.36 // between fleets, of the ratio; with withinVar this is embeddedCV
	withinVar     = 0.27 * 0.27 // between fitments: twofold from best to worst tenth
	groupShare    = 0.5         // of the variance within a group that its subgroups explain
	withinTrust   = 5.0         // fitments that the parent's variance counts for
	minWithinVar  = 0.1 * 0.1
	maxRatio      = 5.0
	minInDesign   = 5   // fitments before a tread design has a prior of its own
	worthlessness = 2.0 // standard error, as a ratio, from which a fitment says nothing
)

// Learn returns priors from the fleet's fitments by empirical Bayes: fleet,
// class, class and role, and tread design from five fitments up, each shrunk
// toward the one above and the first toward the embedded table. A few fitments
// therefore move a prior little, and many move it all the way. It returns an
// InputError for a rate or standard error that is not finite or, for the
// latter, not positive.
func Learn(fitments []Summary) (Priors, error) {
	groups := map[GroupRate][]effect{}
	for _, f := range fitments {
		if err := within("rate_mm", f.RateMM, -1e3, 1e3, "a rate is finite, in mm per 1000 km"); err != nil {
			return Priors{}, err
		}
		if err := within("se_mm", f.SEMM, 1e-9, 1e9, "a standard error is above 0"); err != nil {
			return Priors{}, err
		}
		base := embedded(f.Class, f.Role).rate
		e := effect{math.Min(f.RateMM/base, maxRatio), f.SEMM / base}
		if e.se > worthlessness {
			continue
		}
		for _, g := range chain(f.Class, f.Role, f.Design) {
			groups[g] = append(groups[g], e)
		}
	}
	learned := map[GroupRate]GroupRate{}
	var out Priors
	for _, g := range sortedGroups(groups) { // parents come before children
		if g.Design != "" && len(groups[g]) < minInDesign {
			continue
		}
		learned[g] = learned[parent(g)].child(g, groups[g])
		out.Groups = append(out.Groups, learned[g])
	}
	return out, nil
}

// For returns the prior of a vehicle class, axle role and tread design: that of
// the narrowest group the fleet has taught, else the embedded one.
func (p Priors) For(class, role, design string) Prior {
	row := embedded(class, role)
	groups := chain(class, role, design)
	for _, g := range slices.Backward(groups) {
		i, ok := slices.BinarySearchFunc(p.Groups, g, compareGroups)
		if !ok {
			continue
		}
		r := p.Groups[i]
		return shaped(row, r.Mean*row.rate, math.Sqrt(r.MeanVar+r.Within)*row.rate,
			Source{Level: level(g), Fitments: r.Fitments, Status: "learned"})
	}
	return DefaultPrior(class, role)
}

// effect is one fitment's ratio to the embedded rate.
type effect struct{ ratio, se float64 }

// chain lists the groups of a fitment from the widest to the narrowest.
func chain(class, role, design string) []GroupRate {
	c := []GroupRate{{}, {Class: class}, {Class: class, Role: role}, {Class: class, Role: role, Design: design}}
	return slices.Compact(c) // empty names add no group
}

// parent returns the next wider group.
func parent(g GroupRate) GroupRate {
	switch {
	case g.Design != "":
		return GroupRate{Class: g.Class, Role: g.Role}
	case g.Role != "":
		return GroupRate{Class: g.Class}
	}
	return GroupRate{}
}

// level names how narrow a group is.
func level(g GroupRate) string {
	switch {
	case g.Design != "":
		return "design"
	case g.Role != "":
		return "role"
	case g.Class != "":
		return "class"
	}
	return "fleet"
}

func compareGroups(a, b GroupRate) int {
	return cmp.Or(cmp.Compare(a.Class, b.Class), cmp.Compare(a.Role, b.Role), cmp.Compare(a.Design, b.Design))
}

func sortedGroups(m map[GroupRate][]effect) []GroupRate {
	var out []GroupRate
	for g := range m {
		out = append(out, g)
	}
	slices.SortFunc(out, compareGroups)
	return out
}

// child returns group g from its fitments, shrunk toward up. The zero up is the
// embedded table.
func (up GroupRate) child(g GroupRate, fitments []effect) GroupRate {
	spread := groupShare*up.Within + up.MeanVar
	if up.Fitments == 0 {
		up, spread = GroupRate{Mean: 1, Within: withinVar}, fleetVar
	}
	y, v := make([]float64, len(fitments)), make([]float64, len(fitments))
	for i, e := range fitments {
		y[i], v[i] = e.ratio, e.se*e.se
	}
	_, _, tau2 := RandomEffects(y, v)
	k := float64(len(fitments))
	g.Within = math.Max((withinTrust*up.Within+(k-1)*tau2)/(withinTrust+k-1), minWithinVar)
	// The mean once more with the shrunk variance: a few fitments that happen
	// to agree are not a proof that all do.
	weight, sum := 1/spread, up.Mean/spread
	for i := range y {
		w := 1 / (g.Within + v[i])
		weight += w
		sum += w * y[i]
	}
	g.Mean, g.MeanVar, g.Fitments = math.Max(sum/weight, 0.1), 1/weight, len(fitments)
	return g
}

// RandomEffects returns the mean of estimates y with variances v (positive)
// that differ among each other more than v explains, the mean's standard error,
// and the variance between them. One estimate comes back as it is; none gives
// zeros.
//
// DerSimonian and Laird, Controlled Clinical Trials 7 (1986) 177.
func RandomEffects(y, v []float64) (mean, se, between float64) {
	if len(y) == 0 {
		return 0, 0, 0
	}
	pool := func(tau2 float64) (m, w, w2 float64) {
		for i := range y {
			wi := 1 / (v[i] + tau2)
			w += wi
			w2 += wi * wi
			m += wi * y[i]
		}
		return m / w, w, w2
	}
	m, w, w2 := pool(0)
	var q float64
	for i := range y {
		q += (y[i] - m) * (y[i] - m) / v[i]
	}
	if excess := q - float64(len(y)-1); excess > 0 && w > w2/w {
		between = excess / (w - w2/w)
	}
	m, w, _ = pool(between)
	return m, 1 / math.Sqrt(w), between
}
