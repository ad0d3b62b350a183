package fleet

import (
	"context"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/history"
	"rimledger/models/units"
)

// Figures lists the kept figures of the depots that a sees, or of those of them that are
// wanted, from the first day to the last, civil dates such as 2026-12-03; by day, then
// depot.
func (s *Service) Figures(
	ctx context.Context,
	a Actor,
	want []models.DepotID,
	from, to string,
) ([]models.Figures, error) {
	depots, none := a.depots(want)
	if none {
		return nil, nil
	}
	return readAs(ctx, s, a, access.View, references(want), func(r models.Reader) ([]models.Figures, error) {
		return r.Figures(ctx, models.FiguresFilter{Depots: depots, From: from, To: to})
	})
}

// KeepFigures counts how depots stand now and keeps that under their present day: a depot
// that has no figures of its day yet, and every depot in the last hour of its day. It is
// called every hour, so that each day is left with the figures of its evening.
func (s *Service) KeepFigures(ctx context.Context) (kept int, err error) {
	now := s.now()
	depots, err := read(ctx, s, func(r models.Reader) ([]models.Depot, error) { return r.Depots(ctx) })
	if err != nil {
		return 0, err
	}

	for _, d := range depots {
		f, err := read(ctx, s, func(r models.Reader) (*models.Figures, error) { return figuresDue(ctx, r, d, now) })
		if err != nil {
			return kept, err
		}
		if f == nil {
			continue
		}

		err = s.write(ctx, func(tx models.Tx, _ time.Time) error { return tx.PutFigures(ctx, *f) })
		if err != nil {
			return kept, err
		}
		kept++
	}

	return kept, nil
}

// figuresDue returns the figures of a depot that KeepFigures keeps now, nil if none are
// due.
func figuresDue(ctx context.Context, r models.Reader, d models.Depot, now time.Time) (*models.Figures, error) {
	zone, err := d.Zone()
	if err != nil {
		return nil, err
	}

	here := now.In(zone)
	if here.Hour() < 23 {
		day := here.Format(time.DateOnly)
		before, err := r.Figures(ctx, models.FiguresFilter{Depots: []models.DepotID{d.ID}, From: day, To: day})
		if err != nil || len(before) > 0 {
			return nil, err
		}
	}

	f, err := figuresOf(ctx, r, d, now)
	return &f, err
}

// KeepPastFigures keeps the figures that each depot would have had at earlier times,
// rebuilt from the record: what was recorded up to a time, judged by the rules of today,
// with nothing acknowledged or booked in. It replays every event of the fleet, so it is
// for a record that is new to this program.
func (s *Service) KeepPastFigures(ctx context.Context, times []time.Time) error {
	times = slices.SortedFunc(slices.Values(times), time.Time.Compare)
	depots, err := read(ctx, s, func(r models.Reader) ([]models.Depot, error) { return r.Depots(ctx) })
	if err != nil {
		return err
	}

	for _, d := range depots {
		all, err := read(ctx, s, func(r models.Reader) ([]models.Figures, error) {
			return pastFigures(ctx, r, d, times)
		})
		if err != nil {
			return err
		}
		err = s.write(ctx, func(tx models.Tx, _ time.Time) error { return tx.PutFigures(ctx, all...) })
		if err != nil {
			return err
		}
	}

	return nil
}

// figuresOf counts how a depot stands now, from its open findings. It reads assessBatch
// vehicles at a time.
func figuresOf(ctx context.Context, r models.Reader, d models.Depot, now time.Time) (models.Figures, error) {
	c, err := newFigureCount(d, now)
	if err != nil {
		return models.Figures{}, err
	}

	err = c.countOpen(ctx, r, d.ID, func(models.VehicleRow, []models.Finding) {})
	return c.done(), err
}

