package balance

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"sort"

	"rimledger/models/badinput"
)

// search finds the best set of a checked problem. What a set leaves is one residual for
// each row, the demand of that row plus every weight's share in it:
//
//	residual_k = demand_k + sum over places of share_k(place) * weights(place)
//
// with one row for each measured plane, or one row for the static sum. Two places are
// tried at a time. For each, the sets of weights that can still end below a residual T
// lie in a disc around the ideal weight, so only those are listed. T is doubled
// until a set within T is found; the best within T is then the best of all.
type search struct {
	p     Problem
	rows  []row
	pairs []pair
}

// row is one residual that counts in the score.
type row struct {
	demand   complex128
	radiusMM float64
	share    []float64 // of each place
}

// pair is one or two places tried together.
type pair struct {
	s    *search
	side []side
}

// side is one place of a pair.
type side struct {
	place  int
	spots  []spot
	sizes  []size
	pieces int     // at most
	most   float64 // no set on the place has a larger moment, g mm
}

// pick is a size on a spot, by index.
type pick struct{ spot, size int16 }

// option is a set of weights on one place.
type option struct {
	v     complex128 // moment, g mm
	mass  float64
	n     int
	picks [maxPieces]pick
	bound float64 // lower bound of the score, whatever is on the other place
}

// found is the best set so far.
type found struct {
	pair    pair
	set     Set
	options []option
	mass    float64
	n       int
	score   float64
}

// newSearch checks a problem and prepares its rows.
func newSearch(given Problem) (*search, []Note, error) {
	p, notes, err := given.checked()
	if err != nil {
		return nil, nil, err
	}

	inner := row{demand: p.Unbalance.Inner.complex(), radiusMM: p.Measured.Inner.RadiusMM}
	outer := row{demand: p.Unbalance.Outer.complex(), radiusMM: p.Measured.Outer.RadiusMM}
	static := row{demand: inner.demand + outer.demand, radiusMM: p.Measured.meanRadius()}
	for _, q := range p.Places {
		in, out := p.Measured.share(q.Plane.OffsetMM)
		inner.share, outer.share = append(inner.share, in), append(outer.share, out)
		static.share = append(static.share, 1)
	}

	if p.Mode == Static {
		return &search{p: p, rows: []row{static}}, notes, nil
	}
	return &search{p: p, rows: []row{inner, outer}}, notes, nil
}

// placeOf returns the index of a place, -1 if there is none of the name.
func (s *search) placeOf(name string) int {
	return slices.IndexFunc(s.p.Places, func(p Place) bool { return p.Name == name })
}

// placeNames returns the names of the places.
func (s *search) placeNames() []string {
	var names []string
	for _, p := range s.p.Places {
		names = append(names, p.Name)
	}
	return names
}

// run returns the best set; see Choose for the order.
func (s *search) run() (found, error) {
	s.makePairs()

	// If no set meets the limits, the least residual decides.
	least, ok, err := s.least(true)
	if err == nil && !ok {
		least, _, err = s.least(false)
	}
	if err != nil {
		return found{}, err
	}
	return s.lightest(least+s.p.SlackG, ok)
}

// makePairs lists every place that takes something alone, and every two of them.
func (s *search) makePairs() {
	var usable []int
	for i, p := range s.p.Places {
		if p.takesAny(s.p.Stock) {
			usable = append(usable, i)
		}
	}

	for k, i := range usable {
		s.pairs = append(s.pairs, s.newPair(i))
		for _, j := range usable[k+1:] {
			s.pairs = append(s.pairs, s.newPair(i, j))
		}
	}
}

// newPair prepares one or two places to be tried together.
func (s *search) newPair(places ...int) pair {
	pr := pair{s: s}
	for _, i := range places {
		p := s.p.Places[i]
		sizes := sizesFor(s.p.Stock, p)
		pieces := min(p.MaxPieces, s.p.MaxPieces)
		largest := sizes[len(sizes)-1].moment * float64(pieces)
		heaviest := math.Min(p.MaxMassG, s.p.MaxMassG) * p.Plane.RadiusMM
		pr.side = append(pr.side, side{place: i, sizes: sizes, pieces: pieces, most: math.Min(largest, heaviest)})
	}

	// The positions on an open circle start from the ideal angle, which needs both sides.
	for k := range pr.side {
		sd := &pr.side[k]
		sd.spots = s.p.Places[sd.place].spotsAt(direction(pr.ideal(k)))
	}
	return pr
}

