package fleet

import (
	"context"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/assess"
	"rimledger/models/history"
	"rimledger/models/pattern"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// Outlook is how a tire wears: what was read, what is estimated, what lies ahead
// and what the wear points to.
type Outlook struct {
	Tire     models.Tire
	State    models.TireState
	Track    []Tracked        // readings with a depth of this tread life, oldest first
	Turns    []Turn           // changes of place since the first of them, oldest first
	Stays    []Stay           // every place it has been at, oldest first
	NowKM    float64          // what the tire has run by now since the first reading, as judged, km
	NowKnown bool             // whether that is known
	Pull     *Ahead           // to the pull point; nil where there is none or no prediction is possible
	Legal    *Ahead           // to the strictest legal minimum in force there
	Account  *pattern.Account // nil where nothing was read or the tire is not on a place that rolls
}

// Tracked is a reading with the wear estimate after it.
type Tracked struct {
	models.Measured
	Doubts     []string // what did not fit: the reading is kept and counts for less; see models.TireState
	Known      bool     // whether there was an estimate
	DepthMM    float64  // estimate of the thinnest groove
	SDMM       float64
	AlongKM    float64 // where the vehicle was, on its odometer
	AlongKnown bool    // whether that is known
	RanKM      float64 // what the tire has run since the first reading, on whatever vehicle, km
	RanKnown   bool    // whether that is known
}

// Turn is a change of a tire's place.
type Turn struct {
	At       time.Time
	Position models.Position // where it went; empty: off the vehicle
	Other    bool            // onto another vehicle than it was on last
	RanKM    float64         // as in Tracked
	RanKnown bool
}

// Ahead is the way to a limit.
type Ahead struct {
	Limit units.Length
	wear.Forecast
	Way []Step // depths on the way there, shallower and shallower, the limit last
}

// Step says when a depth is reached.
type Step struct {
	DepthMM  float64
	Days     wear.Span // from now
	Distance wear.Span // km from now
}

// waySteps is how many depths a way is drawn through.
const waySteps = 8

// TireOutlook returns the outlook of a tire.
func (s *Service) TireOutlook(ctx context.Context, a Actor, id models.TireID) (Outlook, error) {
	now := s.now()
	return readAs(ctx, s, a, access.View, references(id), func(r models.Reader) (Outlook, error) {
		t, st, err := r.Tire(ctx, id)
		if err != nil {
			return Outlook{}, err
		}
		return outlook(ctx, r, a, t, st, now)
	})
}

// PlaceOutlook returns the outlook of the tire at a place of a vehicle, NotFound
// if there is none.
func (s *Service) PlaceOutlook(ctx context.Context, a Actor, id models.VehicleID, at models.Position) (Outlook, error) {
	now := s.now()
	return readAs(ctx, s, a, access.View, references(id), func(r models.Reader) (Outlook, error) {
		sc, err := loadScene(ctx, r, id)
		if err != nil {
			return Outlook{}, err
		}
		t := sc.at(at)
		if t == nil {
			return Outlook{}, models.Errorf(models.NotFound, "no tire at %q of vehicle %s", at, sc.vehicle.Number)
		}
		return outlook(ctx, r, a, t.Tire, t.State, now)
	})
}

func outlook(
	ctx context.Context,
	r models.Reader,
	a Actor,
	t models.Tire,
	st models.TireState,
	now time.Time,
) (Outlook, error) {
	o := Outlook{Tire: t, State: st}
	record, err := loadLife(ctx, r, t.ID)
	if err != nil {
		return o, err
	}
	life := track(t, record.vehicles, record.events)

	o.Track, o.Turns = life.readings, life.turns
	o.Stays = stays(t, record.vehicles, record.events)
	if st.VehicleID == "" {
		return o, nil
	}
	sc, err := loadScene(ctx, r, st.VehicleID)
	if err != nil {
		return o, err
	}

	// The last stay runs on, up to the odometer as estimated for today.
	x, _, known := sc.state.Use.At(history.Day(now))
	if last := len(o.Stays) - 1; known && last >= 0 {
		o.Stays[last].until(x)
	}

	if st.Position.IsSpare() {
		return o, nil
	}
	if known && len(o.Track) > 0 && o.Track[0].RanKnown && !life.lost {
		o.NowKM, o.NowKnown = life.km+max(x-life.alongKM, 0)-life.firstKM, true
	}

	// Causes and limits come from the same snapshot as the findings.
	snap := sc.snapshot(now)
	if account, ok := assess.Account(snap, st.Position); ok {
		rendered := account.Rendered(a.Style(sc.depot).Render)
		o.Account = &rendered
	}
	o.Pull = ahead(st, sc.state, sc.policy.Pull(sc.vehicle.AxleAt(st.Position).Role()), now)
	o.Legal = ahead(st, sc.state, assess.Assess(snap).LegalMinimum[st.Position], now)

	return o, nil
}

// ahead returns the way of a tire to a limit; nil where too little is known.
func ahead(t models.TireState, v models.VehicleState, limit units.Length, now time.Time) *Ahead {
	if t.MinWear == nil || limit <= 0 {
		return nil
	}

	x, sd, known := v.Use.At(history.Day(now))
	if !known {
		return nil
	}
	ask := wear.Ahead{LimitMM: limit.Millimetres(), NowKM: max(x, t.MinWear.XKM), NowSDKM: sd, Use: v.Use}

	f, err := t.MinWear.Forecast(ask)
	if err != nil {
		return nil
	}

	a := &Ahead{Limit: limit, Forecast: f}
	for i := range waySteps {
		ask.LimitMM = f.DepthMM + (limit.Millimetres()-f.DepthMM)*float64(i+1)/waySteps
		if step, err := t.MinWear.Forecast(ask); err == nil && !f.Reached {
			a.Way = append(a.Way, Step{ask.LimitMM, step.Days, step.Distance})
		}
	}

	return a
}

// track folds the tire's life and notes what each reading made of the estimate.
func track(t models.Tire, vehicles map[models.VehicleID]models.Vehicle, events []models.Event) life {
	st := models.TireState{Status: models.InStock}

	var l life
	for _, e := range events {
		h := e.Header()
		l.drive(h)
		history.Tire(&st, t, vehicles[h.VehicleID], e)
		l.place(st, h)

		switch e := e.(type) {
		case *models.TireMove:
			if len(e.NewDepths) > 0 {
				l = life{} // a new tread
			}
		case *models.Inspection:
			if st.Last == nil || st.Last.EventID != h.ID {
				continue
			}
			if _, ok := st.Last.Reading.Min(); !ok {
				continue
			}
			l.read(st, h)
		}
	}

	return l
}

// VehicleDue lists what comes due on a vehicle, earliest first, in words with the
// person's units: see assess.Schedule.
func (s *Service) VehicleDue(ctx context.Context, a Actor, id models.VehicleID) ([]assess.Due, error) {
	now := s.now()
	return readAs(ctx, s, a, access.View, references(id), func(r models.Reader) ([]assess.Due, error) {
		sc, err := loadScene(ctx, r, id)
		if err != nil {
			return nil, err
		}
		list, style := assess.Schedule(sc.snapshot(now)), a.Style(sc.depot)
		for i := range list {
			list[i].Why = style.Render(list[i].Why)
		}
		return list, nil
	})
}
