package assess

import (
	"fmt"

	"rimledger/models"
	"rimledger/models/units"
)

// severeFrom is the spread of wear that is a finding with a 1/32 in gauge:
// derived in the trade's tables of gauge error.
const severeFrom = 3 * units.ThirtySecond

// pattern reports uneven wear of the newest reading.
func (c *checker) pattern(p *place) {
	if p.spare || p.read == nil {
		return
	}
	r := p.read.Reading
	var low, high units.Length
	first := true
	for g, groove := range r.Depths {
		for _, d := range groove {
			if d == nil {
				continue
			}
			worn := -d.Value
			if len(r.Depths) == len(p.Tire.NewDepths) {
				worn = p.Tire.NewDepths[g] - d.Value
			}
			if first {
				low, high, first = worn, worn, false
			}
			low, high = min(low, worn), max(high, worn)
		}
	}
	cups, felt := p.observed(models.ObsCupping)
	if high-low < severeFrom && !felt {
		return
	}
	f := models.Finding{Code: models.UnevenWear, Urgency: models.Plan, Since: p.read.At,
		Title:    fmt.Sprintf("uneven wear at %s: %s between most and least worn", p.at, c.depth(high-low)),
		Evidence: []models.Evidence{line("read on %s; wear differs by %s over the tread", c.date(p.read.At), c.depth(high-low))},
		FirstJob: "Pressure, then looseness, then dampers, then bead seat and run-out, then balance; alignment if one shoulder is worn."}
	if felt {
		f.Code = models.SuspectImbalance
		f.Title = fmt.Sprintf("%s at %s: imbalance is one cause among several", said(cups), p.at)
		f.FirstJob = "Before balancing: pressure, looseness, dampers, bead seat and run-out. Then balance with all weights off."
	}
	c.add(p, f)
}
