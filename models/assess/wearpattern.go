package assess

import (
	"fmt"

	"rimledger/models"
	"rimledger/models/units"
)

// unevenFrom is the spread between grooves or stations that is more than a
// gauge explains, and severeFrom the one that wants work (judged from tables of
// gauge error: 2/32 in asks to measure again, 3/32 in is a finding).
const (
	unevenFrom = 2 * units.ThirtySecond
	severeFrom = 3 * units.ThirtySecond
)

// wearPattern reports uneven wear of the last reading.
func (c *checker) wearPattern(t models.TireWithState) {
	if t.State.Last == nil {
		return
	}
	r := t.State.Last.Reading
	var low, high units.Length
	first := true
	for g, groove := range r.Depths {
		for _, d := range groove {
			if d == nil {
				continue
			}
			worn := -d.Value
			if len(r.Depths) == len(t.Tire.NewDepths) {
				worn = t.Tire.NewDepths[g] - d.Value
			}
			if first {
				low, high, first = worn, worn, false
			}
			low, high = min(low, worn), max(high, worn)
		}
	}
	cups := 0
	for _, o := range r.Observations {
		if o.Code == models.ObsCupping {
			cups = max(o.Count, 1)
		}
	}
	if high-low < severeFrom && (cups == 0 || high-low < unevenFrom) && cups == 0 {
		return
	}
	f := models.Finding{Code: models.UnevenWear, Urgency: models.Plan, Since: t.State.Last.At,
		Title:    fmt.Sprintf("uneven wear at %s: %s between thinnest and deepest", t.State.Position, c.length(high-low)),
		Evidence: []models.Evidence{{Text: fmt.Sprintf("read on %s; wear differs by %s over the tread", c.date(t.State.Last.At), c.length(high-low))}},
		FirstJob: "Pressure, then looseness, then dampers, then bead seat and run-out, then balance; alignment if one shoulder is worn."}
	if cups > 0 {
		f.Code = models.SuspectImbalance
		f.Title = fmt.Sprintf("%d cups felt at %s: imbalance is one cause among several", cups, t.State.Position)
		f.FirstJob = "Before balancing: pressure, looseness, dampers, bead seat and run-out. Then balance with all weights off."
	}
	c.add(&t, f)
}