// sides returns the number of places, 1 or 2.
func (pr pair) sides() int { return len(pr.side) }

// shareOf returns the share of side k in row r, 0 if the pair has no such side.
func (pr pair) shareOf(r row, k int) float64 {
	if k >= len(pr.side) {
		return 0
	}
	return r.share[pr.side[k].place]
}

// heaviestRow returns the row in which a gram mm on side k counts most.
func (pr pair) heaviestRow(k int) (row, int) {
	best := 0
	weight := func(i int) float64 { return math.Abs(pr.shareOf(pr.s.rows[i], k)) / pr.s.rows[i].radiusMM }
	for i := range pr.s.rows {
		if weight(i) > weight(best) {
			best = i
		}
	}
	return pr.s.rows[best], best
}

// parallel is the smallest |f| times radius (see affine) at which one side alone bounds
// the residual; below it the two places act alike.
const parallel = 1e-6

// affine returns e and f such that |e + f v| is a lower bound of the score in
// grams when side k carries moment v, whatever the other side carries.
func (pr pair) affine(k int) (e complex128, f float64) {
	if pr.sides() == 1 {
		h, _ := pr.heaviestRow(k)
		return h.demand / complex(h.radiusMM, 0), pr.shareOf(h, k) / h.radiusMM
	}
	if len(pr.s.rows) == 1 { // the other side can cancel anything in the one row
		return 0, 0
	}

	// The combination of both rows in which the other side has no part.
	h, i := pr.heaviestRow(1 - k)
	l := pr.s.rows[1-i]
	ratio := pr.shareOf(l, 1-k) / pr.shareOf(h, 1-k)
	e = (l.demand - complex(ratio, 0)*h.demand) / complex(l.radiusMM, 0)
	f = (pr.shareOf(l, k) - ratio*pr.shareOf(h, k)) / l.radiusMM
	if math.Abs(f)*l.radiusMM < parallel {
		f = 0
	}
	return e, f
}

// ideal returns the exact moment for side k: the one that leaves nothing if two places
// can do that; half of the demand if both places act alike; for one place alone, the
// moment that cancels the row on which it acts most.
func (pr pair) ideal(k int) complex128 {
	h, _ := pr.heaviestRow(k)
	alone := -h.demand / complex(pr.shareOf(h, k), 0)
	if pr.sides() == 1 {
		return alone
	}
	if e, f := pr.affine(k); f != 0 {
		return -e / complex(f, 0)
	}
	return alone / 2
}

// bound returns a lower bound of the score when side k carries v: the larger of the
// affine bound, which holds for any weights on the other side, and a bound from the
// weights that fit there.
//
// For the second, any directions y_k of length one give
//
//	sum |q_k + c_k w| / r_k >= Re sum conj(y_k) q_k / r_k + least over w of Re conj(g) w,
//
// with g = sum c_k y_k / r_k. It tries the directions of the residuals, first with no
// weight and then with the weights that reduce the previous ones most.
//
// With one row alone the other side helps most straight against what is left, by no
// more than its largest moment.
func (pr pair) bound(k int, v complex128) float64 {
	if len(pr.s.rows) == 1 {
		return pr.boundOfOneRow(k, v)
	}

	e, f := pr.affine(k)
	best := cmplx.Abs(e + complex(f, 0)*v)

	var w complex128
	for range 3 {
		var fixed float64
		var g complex128
		for _, r := range pr.s.rows {
			q := r.demand + complex(pr.shareOf(r, k), 0)*v
			c := complex(pr.shareOf(r, 1-k), 0)
			if rest := q + c*w; rest != 0 {
				y := rest / complex(cmplx.Abs(rest)*r.radiusMM, 0)
				fixed += real(cmplx.Conj(y) * q)
				g += c * y
			}
		}

		if pr.sides() == 1 || g == 0 {
			return math.Max(best, fixed)
		}

		var most float64
		most, w = pr.side[1-k].farthest(-g)
		best = math.Max(best, fixed-most)
	}

	return best
}

func (pr pair) boundOfOneRow(k int, v complex128) float64 {
	r := pr.s.rows[0]
	left := cmplx.Abs(r.demand + complex(pr.shareOf(r, k), 0)*v)
	if pr.sides() > 1 {
		left -= math.Abs(pr.shareOf(r, 1-k)) * pr.side[1-k].most
	}

	return math.Max(0, left) / r.radiusMM
}

