package fleet

import (
	"testing"

	"rimledger/models"
)

// A tire read at 1,000 km of one vehicle runs 500 km there, is carried as a spare
// for 300, and is then put on another vehicle with 90,000 km on its odometer, where it
// runs 200: by hand, 500 + 0 + 200 km. Where the second vehicle's distance is not
// known, nothing can be said after that.
func TestLifeAcrossVehicles(t *testing.T) {
	t.Parallel()

	for _, known := range []bool{true, false} {
		var l life
		at := func(v models.VehicleID, km float64, known bool, p models.Position) (*models.Meta, models.TireState) {
			h := &models.Meta{VehicleID: v, AlongKM: km, AlongKnown: known}
			l.drive(h)
			st := models.TireState{Position: p, Last: &models.Measured{}}
			if p != "" {
				st.VehicleID = v
			}
			l.place(st, h)
			return h, st
		}

		read := func(h *models.Meta, st models.TireState) { l.read(st, h) }
		at("a", 800, true, "1L")
		read(at("a", 1000, true, "1L"))
		at("a", 1500, true, "SP1")
		at("a", 1800, true, "")
		at("b", 90_000, known, "2LO")
		read(at("b", 90_200, true, "2LO"))

		last := l.readings[1]
		if last.RanKnown != known || known && last.RanKM != 700 {
			t.Errorf("at the second reading %g km (known: %v), want 700 (%v)", last.RanKM, last.RanKnown, known)
		}

		if n := len(l.turns); n != 3 || l.turns[0].Other || l.turns[1].Position != "" || !l.turns[2].Other ||
			l.turns[0].RanKM != 500 ||
			l.turns[2].RanKnown != known {
			t.Errorf("places changed %+v", l.turns)
		}
	}
}
