package fleet

import (
	"math"

	"rimledger/models"
	"rimledger/models/history"
	"rimledger/models/units"
	"rimledger/models/wear"
)

// Stay is one fitment of a tire with what was read of its wear there. Wear is
// also set while the fitment lasts.
type Stay struct {
	models.Fitment
	Former     bool       // on a tread that has been replaced since
	KM         float64    // what the vehicle covered meanwhile, up to now if it lasts; a spare does not roll
	KMKnown    bool       // whether that is known
	Judged     bool       // KM rests on use per day at one end
	Start, End *StayDepth // thinnest groove when it came, and when it left or was last read; nil: not known
	Late       bool       // Start was read after it came
	LateKM     float64    // so far after it came; 0: not known
	Readings   int        // that the estimate took in
	OnePlace   bool       // all of them at one place of the odometer: they say no rate
	TooEarly   bool       // too little wear seen there for this gauge

	fromKM    float64 // of the vehicle, when it came
	fromKnown bool
	fromSDKM  float64
}

// StayDepth is a depth of the thinnest groove.
type StayDepth struct {
	MM, SDMM float64 // SDMM: standard deviation
}

// stays folds a tire's life into the places at which it was, oldest first. The
// record does not keep the depths of a former tread when it was new, so they count
// as not known.
func stays(t models.Tire, vehicles map[models.VehicleID]models.Vehicle, events []models.Event) []Stay {
	// A new tread has other depths; those of the present one are the tire's.
	newest, treads := t.NewDepths, countTreads(events)
	if treads > 0 {
		t.NewDepths = []units.Length{0}
	}

	st := models.TireState{Status: models.InStock}
	var out []Stay

	for _, e := range events {
		v := vehicles[e.Header().VehicleID]
		for _, f := range history.Fitments(t, v, st, e) {
			if f.To == nil {
				out = append(out, newStay(f, e.Header()))
			} else {
				out[len(out)-1].end(f, e.Header(), st)
			}
		}

		history.Tire(&st, t, v, e)

		// What was before the new tread belongs to a former one.
		if !isNewTread(e) {
			continue
		}

		for i := range out {
			out[i].Former = true
		}
		t.NewDepths = e.(*models.TireMove).NewDepths
		if treads--; treads == 0 {
			t.NewDepths = newest // the tire itself may have been corrected since the tread was put on
		}
	}

	// The last stay still lasts: its readings are in the state, not in a removal.
	if n := len(out); n > 0 && out[n-1].To == nil {
		last := &out[n-1]
		last.read(st)
		last.Wear, last.Judged = history.Wear(t, vehicles[last.VehicleID], st), true
	}

	return out
}

// isNewTread reports whether e gives the tire a new tread.
func isNewTread(e models.Event) bool {
	m, ok := e.(*models.TireMove)
	return ok && len(m.NewDepths) > 0
}

// countTreads counts the new treads that a tire was given.
func countTreads(events []models.Event) int {
	n := 0
	for _, e := range events {
		if isNewTread(e) {
			n++
		}
	}
	return n
}

// newStay returns the stay that begins with fitment f at event h.
func newStay(f models.Fitment, h *models.Meta) Stay {
	return Stay{Fitment: f, fromKM: h.AlongKM, fromKnown: h.AlongKnown, fromSDKM: h.AlongSDKM}
}

// end closes s, whose fitment is f now, at event h. st is the tire's state before it.
func (s *Stay) end(f models.Fitment, h *models.Meta, st models.TireState) {
	s.Fitment = f
	s.read(st)
	if !h.AlongKnown {
		return
	}

	s.until(h.AlongKM)
	s.Judged = s.fromSDKM > 0 || h.AlongSDKM > 0
	s.depthAtEnd(st, h.AlongKM)
}

// until sets the distance there when the vehicle is at km on its odometer.
func (s *Stay) until(km float64) {
	s.KM, s.KMKnown = max(km-s.fromKM, 0), s.fromKnown
	if s.Position.IsSpare() {
		s.KM, s.KMKnown = 0, true
	}
}

// read copies what the estimate of a running fitment is based on.
func (s *Stay) read(st models.TireState) {
	w := st.MinWear
	if w == nil {
		return
	}

	s.Readings, s.OnePlace, s.TooEarly = w.Count, w.Count > 0 && w.Places == 0, w.TooEarly()
	if w.FirstVar > 0 {
		s.Start = &StayDepth{w.FirstMM, math.Sqrt(w.FirstVar)}
		s.Late = !s.fromKnown || w.FirstKM > s.fromKM
		if s.fromKnown {
			s.LateKM = w.FirstKM - s.fromKM
		}
	}

	if w.Count > 0 {
		s.End = stayDepth(*w, w.XKM)
	}
}

// depthAtEnd sets the depth when the tire left at km, if it was read there at all.
func (s *Stay) depthAtEnd(st models.TireState, km float64) {
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
