package fleet

import "rimledger/models"

// life is what is gathered of one tread on the way through its events: its
// readings, its changes of place, and what it ran on whatever vehicle.
type life struct {
	readings []Tracked
	turns    []Turn

	vehicle  models.VehicleID // where it is; empty: on none
	before   models.VehicleID // the last vehicle that it was on
	position models.Position
	alongKM  float64 // of that vehicle, when it was last known
	km       float64 // run so far on places that roll
	firstKM  float64 // of that, at the first reading
	lost     bool    // the distance at some change of place is not known, so neither is the sum
}

// drive adds what the vehicle covered up to an event; a spare does not roll.
func (l *life) drive(h *models.Meta) {
	if l.vehicle == "" || h.VehicleID != l.vehicle || !h.AlongKnown {
		return
	}
	if !l.position.IsSpare() {
		l.km += max(h.AlongKM-l.alongKM, 0)
	}
	l.alongKM = h.AlongKM
}

// place notes where the tire is after an event.
func (l *life) place(st models.TireState, h *models.Meta) {
	if st.VehicleID == l.vehicle && st.Position == l.position {
		return
	}

	l.lost = l.lost || !h.AlongKnown
	if len(l.readings) > 0 {
		l.turns = append(l.turns, Turn{
			At:       h.At,
			Position: st.Position,
			Other:    st.VehicleID != "" && l.before != "" && st.VehicleID != l.before,
			RanKM:    l.km - l.firstKM,
			RanKnown: !l.lost,
		})
	}

	l.vehicle, l.position, l.alongKM = st.VehicleID, st.Position, h.AlongKM
	if st.VehicleID != "" {
		l.before = st.VehicleID
	}
}

// read notes a reading with the wear estimate after it.
func (l *life) read(st models.TireState, h *models.Meta) {
	if len(l.readings) == 0 {
		l.firstKM = l.km
	}

	p := Tracked{
		Measured:   *st.Last,
		Doubts:     st.Doubts,
		AlongKM:    h.AlongKM,
		AlongKnown: h.AlongKnown,
		RanKM:      l.km - l.firstKM,
		RanKnown:   !l.lost && (h.AlongKnown || l.vehicle == ""),
	}

	if st.MinWear != nil {
		p.DepthMM = st.MinWear.DepthMM
		p.SDMM, p.Known = st.MinWear.DepthSD()
	}
	l.readings = append(l.readings, p)
}
