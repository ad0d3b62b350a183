package fleet

import (
	"cmp"
	"context"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/history"
	"rimledger/models/wear"
)

// OrderMonths is how far ahead tires to order are predicted at most.
const OrderMonths = 12

// DepotOrder is how many tires a depot will need, by size.
type DepotOrder struct {
	Depot  models.Depot
	Months []time.Time // first moment of each month; the first is now
	Sizes  []SizeOrder // by size
	All    []TireNeed  // of all sizes, a month each
	Untold int         // tires without a prediction: no reading or no distance
}

// SizeOrder is how many tires of one size are needed, a month each.
type SizeOrder struct {
	Size string
	Need []TireNeed
}

// TireNeed is a number of tires that reach their pull point within a month; the
// first month includes those that have reached it already.
type TireNeed struct {
	Mean               float64
	Median, Lo80, Hi80 int
}

// TiresToOrder predicts for each depot that a sees how many tires will reach
// their pull point in this month and the months after it, in the depot's own
// calendar. Tires count as independent of each other. Vehicles stream by, a page
// at a time: memory grows with depots and sizes, not with tires.
func (s *Service) TiresToOrder(
	ctx context.Context,
	a Actor,
	depots []models.DepotID,
	months int,
) ([]DepotOrder, error) {
	if months < 1 || months > OrderMonths {
		return nil, models.Errorf(models.Invalid, "months: %d must be 1 to %d", months, OrderMonths)
	}

	depots, none := a.depots(depots)
	if none {
		return nil, nil
	}

	now := s.now()
	return readAs(ctx, s, a, access.View, nil, func(r models.Reader) ([]DepotOrder, error) {
		all, err := r.Depots(ctx)
		if err != nil {
			return nil, err
		}

		var out []DepotOrder
		for _, d := range all {
			if len(depots) > 0 && !slices.Contains(depots, d.ID) {
				continue
			}
			o, err := depotOrder(ctx, r, d, months, now)
			if err != nil {
				return nil, err
			}
			out = append(out, o)
		}

		return out, nil
	})
}

func depotOrder(ctx context.Context, r models.Reader, d models.Depot, months int, now time.Time) (DepotOrder, error) {
	o := DepotOrder{Depot: d}
	zone, err := d.Zone()
	if err != nil {
		zone = time.UTC
	}

	// Months are those of the depot's calendar; the first begins today.
	here := now.In(zone)

	ends := make([]float64, months) // days from now
	for m := range months {
		first := time.Date(here.Year(), here.Month()+time.Month(m), 1, 0, 0, 0, 0, zone)
		if m == 0 {
			first = here
		}
		o.Months = append(o.Months, first)
		ends[m] = time.Date(here.Year(), here.Month()+time.Month(m+1), 1, 0, 0, 0, 0, zone).Sub(now).Hours() / 24
	}

	// Chances are summed by size, since an order names sizes.
	sizes, total := map[string][]wear.Count{}, make([]wear.Count, months)

	page := models.Page{Limit: assessBatch}
	for {
		rows, next, err := r.Vehicles(ctx, models.VehicleFilter{Depots: []models.DepotID{d.ID}}, page)
		if err != nil {
			return o, err
		}
		scenes, err := loadScenes(ctx, r, rows)
		if err != nil {
			return o, err
		}

		for _, sc := range scenes {
			o.Untold += sc.needs(now, ends, sizes, total)
		}

		if page.After = next; next == "" {
			break
		}
	}

	o.All = needs(total)
	for size, counts := range sizes {
		o.Sizes = append(o.Sizes, SizeOrder{size, needs(counts)})
	}

	slices.SortFunc(o.Sizes, func(a, b SizeOrder) int { return cmp.Compare(a.Size, b.Size) })
	return o, nil
}

// needs adds the chances of the vehicle's tires to be due in each month, and
// returns for how many no prediction is possible.
func (sc *scene) needs(now time.Time, ends []float64, sizes map[string][]wear.Count, total []wear.Count) (untold int) {
	x, sd, known := sc.state.Use.At(history.Day(now))
	for _, t := range sc.mounted() {
		pull := sc.policy.Pull(sc.vehicle.AxleAt(t.State.Position).Role())
		if t.State.Position.IsSpare() || pull <= 0 {
			continue
		}

		w := t.State.MinWear

		// Such tires need replacing too, but no date is known.
		if w == nil || !known {
			untold++
			continue
		}

		f, err := w.Forecast(
			wear.Ahead{LimitMM: pull.Millimetres(), NowKM: max(x, w.XKM), NowSDKM: sd, Use: sc.state.Use},
		)
		if err != nil {
			untold++
			continue
		}

		if sizes[t.Tire.Size] == nil {
			sizes[t.Tire.Size] = make([]wear.Count, len(ends))
		}

		// A month gets the chance of its own days alone.
		var before float64
		for m, end := range ends {
			upTo := f.Days.Before(end)
			sizes[t.Tire.Size][m].Add(upTo - before)
			total[m].Add(upTo - before)
			before = upTo
		}
	}

	return untold
}

func needs(counts []wear.Count) []TireNeed {
	var out []TireNeed
	for _, c := range counts {
		n := TireNeed{Mean: c.Mean()}
		n.Median, n.Lo80, n.Hi80 = c.Range()
		out = append(out, n)
	}
	return out
}
