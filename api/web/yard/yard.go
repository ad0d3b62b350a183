package yard

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"rimledger/api/problem"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// yardPart is how many vehicles of a depot go in one part of a yard sheet.
const yardPart = 100

// yard is the page of which a phone keeps a copy: it is filled in by the phone,
// from what it keeps of the vehicles.
func (s *room) yard(r *site.Request) error {
	return r.Show("yard", "yard", "Yard", nil)
}

// yardData answers a script: with data, or with the reason in words.
func (s *room) yardData(h site.Handler) echo.HandlerFunc {
	return func(c echo.Context) error {
		actor, err := s.Who(c)
		var r *site.Request
		if err == nil {
			r, err = s.RequestOf(c, actor)
		}
		if err == nil {
			err = h(r)
		}

		if err != nil {
			problem.Write(c.Response(), c.Request(), s.Log, err)
		}
		return nil
	}
}

// yardPerson is who is signed in, and the depots that they see.
type yardPerson struct {
	ID      models.UserID `json:"id"`
	Name    string        `json:"name"`
	Records bool          `json:"records"`
	Reads   string        `json:"reads"` // see Request.Reads
	Depots  []yardDepot   `json:"depots"`
	Feel    []yardLook    `json:"feel"` // what can be felt and seen, in the order of the page
	Look    []yardLook    `json:"look"`
	Rest    []yardLook    `json:"rest"`
	Vehicle []yardLook    `json:"vehicle"`
	Hold    yardHold      `json:"hold"`
}

type yardLook struct {
	Code models.ObservationCode `json:"code"`
	Name string                 `json:"name"`
	Off  bool                   `json:"off,omitempty"` // takes the vehicle off the road
}

func yardLooks(codes []models.ObservationCode) []yardLook {
	var out []yardLook
	for _, c := range codes {
		out = append(out, yardLook{c, say.ObservationName(c), c.TakesOffRoad()})
	}
	return out
}

type yardDepot struct {
	ID    models.DepotID `json:"id"`
	Name  string         `json:"name"`
	Units yardUnits      `json:"units"`
}

type yardUnits struct {
	Depth    units.Unit `json:"depth"`
	Pressure units.Unit `json:"pressure"`
	Distance units.Unit `json:"distance"`
}

func (s *room) yardWho(r *site.Request) error {
	p := yardPerson{
		ID:      r.Actor.User.ID,
		Name:    r.Actor.User.Name,
		Records: r.Records(),
		Reads:   r.Reads(),
		Depots:  []yardDepot{},
		Feel:    yardLooks(feels),
		Look:    yardLooks(looks),
		Rest:    yardLooks(rests),
		Vehicle: yardLooks(models.VehicleCodes),
		Hold:    holdTable(),
	}

	for _, d := range r.Depots {
		u := r.Units(d)
		p.Depots = append(p.Depots, yardDepot{d.ID, d.Name, yardUnits{u.Depth, u.Pressure, u.Distance}})
	}

	return r.JSON(http.StatusOK, p)
}

// yardSheet is one part of what the phone keeps.
type yardSheet struct {
	Vehicles []yardVehicle `json:"vehicles"`
	Next     string        `json:"next,omitempty"` // where the next part begins
}

// yardVehicle is a vehicle as the phone keeps it. Lengths are whole
// nanometres, pressures kPa, so that the phone compares as the server does.
type yardVehicle struct {
	ID       models.VehicleID `json:"id"`
	Depot    models.DepotID   `json:"depot"`
	Number   string           `json:"number"`
	Row      string           `json:"row,omitempty"`
	What     string           `json:"what"`
	Urgency  string           `json:"urgency,omitempty"`
	Odometer string           `json:"odometer,omitempty"` // last known, in the person's unit
	NoMeter  bool             `json:"no_odometer,omitempty"`
	Use      yardUse          `json:"use"`
	Places   []yardPlace      `json:"places"` // in walking order
}

type yardPlace struct {
	At      models.Position  `json:"at"`
	Role    string           `json:"role"`
	Tire    string           `json:"tire,omitempty"` // its number; empty: no tire is recorded there
	Grooves []string         `json:"grooves,omitempty"`
	New     []units.Length   `json:"new,omitempty"`
	Ask     string           `json:"ask,omitempty"` // what to measure or count by hand first
	LastOn  string           `json:"last_on,omitempty"`
	Last    []string         `json:"last,omitempty"` // as typed, a groove each
	Psi     string           `json:"last_pressure,omitempty"`
	Depths  [][]units.Length `json:"depths,omitempty"` // -1: not read
	Legal   units.Length     `json:"legal,omitempty"`
	Target  units.Pressure   `json:"target,omitempty"`
	Expect  *yardExpect      `json:"expect,omitempty"`
}

