package wear

import (
	"cmp"
	"math"
	"slices"

	"rimledger/models/badinput"
)

// Summary is the wear rate of one finished or running fitment by its own readings.
type Summary struct {
	Class, Role, Design string
	RateMM              float64 // mm per 1000 km
	SEMM                float64 // its standard error
}

// Summary returns the fitment's wear rate by its own readings, in mm per 1000 km,
// with its standard error: the wear from the first reading to now over the distance,
// without break-in. The prior hardly enters, so that it is not learned from itself. ok
// is false until the fitment was read at two places.
func (s State) Summary() (rate, se float64, ok bool) {
	sd, known := s.DepthSD()
	thousandKM := (s.XKM - s.FirstKM) / 1000
	if !known || s.Places == 0 || thousandKM <= 0 {
		return 0, 0, false
	}

	rate = (s.FirstMM - s.DepthMM - s.BreakInMM) / thousandKM
	return rate, math.Sqrt(s.FirstVar+sd*sd) / thousandKM, true
}

// Within90 returns the ends of the 90 % interval of the rate. The lower one is
// not below 0, since rubber does not grow.
func (f Summary) Within90() (lo, hi float64) {
	return math.Max(f.RateMM-z90*f.SEMM, 0), math.Max(f.RateMM+z90*f.SEMM, 0)
}

// GroupRate is the wear rate of a group of fitments as a ratio to the embedded
// rate of each one's class and role. Empty names mean all.
type GroupRate struct {
	Class, Role, Design string
	Mean                float64 // ratio
	MeanVar             float64 // how sure the mean is
	Within              float64 // variance between the fitments of the group
	Fitments            int
}

// Priors is what a fleet's own fitments taught, sorted by group. It is plain data;
// the zero Priors falls back to the embedded table.
type Priors struct{ Groups []GroupRate }

// The numbers of the shrinkage, chosen by us.
const (
	fleetVar     = 0.36 * 0.36 // between fleets, of the ratio; with withinVar this is embeddedCV
	withinVar    = 0.27 * 0.27 // between fitments: twofold from best to worst tenth
	groupShare   = 0.5         // of the variance within a group that its subgroups explain
	withinTrust  = 5.0         // fitments that the parent's variance counts for
	minWithinVar = 0.1 * 0.1
	maxRatio     = 5.0
	minInDesign  = 5   // fitments before a tread design has a prior of its own
	maxEffectSE  = 2.0 // standard error, as a ratio, above which a fitment is left out
)

// Learn returns priors from the fleet's fitments by empirical Bayes: fleet,
// class, class and role, and tread design from five fitments up, each shrunk
// toward the one above and the first toward the embedded table. A few fitments
// therefore move a prior little, and many move it all the way.
//
// each calls yield with one fitment after another and stops at an error of yield.
// Learn calls it twice; both times it must yield the same fitments. Only sums are
// kept, so memory grows with the groups and not with the fitments. Learn returns
// each's error, or a badinput.Error for a rate that is not finite or a standard error
// that is not finite and positive.
func Learn(each func(yield func(Summary) error) error) (Priors, error) {
	sums := map[GroupRate]*moments{}
	err := eachEffect(each, func(g GroupRate, e effect) {
		if sums[g] == nil {
			sums[g] = &moments{}
		}
		sums[g].add(e.ratio, e.se*e.se)
	})
	if err != nil {
		return Priors{}, err
	}

	// The means use the shrunk variance: a few fitments that happen to agree do not
	// prove that all do. That is why the fitments are read a second time.
	learned, means := variances(sums)
	err = eachEffect(each, func(g GroupRate, e effect) {
		if m := means[g]; m != nil {
			m.add(e.ratio, learned[g].Within+e.se*e.se)
		}
	})
	if err != nil {
		return Priors{}, err
	}

	var out Priors
	for _, g := range sortedGroups(learned) { // parents come before children
		r := learned[g]
		r.Mean, r.MeanVar = learned[parent(g)].shrink(means[g])
		learned[g] = r
		out.Groups = append(out.Groups, r)
	}

	return out, nil
}

// eachEffect calls use with the effect of each fitment that is sure enough, once for
// each of its groups.
func eachEffect(each func(yield func(Summary) error) error, use func(g GroupRate, e effect)) error {
	return each(func(f Summary) error {
		e, ok, err := f.effect()
		if err != nil || !ok {
			return err
		}

		for _, g := range chain(f.Class, f.Role, f.Design) {
			use(g, e)
		}
		return nil
	})
}

