package wear

import "math"

// Count is the distribution of how many of several independent events happen
// (Poisson binomial). The zero Count has no events. It is exact up to exactCount
// events with a chance above zero, and normal by its moments beyond, so its size is
// bounded.
type Count struct {
	exact          []float64 // chance of each number, up to exactCount events
	mean, variance float64
	events         int
}

// exactCount is the number of events up to which the distribution is exact: chosen by us.
const exactCount = 200

// Add adds one event with its chance, brought into 0 to 1. NaN adds nothing.
func (c *Count) Add(chance float64) {
	chance = math.Max(0, math.Min(1, chance))
	if !(chance > 1e-9) {
		return
	}

	c.events++
	c.mean += chance
	c.variance += chance * (1 - chance)
	if c.events > exactCount {
		c.exact = nil
		return
	}

	// With one more event, n happen if n of the others do and it does not, or n-1 do
	// and it does. From the top down, so that n-1 is still the old chance.
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

// Range returns the median and the ends of the 80 % interval: the least numbers n for
// which the chance of n or fewer is at least 50, 10 and 90 %.
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