// farthest returns the largest Re(conj(g) w) of any weights w on a side, and such
// weights. It ignores overlaps, so that it is an upper bound.
func (sd side) farthest(g complex128) (most float64, w complex128) {
	// The largest piece on each of the spots that lie best along g.
	var top [maxPieces]float64
	var units [maxPieces]complex128
	for _, s := range sd.spots {
		along := real(cmplx.Conj(g) * s.unit)
		for i := range sd.pieces {
			if along > top[i] {
				along, top[i] = top[i], along
				s.unit, units[i] = units[i], s.unit
			}
		}
	}

	largest := sd.sizes[len(sd.sizes)-1].moment
	for i := range sd.pieces {
		most += top[i] * largest
		w += units[i] * complex(largest, 0)
	}

	if limit := sd.most * cmplx.Abs(g); most > limit {
		return limit, w * complex(limit/most, 0)
	}
	return most, w
}

// least returns the smallest score of all sets, or of those that meet the limits if meet
// is set; ok is false if none does.
func (s *search) least(meet bool) (score float64, ok bool, err error) {
	// No score above end needs to be tried: a set above the sum of its limits misses one.
	end := s.largest()
	if meet && s.p.Mode == TwoPlane && s.p.LimitInnerG > 0 && s.p.LimitOuterG > 0 {
		end = math.Min(end, s.p.LimitInnerG+s.p.LimitOuterG)
	}
	if meet && s.p.Mode == Static && s.p.LimitStaticG > 0 {
		end = math.Min(end, s.p.LimitStaticG)
	}

	end += scoreSlack
	for within := s.start(); ; within = math.Min(2*within, end) {
		best := math.Inf(1)
		for _, pr := range s.pairs {
			if best, err = pr.least(within, best, meet); err != nil {
				return 0, false, err
			}
		}

		// Above within, better sets may not be listed yet.
		if best <= within || within >= end {
			return best, best <= end, nil
		}
	}
}

// scoreSlack is added to a score in grams before sets are listed, so that
// rounding errors exclude none.
const scoreSlack = 1e-7

// start is the first residual tried: the smallest weight there is, in grams.
func (s *search) start() float64 {
	least := math.Inf(1)
	for _, w := range s.p.Stock {
		least = math.Min(least, w.MassG)
	}
	return least
}

// largest returns a score that no allowed set exceeds.
func (s *search) largest() float64 {
	var worst float64
	for _, pr := range s.pairs {
		var score float64
		for _, r := range s.rows {
			score += cmplx.Abs(r.demand) / r.radiusMM
			for k, sd := range pr.side {
				score += math.Abs(pr.shareOf(r, k)) * sd.most / r.radiusMM
			}
		}
		worst = math.Max(worst, score)
	}
	return math.Max(worst, s.start())
}

// lists returns the options of both sides with a bound of at most within; a
// missing second side has only the empty option.
func (pr pair) lists(within float64) (a, b []option, err error) {
	if a, err = pr.options(0, within); err != nil {
		return nil, nil, err
	}
	if pr.sides() == 1 {
		return a, []option{{}}, nil
	}
	b, err = pr.options(1, within)
	return a, b, err
}

// least returns the smaller of best and the least score, up to within, of pr's sets.
func (pr pair) least(within, best float64, meet bool) (float64, error) {
	as, bs, err := pr.lists(within)
	if err != nil {
		return 0, err
	}

	// Sorted so that the loops can stop early and skip most of bs.
	slices.SortFunc(as, func(x, y option) int { return compare(x.bound, y.bound) })
	slices.SortFunc(bs, func(x, y option) int { return compare(real(x.v), real(y.v)) })
	for _, a := range as {
		limit := math.Min(best, within)
		if a.bound > limit {
			break
		}

		for _, b := range pr.near(a, bs, limit) {
			if b.bound > best {
				continue
			}
			if score, meets := pr.score(a.v, b.v); score < best && (meets || !meet) && pr.allowed(a, b) {
				best = score
			}
		}
	}

	return best, nil
}