// effect returns the rate as a ratio to the embedded one; false if its standard error
// is above maxEffectSE.
func (f Summary) effect() (effect, bool, error) {
	if err := badinput.Within("rate_mm", f.RateMM, -1e3, 1e3, "a rate is finite, in mm per 1000 km"); err != nil {
		return effect{}, false, err
	}
	if err := badinput.Within("se_mm", f.SEMM, 1e-9, 1e9, "a standard error is above 0"); err != nil {
		return effect{}, false, err
	}

	base := embedded(f.Class, f.Role).rate
	e := effect{math.Min(f.RateMM/base, maxRatio), f.SEMM / base}
	return e, e.se <= maxEffectSE, nil
}

// Learned is what the fleet's fitments taught about a class, role and tread design.
type Learned struct {
	Level    string  // fleet, class, role or design
	Fitments int     // fitments in that group
	Ratio    float64 // of the rate to the embedded one
	SD       float64 // of Ratio, between fitments and of the mean together
}

// Of returns what was learned about a vehicle class, axle role and tread design, from
// the narrowest group with fitments; false if no group has any.
func (p Priors) Of(class, role, design string) (Learned, bool) {
	for _, g := range slices.Backward(chain(class, role, design)) {
		if i, ok := slices.BinarySearchFunc(p.Groups, g, compareGroups); ok {
			r := p.Groups[i]
			return Learned{level(g), r.Fitments, r.Mean, math.Sqrt(r.MeanVar + r.Within)}, true
		}
	}
	return Learned{}, false
}

// Prior returns the prior of a vehicle class and axle role from what was learned.
func (l Learned) Prior(class, role string) Prior {
	row := embedded(class, role)
	return shaped(row, l.Ratio*row.rate, l.SD*row.rate, Source{Level: l.Level, Fitments: l.Fitments, Status: "learned"})
}

// For returns the prior of a vehicle class, axle role and tread design: the one that
// was learned from the narrowest group, else the embedded one.
func (p Priors) For(class, role, design string) Prior {
	if l, ok := p.Of(class, role, design); ok {
		return l.Prior(class, role)
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

// level returns the name of a group's width.
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

func sortedGroups[V any](m map[GroupRate]V) []GroupRate {
	var out []GroupRate
	for g := range m {
		out = append(out, g)
	}
	slices.SortFunc(out, compareGroups)
	return out
}

// variances returns each group with its number of fitments and the variance within
// it, shrunk toward that of the group above, and an empty sum for each group's mean.
func variances(sums map[GroupRate]*moments) (map[GroupRate]GroupRate, map[GroupRate]*moments) {
	learned, means := map[GroupRate]GroupRate{}, map[GroupRate]*moments{}
	for _, g := range sortedGroups(sums) { // parents come before children
		m := sums[g]
		if g.Design != "" && m.n < minInDesign {
			continue
		}

		above := withinVar
		if up := learned[parent(g)]; up.Fitments > 0 {
			above = up.Within
		}

		k := float64(m.n)
		r := g
		r.Within = math.Max((withinTrust*above+(k-1)*m.between())/(withinTrust+k-1), minWithinVar)
		r.Fitments = m.n
		learned[g], means[g] = r, &moments{}
	}

	return learned, means
}

// shrink returns the mean ratio of a group below up and the variance of that mean.
// The zero up is the embedded table.
func (up GroupRate) shrink(m *moments) (mean, variance float64) {
	spread := groupShare*up.Within + up.MeanVar
	if up.Mean == 0 {
		up, spread = GroupRate{Mean: 1}, fleetVar
	}

	weight := 1/spread + m.w
	return math.Max((up.Mean/spread+m.wy)/weight, 0.1), 1 / weight
}

// moments are sums over estimates y with the weights 1/v. Their mean and the variance
// between them follow from these sums.
type moments struct {
	n              int
	w, w2, wy, wyy float64
}

func (m *moments) add(y, v float64) {
	w := 1 / v
	m.n++
	m.w += w
	m.w2 += w * w
	m.wy += w * y
	m.wyy += w * y * y
}

// between returns the variance between the estimates beyond their own variances, by
// the method of DerSimonian and Laird.
func (m moments) between() float64 {
	if m.n == 0 {
		return 0
	}

	q := m.wyy - m.wy*m.wy/m.w
	if excess := q - float64(m.n-1); excess > 0 && m.w > m.w2/m.w {
		return excess / (m.w - m.w2/m.w)
	}
	return 0
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

	var fixed, random moments
	for i := range y {
		fixed.add(y[i], v[i])
	}

	between = fixed.between()
	for i := range y {
		random.add(y[i], v[i]+between)
	}

	return random.wy / random.w, 1 / math.Sqrt(random.w), between
}
