package fleet

import (
	"math"

	"rimledger/models"
	"rimledger/models/history"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// Stay is one fitment of a tire with what was seen of its wear there. Wear is
// set while it lasts, too.
type Stay struct {
	models.Fitment
	Former     bool       // on a tread that has been replaced since
	KM         float64    // what the vehicle covered meanwhile, up to now if it lasts; a spare does not roll
	KMToo      bool       // whether that is known
	Judged     bool       // KM rests on use per day at one end
	Start, End *StayDepth // thinnest groove when it came, and when it left or was last read; nil: not known
	Late       bool       // Start was read after it came
	LateKM     float64    // so far after it came; 0: not known
	Readings   int        // that the estimate took in
	OnePlace   bool       // all of them at one place of the odometer: they say no rate
	TooEarly   bool       // too little wear seen there for this gauge

	fromKM   float64 // of the vehicle, when it came
	fromToo  bool
	fromSDKM float64
}

// StayDepth is a depth of the thinnest groove.
type StayDepth struct {
	MM, SDMM float64 // SDMM: standard deviation
}

// stays folds a tire's life into the places where it stood. What a former tread
// measured when it was new is not in the record and counts as not known.
func stays(t models.Tire, vehicles map[models.VehicleID]models.Vehicle, events []models.Event) []Stay {
	newest, treads := t.NewDepths, 0
	for _, e := range events {
		if m, ok := e.(*models.TireMove); ok && len(m.NewDepths) > 0 {
			treads++
		}
	}

	if treads > 0 {
		t.NewDepths = []units.Length{0}
	}

	st := models.TireState{Status: models.InStock}

	var out []Stay
	for _, e := range events {
		h := e.Header()

		v := vehicles[h.VehicleID]
		for _, f := range history.Fitments(t, v, st, e) {
			if f.To == nil {
				out = append(out, Stay{Fitment: f, fromKM: h.AlongKM, fromToo: h.AlongKnown, fromSDKM: h.AlongSDKM})
				continue
			}
			last := &out[len(out)-1]
			last.Fitment = f
			last.saw(st)

			if h.AlongKnown {
				last.until(h.AlongKM)
				last.Judged = last.fromSDKM > 0 || h.AlongSDKM > 0
				last.leaves(st, h.AlongKM)
			}
		}

		history.Tire(&st, t, v, e)

		if m, ok := e.(*models.TireMove); ok && len(m.NewDepths) > 0 {
			t.NewDepths = m.NewDepths
			if treads--; treads == 0 {
				t.NewDepths = newest
			}
			for i := range out {
				out[i].Former = true
			}
		}
	}

	if n := len(out); n > 0 && out[n-1].To == nil {
		last := &out[n-1]
		last.saw(st)
		last.Wear, last.Judged = history.Wear(t, vehicles[last.VehicleID], st), true
	}

	return out
}

// until sets the distance there when the vehicle is at km on its odometer.
func (s *Stay) until(km float64) {
	s.KM, s.KMToo = max(km-s.fromKM, 0), s.fromToo
	if s.Position.IsSpare() {
		s.KM, s.KMToo = 0, true
	}
}

// saw notes what the estimate of a running fitment took in.
func (s *Stay) saw(st models.TireState) {
	w := st.MinWear
	if w == nil {
		return
	}

	s.Readings, s.OnePlace, s.TooEarly = w.Count, w.Count > 0 && w.Places == 0, w.TooEarly()
	if w.FirstVar > 0 {
		s.Start = &StayDepth{w.FirstMM, math.Sqrt(w.FirstVar)}
		if s.Late = !s.fromToo || w.FirstKM > s.fromKM; s.fromToo {
			s.LateKM = w.FirstKM - s.fromKM
		}
	}

	if w.Count > 0 {
		s.End = stayDepth(*w, w.XKM)
	}
}

// leaves sets the depth when the tire left, if it was read there at all.
func (s *Stay) leaves(st models.TireState, km float64) {
	if s.Readings == 0 {
		return
	}
	if d := stayDepth(*st.MinWear, max(km, st.MinWear.XKM)); d != nil {
		s.End = d
	}
}

func stayDepth(w wear.State, km float64) *StayDepth {
	mm, sd, ok := w.DepthAt(km)
	if !ok {
		return nil
	}
	return &StayDepth{mm, sd}
}