// near returns the options of bs, sorted by their real part, that can end within limit
// beside a: they must cancel the row on which their side acts most but for the limit.
func (pr pair) near(a option, bs []option, limit float64) []option {
	h, _ := pr.heaviestRow(1)
	share := pr.shareOf(h, 1)
	if share == 0 {
		return bs
	}

	center := -(h.demand + complex(pr.shareOf(h, 0), 0)*a.v) / complex(share, 0)
	reach := limit*h.radiusMM/math.Abs(share) + scoreSlack
	from := sort.Search(len(bs), func(i int) bool { return real(bs[i].v) >= real(center)-reach })
	to := sort.Search(len(bs), func(i int) bool { return real(bs[i].v) > real(center)+reach })
	return bs[from:to]
}

// score returns the score of moments a and b on the two sides, and whether what
// they leave meets the limits.
func (pr pair) score(a, b complex128) (score float64, meets bool) {
	var left [2]float64
	var sum complex128
	for i, r := range pr.s.rows {
		c := r.demand + complex(pr.shareOf(r, 0), 0)*a + complex(pr.shareOf(r, 1), 0)*b
		left[i] = cmplx.Abs(c) / r.radiusMM
		score += left[i]
		sum += c
	}
	static := cmplx.Abs(sum) / pr.s.p.Measured.meanRadius()
	return score, pr.s.meets(left[0], left[1], static)
}

// allowed reports whether both options together keep to the limits on mass and pieces.
func (pr pair) allowed(a, b option) bool {
	return a.mass+b.mass <= pr.s.p.MaxMassG+massSlack && a.n+b.n <= pr.s.p.MaxPieces
}

// lightest returns the best set with a score of at most within: the lightest, see
// betterThan. If meet is set, only sets that meet the limits count.
func (s *search) lightest(within float64, meet bool) (found, error) {
	best := found{mass: math.Inf(1)}
	for _, pr := range s.pairs {
		var err error
		if best, err = pr.lightest(within, meet, best); err != nil {
			return found{}, err
		}
	}

	best.set = best.pair.set(best.options)
	return best, nil
}

// lightest returns the better of best and the best of pr's sets.
func (pr pair) lightest(within float64, meet bool, best found) (found, error) {
	as, bs, err := pr.lists(within + scoreSlack)
	if err != nil {
		return found{}, err
	}

	byMass := func(x, y option) int { return compare(x.mass, y.mass) }
	slices.SortStableFunc(as, byMass)
	slices.SortStableFunc(bs, byMass)

	for _, a := range as {
		least := pr.leastMass(a.v, within)
		from := sort.Search(len(bs), func(i int) bool { return bs[i].mass >= least })
		for _, b := range bs[from:] {
			if a.mass+b.mass > best.mass+massSlack {
				break // the rest of bs is heavier still
			}

			score, meets := pr.score(a.v, b.v)
			if score > within+massSlack || (meet && !meets) || !pr.allowed(a, b) {
				continue
			}

			c := found{pair: pr, mass: a.mass + b.mass, n: a.n + b.n, score: score}
			if c.betterThan(best) {
				c.options = []option{a, b}
				best = c
			}
		}
	}

	return best, nil
}

// leastMass returns a mass in grams below which no set on the second side comes within a
// score when the first side carries moment v: in the row on which the second side acts
// most it must cancel all but the score, and no mass has more moment than at its radius.
func (pr pair) leastMass(v complex128, within float64) float64 {
	h, _ := pr.heaviestRow(1)
	share := math.Abs(pr.shareOf(h, 1))
	if share == 0 {
		return 0 // there is no second side
	}

	rest := cmplx.Abs(h.demand+complex(pr.shareOf(h, 0), 0)*v) - (within+scoreSlack)*h.radiusMM
	return rest/share/pr.s.p.Places[pr.side[1].place].Plane.RadiusMM - massSlack
}

// betterThan reports whether f is lighter than g, or as light with fewer pieces, or
// both alike with a lower score.
func (f found) betterThan(g found) bool {
	switch {
	case math.Abs(f.mass-g.mass) > massSlack:
		return f.mass < g.mass
	case f.n != g.n:
		return f.n < g.n
	}
	return f.score < g.score-massSlack
}

// set returns the pieces of the chosen options and what they leave.
func (pr pair) set(options []option) Set {
	var pieces []Piece
	for k, sd := range pr.side {
		for _, q := range options[k].picks[:options[k].n] {
			pieces = append(pieces, pr.s.piece(sd.place, sd.sizes[q.size], sd.spots[q.spot]))
		}
	}
	return Set{pieces, pr.s.left(pieces)}
}

