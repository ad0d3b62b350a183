package record

import (
	"rimledger/api/web/draw"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// placePage is one position of a vehicle: how its tire wears and why.
type placePage struct {
	Vehicle  models.Vehicle
	Position models.Position
	Tire     models.Tire
	Bar      draw.TreadBar
	Strip    *draw.Strip
	draw.OutlookPart
}

func (s *room) place(r *site.Request) error {
	id, at := models.VehicleID(r.Param("id")), models.Position(r.Param("position"))
	v, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, id)
	if err != nil {
		return err
	}
	o, err := s.Fleet.PlaceOutlook(r.Ctx(), r.Actor, id, at)
	if err != nil {
		return err
	}

	u := r.Units(v.Depot)
	p := placePage{
		Vehicle:     v.Vehicle,
		Position:    at,
		Tire:        o.Tire,
		OutlookPart: draw.NewOutlook(o, u, r.Now.In(say.Zone(v.Depot))),
	}

	in := draw.BarInput{Position: at, New: o.Tire.NewDepths, Legal: v.LegalMinimum[at], Pull: pullOf(v, at), Units: u}
	if last := o.State.LastRead(); last != nil {
		in.Depths, in.Stations = last.Reading.Depths, last.Reading.Stations
	}
	p.Bar, p.Strip = draw.NewTreadBar(in), draw.NewStrip(in)
	return r.Show("place", "vehicles", string(at)+" of "+v.Vehicle.Number, p)
}

// pullOf is the pull point of a place; a spare has none.
func pullOf(v fleet.VehicleView, at models.Position) (pull units.Length) {
	if !at.IsSpare() {
		pull = v.Policy.Pull(v.Vehicle.AxleAt(at).Role())
	}
	return pull
}
