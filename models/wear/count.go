package wear

import "math"

// Count is the distribution of how many of several independent things happen
// (Poisson binomial). The zero Count is of none. It is exact up to exactCount
// things with a chance, and normal by its moments beyond; its size is bounded.
type Count struct {
	exact          []float64 // chance of each number, while there are few
	mean, variance float64
	things         int
}

// exactCount bounds the exact distribution.
const exactCount = 200

// Add brings in one more thing with its chance, 0 to 1.
func (c *Count) Add(chance float64) {
	chance = math.Max(0, math.Min(1, chance))
	if !(chance > 1e-9) {
		return
	}

	c.things++
	c.mean += chance
	c.variance += chance * (1 - chance)
	if c.things > exactCount {
		c.exact = nil
		return
	}

	if c.exact == nil {
		c.exact = []float64{1}
	}

	c.exact = append(c.exact, 0)
	for n := len(c.exact) - 1; n > 0; n-- {
		c.exact[n] = c.exact[n]*(1-chance) + c.exact[n-1]*chance
	}

	c.exact[0] *= 1 - chance
}

// Mean returns the expected number.
func (c Count) Mean() float64 { return c.mean }

// Range returns the median and the ends of the 80 % interval: the least numbers
// that are reached or undercut with a chance of at least 50, 10 and 90 %.
func (c Count) Range() (median, lo, hi int) {
	if c.exact == nil {
		sd := math.Sqrt(c.variance)
		whole := func(z float64) int { return int(math.Max(0, math.Round(c.mean+z*sd))) }
		return whole(0), whole(-z80), whole(z80)
	}

	quantile := func(q float64) int {
		var sum float64
		for n, p := range c.exact {
			if sum += p; sum >= q-1e-12 {
				return n
			}
		}
		return len(c.exact) - 1
	}

	return quantile(0.5), quantile(0.1), quantile(0.9)
}