// countOpen counts the vehicles of a depot by their open findings, and calls also with
// each of them.
func (c *figureCount) countOpen(
	ctx context.Context, r models.Reader, d models.DepotID, also func(models.VehicleRow, []models.Finding)) error {
	return eachVehicle(ctx, r, d, func(rows []models.VehicleRow) error {
		ids := make([]models.VehicleID, len(rows))
		for i, row := range rows {
			ids[i] = row.Vehicle.ID
		}

		open, err := r.OpenFindings(ctx, ids...)
		if err != nil {
			return err
		}
		tires, err := r.TiresOn(ctx, ids...)
		if err != nil {
			return err
		}

		of := byVehicle(open)
		for _, row := range rows {
			c.addVehicle(row.Vehicle.ID, of[row.Vehicle.ID])
			also(row, of[row.Vehicle.ID])
		}
		for _, t := range tires {
			c.addTire(t)
		}
		return nil
	})
}

// pastFigures rebuilds how a depot stood at times, which rise.
func pastFigures(
	ctx context.Context, r models.Reader, d models.Depot, times []time.Time) ([]models.Figures, error) {
	counts := make([]*figureCount, len(times))
	for i, at := range times {
		var err error
		if counts[i], err = newFigureCount(d, at); err != nil {
			return nil, err
		}
	}

	err := eachVehicle(ctx, r, d.ID, func(rows []models.VehicleRow) error {
		scenes, err := loadScenes(ctx, r, rows)
		if err != nil {
			return err
		}
		for _, sc := range scenes {
			if err := sc.countPast(ctx, r, counts); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}

	out := make([]models.Figures, len(counts))
	for i, c := range counts {
		out[i] = c.done()
	}
	return out, nil
}

// countPast adds to each count how the vehicle and the tires that were on it stood at
// its time. A vehicle counts from its first event.
func (sc *scene) countPast(ctx context.Context, r models.Reader, counts []*figureCount) error {
	events, _, err := r.Events(ctx, models.EventFilter{VehicleID: sc.vehicle.ID, Ascending: true}, models.Page{})
	if err != nil {
		return err
	}
	fitments, err := r.Fitments(ctx, models.FitmentFilter{VehicleID: sc.vehicle.ID})
	if err != nil {
		return err
	}

	var lives []tireRecord
	known := map[models.TireID]bool{}
	for _, f := range fitments {
		if known[f.TireID] {
			continue
		}
		known[f.TireID] = true
		life, err := loadLife(ctx, r, f.TireID)
		if err != nil {
			return err
		}
		lives = append(lives, life)
	}

	for _, c := range counts {
		if len(events) == 0 || events[0].Header().At.After(c.now) {
			continue
		}

		then := *sc
		then.state = history.ReplayVehicle(sc.vehicle, upTo(events, c.now))
		then.tires = map[models.TireID]*models.TireWithState{}
		for _, life := range lives {
			state, _ := history.ReplayTire(life.tire, life.vehicles, upTo(life.events, c.now))
			if state.VehicleID == sc.vehicle.ID {
				then.tires[life.tire.ID] = &models.TireWithState{Tire: life.tire, State: state}
			}
		}

		c.addVehicle(sc.vehicle.ID, then.assess(c.now).Findings)
		for _, t := range then.tires {
			c.addTire(*t)
		}
	}

	return nil
}

// upTo returns the events, in order of time, that happened up to a moment.
func upTo(events []models.Event, at time.Time) []models.Event {
	n := slices.IndexFunc(events, func(e models.Event) bool { return e.Header().At.After(at) })
	if n < 0 {
		return events
	}
	return events[:n]
}

// eachVehicle calls yield with the vehicles of a depot, assessBatch at a time.
func eachVehicle(
	ctx context.Context, r models.Reader, d models.DepotID, yield func([]models.VehicleRow) error) error {
	page := models.Page{Limit: assessBatch}
	for {
		rows, next, err := r.Vehicles(ctx, models.VehicleFilter{Depots: []models.DepotID{d}}, page)
		if err != nil {
			return err
		}
		if err := yield(rows); err != nil {
			return err
		}
		if next == "" {
			return nil
		}
		page.After = next
	}
}

// placeOf is a position of a vehicle.
type placeOf struct {
	vehicle  models.VehicleID
	position models.Position
}

// figureCount counts the figures of a depot, a vehicle and a tire at a time.
type figureCount struct {
	models.Figures
	now, today, weekEnd time.Time // the day of now begins at today, the week ends before weekEnd
	last                string    // last day of the week, a civil date
	depths              []units.Length
	pull                map[placeOf]bool // places of AtPull whose tire has not been seen by addTire
	pullSizes           map[string]int   // tires of AtPull by size; empty size: not known
}

func newFigureCount(d models.Depot, now time.Time) (*figureCount, error) {
	zone, err := d.Zone()
	if err != nil {
		return nil, err
	}

	here := now.In(zone)
	today := time.Date(here.Year(), here.Month(), here.Day(), 0, 0, 0, 0, zone)
	return &figureCount{
		Figures:   models.Figures{DepotID: d.ID, Day: here.Format(time.DateOnly)},
		now:       now,
		today:     today,
		weekEnd:   today.AddDate(0, 0, 7),
		last:      today.AddDate(0, 0, 6).Format(time.DateOnly),
		pull:      map[placeOf]bool{},
		pullSizes: map[string]int{},
	}, nil
}

// addVehicle counts a vehicle by its open findings.
func (c *figureCount) addVehicle(id models.VehicleID, open []models.Finding) {
	c.Vehicles++
	inTime := true
	var overdue, due bool
	pull := map[models.Position]bool{}
	for _, f := range open {
		switch f.Code {
		case models.NeverInspected, models.InspectionOverdue:
			inTime = false
		case models.BelowLegal, models.NearLegal, models.BelowPull:
			pull[f.Position] = true
		case models.PullForecast:
			if f.DueAt != nil && f.DueAt.Before(c.now.AddDate(0, 0, models.PullAheadDays)) {
				pull[f.Position] = true
			}
		}

		overdue = overdue || f.DueAt != nil && f.DueAt.Before(c.today) && !f.Quiet(c.now)
		due = due || c.dueThisWeek(f)
	}

	switch worst, _ := models.WorstOf(open, c.now); worst {
	case models.OffTheRoad:
		c.OffRoad++
	case models.DoNow:
		c.DoNow++
	}

	for position := range pull {
		c.AtPull++
		c.pull[placeOf{id, position}] = true
	}
	c.Overdue += count(overdue)
	c.DueThisWeek += count(due)
	c.InTime += count(inTime)
	c.InShop += count(c.booked(models.StandingBooking(open, c.now)))
}

// dueThisWeek reports whether the work of f is due on the day or the six days after it.
func (c *figureCount) dueThisWeek(f models.Finding) bool {
	return f.DueAt != nil && !f.Quiet(c.now) && !f.DueAt.Before(c.today) && f.DueAt.Before(c.weekEnd)
}

// booked reports whether a booking is for the day or the six days after it.
func (c *figureCount) booked(b *models.Ack) bool {
	return b != nil && c.Day <= b.Booked && b.Booked <= c.last
}

// count is 1 for what is so.
func count(is bool) int {
	if is {
		return 1
	}
	return 0
}

// addTire counts a tire that is on a vehicle: by its newest depth, and by its size where
// it is to be pulled. The vehicle has been counted before.
func (c *figureCount) addTire(t models.TireWithState) {
	if at := (placeOf{t.State.VehicleID, t.State.Position}); c.pull[at] {
		c.pullSizes[t.Tire.Size]++
		delete(c.pull, at)
	}

	m := t.State.LastRead()
	if m == nil || t.State.Position.IsSpare() {
		return
	}
	if d, read := m.Reading.Min(); read {
		c.depths = append(c.depths, d.Value)
	}
}

// done returns the figures with the median of the depths.
func (c *figureCount) done() models.Figures {
	c.Tires = len(c.depths)
	if c.Tires > 0 {
		slices.Sort(c.depths)
		c.MedianDepth = (c.depths[(c.Tires-1)/2] + c.depths[c.Tires/2]) / 2
	}
	return c.Figures
}
