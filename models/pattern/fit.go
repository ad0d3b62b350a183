package pattern

import (
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// maxOrder is the greatest number of dips around a tire that a fit looks for: chosen
// by us. More dips are felt by hand, not by a gauge.
const maxOrder = 12

// The chances, chosen by us, with which gauge noise alone may pass for wear on an even
// tire: once a turn, any other order or a couple, and the spread of a groove. Together
// they stay below 5 %.
const (
	onceChance   = 0.025
	otherChance  = 0.005
	spreadChance = 0.02
)

// scatterMM is the scatter of one reading without the steps of the gauge, 0.2 mm
// (gauge studies, from memory). A fit never takes the noise to be less than half of
// it plus that of rounding to the gauge's step.
const scatterMM = 0.2

// profile is the wear around all grooves with the level of each groove taken out.
type profile struct {
	angle  []float64 // radians, of each reading
	across []float64 // of each reading: 1 at the outboard groove, -1 at the inboard one
	groove []int     // of each reading, from 0
	wear   []float64 // mm, less the mean of its groove
	total  float64   // sum of squares of wear, mm²
	even   float64   // the part of total in which all grooves agree, mm²
	free   int       // readings less grooves
	two    bool      // there are two grooves or more
	floor  float64   // least variance of a reading, mm²
}

// orderFit is what n dips around the tire explain of a profile.
type orderFit struct {
	n              int
	static, couple Harmonic // the part that all grooves share; the part opposite at the shoulders
	staticChance   float64  // that noise alone explains as much; 1 if it cannot be told
	coupleChance   float64
	staticMM2      float64 // sum of squares that the static part explains
	left           float64 // sum of squares that both parts leave
	free           int     // readings less grooves and fitted terms
}

// newProfile returns the profile of the grooves that were read at two stations or more.
func (r *reader) newProfile() profile {
	p := profile{floor: r.in.ResolutionMM*r.in.ResolutionMM/12 + scatterMM*scatterMM/4}
	angles, last := r.in.angles(), len(r.grid.wear)-1
	sums, counts := make([]float64, r.grid.stations), make([]float64, r.grid.stations)

	grooves := 0

	// Each groove has a level of its own, so that only the wear around the tire is left.
	for g, row := range r.grid.wear {
		s := spanOf(row)
		if s.n < 2 {
			continue
		}

		grooves++

		for k, w := range row {
			if w == nil {
				continue
			}

			p.angle = append(p.angle, angles[k])
			p.across = append(p.across, 1-2*float64(g)/math.Max(float64(last), 1))
			p.groove = append(p.groove, g)
			p.wear = append(p.wear, *w-s.mean)
			p.total += (*w - s.mean) * (*w - s.mean)
			sums[k], counts[k] = sums[k]+*w-s.mean, counts[k]+1
		}
	}

	for k, sum := range sums {
		if counts[k] > 0 {
			p.even += sum * sum / counts[k]
		}
	}

	p.free, p.two = len(p.wear)-grooves, grooves >= 2
	return p
}

// fit returns what n dips around the tire explain: least squares at the real angles
// of the stations, with a level for each groove, a wave that all grooves share and,
// from two grooves up, one that grows from the middle to opposite signs at the two
// shoulders. Each part has its F-test against what the whole fit leaves, pooled over
// the grooves. A part that the stations cannot show, such as 8 dips on 8 equally
// spaced stations, is zero with a chance of 1.
//
// Draper & Smith, Applied Regression Analysis: extra sum of squares.
func (p profile) fit(n int) orderFit {
	f := orderFit{n: n, static: Harmonic{N: n}, couple: Harmonic{N: n}, staticChance: 1, coupleChance: 1}

	var waves [4][]float64
	for i := range waves {
		waves[i] = make([]float64, len(p.wear))
	}

	for i, a := range p.angle {
		s, c := math.Sincos(float64(n) * a)
		waves[0][i], waves[1][i] = c, s
		waves[2][i], waves[3][i] = p.across[i]*c, p.across[i]*s
	}

	// With one groove the two shoulders cannot be compared.
	columns := waves[:2]
	if p.two {
		columns = waves[:]
	}
	fitted := p.solve(columns)

	f.staticMM2 = fitted.explained[0] + fitted.explained[1]
	coupleMM2 := fitted.explained[2] + fitted.explained[3]
	staticTerms, coupleTerms := fitted.terms(0, 1), fitted.terms(2, 3)

	// What neither part explains is the noise against which both are tested.
	f.left = math.Max(p.total-f.staticMM2-coupleMM2, 0)
	f.free = p.free - staticTerms - coupleTerms

	f.static = newHarmonic(n, fitted.slope[0], fitted.slope[1])
	f.couple = newHarmonic(n, fitted.slope[2], fitted.slope[3])
	f.staticChance = p.chance(f.staticMM2, staticTerms, f)
	f.coupleChance = p.chance(coupleMM2, coupleTerms, f)

	return f
}

// chance returns the chance that noise alone explains a sum of squares with terms
// that were fitted, 1 if there is nothing to compare it with.
func (p profile) chance(explained float64, terms int, f orderFit) float64 {
	if terms == 0 || f.free < 1 {
		return 1
	}
	ratio := explained / float64(terms) / p.noise(f)
	return distuv.F{D1: float64(terms), D2: float64(f.free)}.Survival(ratio)
}

// noise returns the variance of a reading that a fit leaves, mm².
func (p profile) noise(f orderFit) float64 {
	if f.free < 1 {
		return p.floor
	}
	return math.Max(f.left/float64(f.free), p.floor)
}

// solved is the fit of up to four columns, in order.
type solved struct {
	slope     [4]float64
	explained [4]float64 // sum of squares that each column adds to those before it
	kept      [4]bool    // whether the stations show the column at all
}

// terms returns how many of two columns were kept.
func (s solved) terms(i, j int) int {
	n := 0
	for _, kept := range []bool{s.kept[i], s.kept[j]} {
		if kept {
			n++
		}
	}
	return n
}

// solve fits the columns, each less its mean in each groove, to the wear, by
// Gram-Schmidt: a column that the columns before it already contain is left out.
func (p profile) solve(columns [][]float64) solved {
	var (
		out   solved
		units [4][]float64  // orthonormal columns
		mix   [4][4]float64 // columns in terms of units
		along [4]float64    // wear in terms of units
	)

	for i, column := range columns {
		rest := p.centered(column)
		before := dot(rest, rest)

		for j := range i {
			if !out.kept[j] {
				continue
			}
			mix[j][i] = dot(units[j], rest)
			for k := range rest {
				rest[k] -= mix[j][i] * units[j][k]
			}
		}

		// A column that is nearly zero now adds nothing to those before it.
		length := math.Sqrt(dot(rest, rest))
		if length < 1e-6*math.Sqrt(float64(len(rest))) || length*length < 1e-9*before {
			continue
		}

		for k := range rest {
			rest[k] /= length
		}

		units[i], mix[i][i], out.kept[i] = rest, length, true
		along[i] = dot(rest, p.wear)
		out.explained[i] = along[i] * along[i]
	}

	// Back from the orthonormal columns to the slopes of the given ones.
	for i := len(columns) - 1; i >= 0; i-- {
		if !out.kept[i] {
			continue
		}
		value := along[i]
		for j := i + 1; j < len(columns); j++ {
			value -= mix[i][j] * out.slope[j]
		}
		out.slope[i] = value / mix[i][i]
	}

	return out
}

// centered returns column less its mean in each groove.
func (p profile) centered(column []float64) []float64 {
	var sums, counts [maxGrooves]float64
	for i, v := range column {
		sums[p.groove[i]] += v
		counts[p.groove[i]]++
	}

	out := make([]float64, len(column))
	for i, v := range column {
		out[i] = v - sums[p.groove[i]]/counts[p.groove[i]]
	}
	return out
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// orders is what a profile shows of the number of dips.
type orders struct {
	best  orderFit
	found bool  // best is more than noise: half of what all grooves share, or a couple
	pair  bool  // best is a couple: opposite at the two shoulders
	rules bool  // best explains six parts in ten of what all grooves share (chosen by us)
	could []int // the numbers of dips from 1 to 12 that fit as well, rising
}

// readOrders fits 1 to 12 dips. Of numbers that the stations cannot tell apart the
// least stands for all of them.
func (p profile) readOrders() orders {
	var (
		out  orders
		fits []orderFit
	)

	for n := 1; n <= maxOrder; n++ {
		f := p.fit(n)
		fits = append(fits, f)
		if n == 1 || f.left < out.best.left-1e-9*p.total {
			out.best = f
		}
	}

	// Once a turn is what most often wears a tire, so it stands if it fits nearly as well.
	if fits[0].staticChance <= onceChance && fits[0].left-out.best.left <= orderMargin*p.noise(out.best) {
		out.best = fits[0]
	}

	b := out.best
	tests := float64(p.distinct())

	allowed := otherChance / tests
	if b.n == 1 {
		allowed = onceChance
	}

	static := b.staticChance <= allowed && b.staticMM2 >= 0.45*p.even
	couple := b.coupleChance <= otherChance/tests
	out.found = static || couple
	out.pair = couple && b.opposite()

	out.rules = b.staticMM2 >= 0.6*p.even

	for _, f := range fits {
		if f.left-b.left <= orderMargin*p.noise(b) {
			out.could = append(out.could, f.n)
		}
	}

	return out
}

// opposite reports whether the two shoulders are worn most at opposite sides, within 60
// degrees, and neither wave is less than half the other (chosen by us). A wave on one
// shoulder alone is no couple.
func (f orderFit) opposite() bool {
	phasor := func(h Harmonic) complex128 {
		return cmplx.Rect(h.AmplitudeMM, h.AngleDeg*float64(h.N)*math.Pi/180)
	}
	outer := phasor(f.static) + phasor(f.couple)
	inner := phasor(f.static) - phasor(f.couple)

	a, b := cmplx.Abs(outer), cmplx.Abs(inner)
	if math.Min(a, b) < math.Max(a, b)/2 {
		return false
	}
	return real(outer*cmplx.Conj(inner)) <= -0.5*a*b
}

// orderMargin is how much worse than the best, in variances of a reading, another
// number of dips may fit and still be possible: it is then more than a tenth as likely
// as the best (twice the natural logarithm of 10; a tenth is chosen by us).
const orderMargin = 4.61

// distinct returns how many different numbers of dips the stations can show.
func (p profile) distinct() int {
	var places []float64
	for _, a := range p.angle {
		if !slices.ContainsFunc(places, func(b float64) bool { return math.Abs(a-b) < 1e-9 }) {
			places = append(places, a)
		}
	}
	return max(1, min(maxOrder, len(places)/2))
}

// UnequalStations returns eight stations, in degrees from the valve, whose readings tell 1
// to 12 dips apart better than equal spacing does: the two most similar numbers have a
// likeness of 0.84 (see Likest), against 1.00 with up to 24 equally spaced stations. Ten
// stations reach 0.71; two more readings of every groove are not worth that (chosen by us
// from a search in steps of ten degrees).
func UnequalStations() []float64 { return []float64{0, 20, 80, 100, 200, 290, 320, 330} }

// Likest returns how like the two most similar numbers of dips from 1 to 12 look at
// stations (degrees): the cosine of the angle between what the two can show there with
// the level taken out. 1 means that readings cannot tell them apart, as on all equally
// spaced stations up to 24; 0 that they never look alike.
func Likest(stationsDeg []float64) (cosine float64, n, m int) {
	var shown [maxOrder + 1][][]float64
	for n := 1; n <= maxOrder; n++ {
		shown[n] = orderBasis(n, stationsDeg)
	}

	for a := 1; a <= maxOrder; a++ {
		for b := a + 1; b <= maxOrder; b++ {
			if c := likeness(shown[a], shown[b]); c > cosine+1e-9 {
				cosine, n, m = c, a, b
			}
		}
	}

	return cosine, n, m
}

// orderBasis returns what the stations can show of n dips, the level taken out: up to
// two unit vectors at right angles (Gram-Schmidt).
func orderBasis(n int, stationsDeg []float64) [][]float64 {
	cos, sin := make([]float64, len(stationsDeg)), make([]float64, len(stationsDeg))
	for i, deg := range stationsDeg {
		sin[i], cos[i] = math.Sincos(float64(n) * deg * math.Pi / 180)
	}

	var basis [][]float64
	one := profile{groove: make([]int, len(stationsDeg))}
	for _, column := range [][]float64{cos, sin} {
		rest := one.centered(column)
		for _, u := range basis {
			d := dot(u, rest)
			for k := range rest {
				rest[k] -= d * u[k]
			}
		}

		if length := math.Sqrt(dot(rest, rest)); length > 1e-6*float64(len(rest)) {
			for k := range rest {
				rest[k] /= length
			}
			basis = append(basis, rest)
		}
	}

	return basis
}

// likeness returns the largest cosine between a vector of one plane and a vector of
// another, each given by at most two orthonormal vectors; 1 if one of them is empty.
func likeness(a, b [][]float64) float64 {
	if len(a) == 0 || len(b) == 0 {
		return 1
	}

	// The largest singular value of the 2 by 2 matrix of products.
	var m [2][2]float64

	for i, u := range a {
		for j, v := range b {
			m[i][j] = dot(u, v)
		}
	}

	sum := m[0][0]*m[0][0] + m[0][1]*m[0][1] + m[1][0]*m[1][0] + m[1][1]*m[1][1]
	det := m[0][0]*m[1][1] - m[0][1]*m[1][0]
	return math.Min(1, math.Sqrt((sum+math.Sqrt(math.Max(sum*sum-4*det*det, 0)))/2))
}

// chanceOfSpread returns the chance that k readings of an even groove differ by
// spread or more: normal scatter of 0.2 mm, rounded to the step of the gauge, the true
// depth anywhere between two steps. Exact for a step of the gauge above the scatter,
// and for finer gauges as fine as the sum.
func chanceOfSpread(k int, step, spread float64) float64 {
	const depths = 20
	width := int(math.Round(spread/step)) - 1 // the widest range in steps that is less
	if width < 0 || k < 2 {
		return 1
	}

	cells := int(math.Ceil(4*scatterMM/step)) + 1
	below := func(x float64) float64 { return 0.5 * math.Erfc(-x/scatterMM/math.Sqrt2) }

	inside := 0.0
	for d := range depths {
		depth := (float64(d)+0.5)/depths*step - step/2
		within := func(from, to int) float64 { // the chance of a reading in cells from..to
			return below((float64(to)+0.5)*step-depth) - below((float64(from)-0.5)*step-depth)
		}

		// Every reading lies in the cells from the lowest reading up: all within less
		// all within and none in the lowest.
		for low := -cells; low <= cells; low++ {
			all := within(low, low+width)
			rest := 0.0
			if width > 0 {
				rest = within(low+1, low+width)
			}
			inside += (math.Pow(all, float64(k)) - math.Pow(rest, float64(k))) / depths
		}
	}

	return math.Max(0, 1-inside)
}