func (s *room) yardSheet(r *site.Request) error {
	sheet := yardSheet{Vehicles: []yardVehicle{}}
	if id := r.QueryParam("vehicle"); id != "" {
		v, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, models.VehicleID(id))
		if err != nil {
			return err
		}
		sheet.Vehicles = append(sheet.Vehicles, phoneVehicle(r, v))
		return r.JSON(http.StatusOK, sheet)
	}

	list, next, err := s.Fleet.Yard(
		r.Ctx(),
		r.Actor,
		models.DepotID(r.QueryParam("depot")),
		models.Page{After: r.QueryParam("after"), Limit: yardPart},
	)
	if err != nil {
		return err
	}

	sheet.Next = next
	for _, v := range list {
		sheet.Vehicles = append(sheet.Vehicles, phoneVehicle(r, v))
	}

	return r.JSON(http.StatusOK, sheet)
}

func phoneVehicle(r *site.Request, v fleet.VehicleView) yardVehicle {
	u, z := r.Units(v.Depot), r.Clock(v.Depot)
	out := yardVehicle{ID: v.Vehicle.ID, Depot: v.Depot.ID, Number: v.Vehicle.Number, Row: v.Vehicle.ParkingRow,
		What: say.ClassName(v.Vehicle.Class), NoMeter: v.Vehicle.NoOdometer, Use: useOf(v)}
	if v.Standing.Worst != models.None {
		out.Urgency = v.Standing.Worst.String()
	}
	if o := v.State.Odometer; o.Known {
		out.Odometer = u.WriteDistance(o.Value) + " on " + z.Date(v.State.OdometerAt)
	}

	mounted := mountedOn(v)
	for _, at := range v.Vehicle.WalkingOrder() {
		p := placeOf(v, at, mounted)
		if t, ok := mounted[at]; ok {
			p.last(t.State, u, z)
		}
		out.Places = append(out.Places, p)
	}

	return out
}

// mountedOn returns the tires of a vehicle by their places.
func mountedOn(v fleet.VehicleView) map[models.Position]models.TireWithState {
	out := map[models.Position]models.TireWithState{}
	for _, t := range v.Tires {
		out[t.State.Position] = t
	}
	return out
}

// placeOf describes a place as a script judges what is read there.
func placeOf(v fleet.VehicleView, at models.Position, mounted map[models.Position]models.TireWithState) yardPlace {
	p := yardPlace{
		At:     at,
		Role:   placeRole(v.Vehicle, at),
		Legal:  v.LegalMinimum[at],
		Target: v.Vehicle.AxleAt(at).Pressure.Value,
	}

	if t, ok := mounted[at]; ok {
		p.Tire, p.New = t.Tire.Number, t.Tire.NewDepths
		p.Grooves = say.GrooveNames(groovesOf(t.Tire))
		p.Expect = expectOf(v, at)
		for _, ask := range v.Ask[at] {
			p.Ask = strings.TrimSpace(p.Ask + " " + models.Sentence(ask))
		}
	}
	return p
}

// placeRole says in words where a place is.
func placeRole(v models.Vehicle, at models.Position) string {
	if at.IsSpare() {
		return "spare"
	}
	a := v.AxleAt(at)
	switch {
	case a.Steered:
		return "steer axle"
	case a.Driven:
		return "drive axle"
	default:
		return "free-rolling axle"
	}
}

// last fills in the newest reading with depths, by which the server judges too.
func (p *yardPlace) last(st models.TireState, u units.Style, z say.Clock) {
	if st.Last != nil {
		p.Psi = say.PressureText(st.Last.Reading, u)
	}

	m := st.LastRead()
	if m == nil {
		return
	}
	p.LastOn, p.Last = z.Date(m.At), say.TypedDepths(m.Reading, u)
	for _, stations := range m.Reading.Depths {
		var row []units.Length
		for _, d := range stations {
			if d == nil {
				row = append(row, -1)
			} else {
				row = append(row, d.Value)
			}
		}

		p.Depths = append(p.Depths, row)
	}
}