// piece returns a size on a spot of a place as a piece.
func (s *search) piece(place int, z size, at spot) Piece {
	w := s.p.Stock[z.weight]
	return Piece{
		Place:    s.p.Places[place].Name,
		Spot:     at.name,
		Weight:   w.Name,
		Segments: z.segments,
		MassG:    z.massG,
		LengthMM: w.LengthMM * float64(z.segments),
		Deg:      at.deg,
	}
}

// maxOptions bounds the sets listed for one place (about 30 MB of them).
const maxOptions = 500_000

// maxSteps bounds the pieces tried for one list (some tenths of a second).
const maxSteps = 5_000_000

// walk lists the sets of one place whose moment lies in a disc and whose bound is at most
// within.
type walk struct {
	side
	pr       pair
	k        int        // which side of pr
	within   float64    // score
	target   complex128 // center of the disc, g mm
	radius   float64    // of the disc, g mm
	maxMass  float64
	largest  float64 // moment of the largest size, g mm
	cur      option  // the set being built
	out      []option
	steps    int // pieces tried
	overflow bool
}

// options returns the sets of side k with a bound of at most within.
func (pr pair) options(k int, within float64) ([]option, error) {
	place := pr.s.p.Places[pr.side[k].place]
	w := walk{side: pr.side[k], pr: pr, k: k, within: within, radius: math.Inf(1)}
	w.maxMass = math.Min(place.MaxMassG, pr.s.p.MaxMassG) + massSlack
	w.largest = w.sizes[len(w.sizes)-1].moment
	if e, f := pr.affine(k); f != 0 {
		w.target, w.radius = -e/complex(f, 0), within/math.Abs(f)+scoreSlack
	}

	w.grow(0, w.pieces)
	if w.overflow {
		return nil, badinput.New("place "+place.Name, fmt.Sprintf("(over %d sets or %d tries)", maxOptions, maxSteps),
			ErrTooManyChoices, "raise StepDeg, lower MaxPieces or name the spots")
	}
	return w.out, nil
}

// grow lists the current set and all that add up to pieces more on later spots.
func (w *walk) grow(from, pieces int) {
	if cmplx.Abs(w.cur.v-w.target) <= w.radius {
		if w.cur.bound = w.pr.bound(w.k, w.cur.v); w.cur.bound <= w.within+scoreSlack {
			w.out = append(w.out, w.cur)
		}
	}

	w.overflow = w.overflow || len(w.out) > maxOptions || w.steps > maxSteps
	if pieces == 0 || w.overflow {
		return
	}

	for i := from; i < len(w.spots) && !w.overflow; i++ {
		lo, hi := w.moments(w.spots[i], pieces-1)
		j := sort.Search(len(w.sizes), func(j int) bool { return w.sizes[j].moment >= lo })
		for ; j < len(w.sizes) && w.sizes[j].moment <= hi; j++ {
			if w.steps++; w.free(i, j) {
				before := w.cur
				w.cur.picks[w.cur.n] = pick{int16(i), int16(j)}
				w.cur.n++
				w.cur.mass += w.sizes[j].massG
				w.cur.v += complex(w.sizes[j].moment, 0) * w.spots[i].unit
				w.grow(i+1, pieces-1)
				w.cur = before
			}
		}
	}
}

// moments returns the range in which a piece on at must be so that, with more
// pieces after it, the set can still reach the disc.
func (w *walk) moments(at spot, more int) (lo, hi float64) {
	reach := w.radius + float64(more)*w.largest

	// The rest of the way to the center, along the piece's direction and off it. Computed
	// as |rest|^2 - along^2, off would lose a small reach to rounding.
	rest := (w.target - w.cur.v) * cmplx.Conj(at.unit)
	along, off := real(rest), imag(rest)
	d := reach*reach - off*off
	if d < 0 {
		return 1, 0 // no moment will do
	}
	return along - math.Sqrt(d), along + math.Sqrt(d)
}

// free reports whether size j may go on spot i beside the pieces already there.
func (w *walk) free(i, j int) bool {
	z := w.sizes[j]
	if !w.spots[i].fits(z) || w.cur.mass+z.massG > w.maxMass {
		return false
	}

	for _, q := range w.cur.picks[:w.cur.n] {
		gap := apart(w.spots[i].deg, w.spots[q.spot].deg)
		if gap < z.half+w.sizes[q.size].half-angleSlack {
			return false
		}
	}
	return true
}
