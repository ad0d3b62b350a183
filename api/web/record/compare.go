package record

import (
	"net/http"
	"slices"

	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/units"
)

// comparePage sets two inspections of a vehicle side by side.
type comparePage struct {
	Vehicle  models.Vehicle
	Depot    models.Depot
	Zone     say.Clock
	Units    units.Style
	All      []*models.Inspection // to choose from, newest first
	Old, New *models.Inspection   // nil: there are no two to compare
	Days     int
	Travel   string // distance between the two; empty if it is not known
	Per      string // 1,000 km or 1,000 mi
	Lines    []compareLine
}

// compareLine is one place in both inspections.
type compareLine struct {
	Position models.Position
	Other    bool // another tire was there
	Grooves  []compareGroove
	Missing  string // why there is nothing to compare
	Pressure [2]string
}

// compareGroove is the shallowest place of one groove in both inspections.
type compareGroove struct {
	Name     string
	Old, New string
	Change   string // with its sign; a minus is wear
	Deeper   bool   // more rubber than before cannot be
	Wear     string // for each Per of distance; empty if it is not known
}

// maxCompared is how many inspections there are to choose from.
const maxCompared = 100

func (s *room) compare(r *site.Request) error {
	view, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, models.VehicleID(r.Param("id")))
	if err != nil {
		return err
	}

	p := comparePage{Vehicle: view.Vehicle, Depot: view.Depot, Zone: r.Clock(view.Depot), Units: r.Units(view.Depot)}
	p.Per = p.Units.WriteCount(1000) + " " + string(p.Units.Distance)
	if p.All, err = s.measured(r, view.Vehicle.ID); err != nil {
		return err
	}

	p.Old, p.New = p.inspection(r.QueryParam("old")), p.inspection(r.QueryParam("new"))
	p.choose()
	if p.Old != nil {
		p.compare()
	}

	return r.ShowStatus(http.StatusOK, "compare", "vehicles", "Compare inspections · "+view.Vehicle.Number, p)
}

// choose takes the last two inspections where none are named, and puts the two
// into the order of time.
func (p *comparePage) choose() {
	switch {
	case len(p.All) < 2:
		p.Old, p.New = nil, nil
		return
	case p.New == nil:
		p.New = p.All[0]
	}

	if p.Old == nil || p.Old.ID == p.New.ID {
		p.Old = nil
		for _, in := range p.All {
			if in.At.Before(p.New.At) && p.Old == nil {
				p.Old = in
			}
		}
	}

	if p.Old == nil {
		p.Old, p.New = p.New, p.All[0]
	}
	if p.New.At.Before(p.Old.At) {
		p.Old, p.New = p.New, p.Old
	}
}

// measured returns the newest inspections of a vehicle in which a depth was read.
func (s *room) measured(r *site.Request, id models.VehicleID) ([]*models.Inspection, error) {
	ofVehicle := models.EventFilter{VehicleID: id, Kinds: []models.EventKind{models.KindInspection}}
	events, _, err := s.Fleet.Events(r.Ctx(), r.Actor, ofVehicle, models.Page{Limit: maxCompared})
	if err != nil {
		return nil, err
	}

	var out []*models.Inspection
	for _, e := range events {
		if in, ok := e.(*models.Inspection); ok && measuresDepth(in) {
			out = append(out, in)
		}
	}
	return out, nil
}

// inspection returns the inspection with an id, nil if there is none to compare.
func (p *comparePage) inspection(id string) *models.Inspection {
	i := slices.IndexFunc(p.All, func(in *models.Inspection) bool { return string(in.ID) == id })
	if i < 0 {
		return nil
	}
	return p.All[i]
}

func measuresDepth(in *models.Inspection) bool {
	for _, r := range in.Readings {
		if len(r.Depths) > 0 {
			return true
		}
	}
	return false
}

func (p *comparePage) compare() {
	p.Days = int(p.New.At.Sub(p.Old.At).Hours()/24 + 0.5)
	var km float64
	if p.Old.Odometer.Known && p.New.Odometer.Known && p.New.Odometer.Value > p.Old.Odometer.Value {
		travel := p.New.Odometer.Value - p.Old.Odometer.Value
		km, p.Travel = travel.Kilometres(), p.Units.WriteDistance(travel)
	}

	then, now := byPosition(p.Old), byPosition(p.New)
	for _, at := range p.Vehicle.Positions() {
		a, wasRead := then[at]
		b, isRead := now[at]
		if !wasRead && !isRead {
			continue
		}

		other := a.TireID != b.TireID && wasRead && isRead
		line := newCompareLine(a, b, other, km, p.Units)
		line.Position = at
		p.Lines = append(p.Lines, line)
	}
}

// byPosition returns the readings of an inspection by their place.
func byPosition(in *models.Inspection) map[models.Position]models.Reading {
	out := map[models.Position]models.Reading{}
	for _, r := range in.Readings {
		out[r.Position] = r
	}
	return out
}

// newCompareLine compares two readings of a place; one that was not taken has no
// depths. other means that they are of two tires; km is the distance between.
func newCompareLine(a, b models.Reading, other bool, km float64, u units.Style) compareLine {
	line := compareLine{
		Other:    other,
		Pressure: [2]string{say.PressureText(a, u), say.PressureText(b, u)},
	}

	switch {
	case len(a.Depths) == 0:
		line.Missing = "not measured the first time"
	case len(b.Depths) == 0:
		line.Missing = "not measured the second time"
	case other:
		line.Missing = "another tire was here: nothing to compare"
	default:
		line.Grooves = compareGrooves(a, b, km, u)
	}

	return line
}

// compareGrooves compares groove by groove; km is the distance between, 0 if
// it is not known.
func compareGrooves(a, b models.Reading, km float64, u units.Style) []compareGroove {
	per := km / 1000
	if u.Distance == units.Mi {
		per = km / units.Mile.Kilometres() / 1000
	}

	var out []compareGroove
	for i, name := range say.GrooveNames(max(len(a.Depths), len(b.Depths))) {
		old, wasRead := shallowest(a.Depths, i)
		now, isRead := shallowest(b.Depths, i)
		g := compareGroove{Name: name, Old: "–", New: "–"}
		if wasRead {
			g.Old = u.WriteDepth(old)
		}
		if isRead {
			g.New = u.WriteDepth(now)
		}

		if wasRead && isRead {
			g.Change, g.Deeper = signed(now-old, u), now > old
			if per > 0 && now <= old {
				g.Wear = u.WriteDepth(units.Length(float64(old-now)/per + 0.5))
			}
		}

		out = append(out, g)
	}

	return out
}

// shallowest returns the least depth of one groove.
func shallowest(grid [][]*models.Depth, groove int) (least units.Length, found bool) {
	if groove >= len(grid) {
		return 0, false
	}
	for _, d := range grid[groove] {
		if d != nil && (!found || d.Value < least) {
			least, found = d.Value, true
		}
	}
	return least, found
}

// signed writes a difference with its sign.
func signed(l units.Length, u units.Style) string {
	switch {
	case l < 0:
		return "−" + u.WriteDepth(-l)
	case l > 0:
		return "+" + u.WriteDepth(l)
	}
	return "0"
}
