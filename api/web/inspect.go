package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// inspectPage is the yard's form for one vehicle, in walking order. Field names
// are p.POSITION.WHAT, such as p.2LO.d0.0 for the first groove at the valve.
type inspectPage struct {
	fleet.VehicleView
	Zone     clock
	Units    units.Style
	UnitWord string // unit of depth on every field
	Entry    *entry
	Plain    bool // the form itself; else scripts draw the walk around the vehicle
	Stations int  // places around the tire asked of every position: 1, 3 or 8
	Places   []inspectPlace
	Looks    []look // on the vehicle as a whole
}

// inspectPlace is one position of the form.
type inspectPlace struct {
	Position models.Position
	Name     string // beginning of the names of its fields
	Tire     *models.TireWithState
	Last     *models.Measured
	LastText []string
	LastNM   int64 // shallowest depth last time, nanometres, for the hint beside the field
	LegalNM  int64 // legal minimum, the same; 0 if there is none
	Grooves  []grooveInputs
	More     []string // angles of the further stations, if they are folded away
	MoreOpen bool
	Pressure input
	Target   string
	Reached  bool
	Feel     []look
	Look     []look
	Rest     []look
	RestOpen bool
	Fault    *fault
}

type grooveInputs struct {
	Name   string
	Inline []input
	More   []input
}

type input struct {
	Name, Label, Value string
	Groove             string // of a place around the tire
	Fault              *fault
}

type look struct {
	Name, Label, Value string
	Chosen, OffRoad    bool
}

var (
	feels = []models.ObservationCode{models.ObsSmooth, models.ObsCupping, models.ObsFeathering, models.ObsHeelToe, models.ObsFlatSpot}
	looks = []models.ObservationCode{models.ObsCut, models.ObsBulge, models.ObsExposedCord, models.ObsNail, models.ObsMissingWeight,
		models.ObsLooseNuts, models.ObsCracks, models.ObsValve}
	rests = []models.ObservationCode{models.ObsCutToCord, models.ObsSeparation, models.ObsFlat, models.ObsLeak, models.ObsContact,
		models.ObsWedged, models.ObsCrackedWheel, models.ObsDiagonal, models.ObsErosion, models.ObsRibDepression, models.ObsShoulderStep, models.ObsDepression,
		models.ObsAlternateLug, models.ObsWearBar, models.ObsDirt}
)

func (s *site) inspect(r *request) error {
	v, err := s.Fleet.Vehicle(r.ctx(), r.actor, models.VehicleID(r.Param("id")))
	if err != nil {
		return err
	}
	e := newEntry(fresh(r.now), r.units(v.Depot))
	e.sent.Set("stations", r.QueryParam("stations"))
	return s.showInspect(r, http.StatusOK, v, e)
}

func stationsOf(e *entry) int {
	switch e.text("stations") {
	case "3":
		return 3
	case "8":
		return 8
	}
	return 1
}

func (s *site) showInspect(r *request, status int, v fleet.VehicleView, e *entry) error {
	p := inspectPage{VehicleView: v, Zone: r.clock(v.Depot), Units: e.units, UnitWord: unitWord(e.units.Depth), Entry: e, Stations: stationsOf(e),
		Plain: status != http.StatusOK || r.QueryParam("plain") != ""}
	mounted := map[models.Position]*models.TireWithState{}
	for _, t := range v.Tires {
		mounted[t.State.Position] = &t
	}
	for _, pos := range v.Vehicle.WalkingOrder() {
		p.Places = append(p.Places, p.layPlace(pos, mounted[pos]))
	}
	p.Looks = chosen(e, "vehicle", models.VehicleCodes)
	return r.show(status, "inspect", "vehicles", "Inspect "+v.Vehicle.Number, p)
}

// unitWord is a unit of depth as it stands on a key.
func unitWord(u units.Unit) string {
	if u == units.In32 {
		return "32nds"
	}
	return string(u)
}

func chosen(e *entry, name string, codes []models.ObservationCode) []look {
	var out []look
	for _, c := range codes {
		l := look{Name: name, Label: observationName(c), Value: string(c), OffRoad: c.TakesOffRoad()}
		for _, v := range e.sent[name] {
			l.Chosen = l.Chosen || v == l.Value
		}
		out = append(out, l)
	}
	return out
}

func (p *inspectPage) layPlace(pos models.Position, t *models.TireWithState) inspectPlace {
	e := p.Entry
	out := inspectPlace{Position: pos, Name: "p." + string(pos), Tire: t}
	if t == nil {
		return out
	}
	if out.Last = t.State.Last; out.Last != nil {
		out.LastText = typed(out.Last.Reading, p.Units)
		if d, ok := out.Last.Reading.Min(); ok {
			out.LastNM = int64(d.Value)
		}
	}
	out.LegalNM = int64(p.LegalMinimum[pos])
	around := p.Stations
	if p.Stations == 1 {
		around = 8
	}
	for g, name := range grooveNames(groovesOf(t.Tire)) {
		row := grooveInputs{Name: name}
		for k := range around {
			in := e.input(fmt.Sprintf("%s.d%d.%d", out.Name, g, k), name)
			if p.Stations > 1 || k > 0 {
				in.Groove, in.Label = name, fmt.Sprintf("at %d°", k*360/around)
			}
			if p.Stations == 1 && k > 0 {
				row.More = append(row.More, in)
				out.MoreOpen = out.MoreOpen || in.Value != ""
			} else {
				row.Inline = append(row.Inline, in)
			}
		}
		out.Grooves = append(out.Grooves, row)
	}
	if p.Stations == 1 {
		for k := 1; k < around; k++ {
			out.More = append(out.More, strconv.Itoa(k*360/around)+"°")
		}
	}
	if target := p.Vehicle.AxleAt(pos).Pressure; target.Value > 0 {
		out.Target = p.Units.WritePressure(target.Value)
	}
	out.Pressure = e.input(out.Name+".pressure", "pressure")
	out.Feel, out.Look, out.Rest = chosen(e, out.Name+".see", feels), chosen(e, out.Name+".see", looks), chosen(e, out.Name+".see", rests)
	for _, l := range out.Rest {
		out.RestOpen = out.RestOpen || l.Chosen
	}
	out.Fault = e.Fault(out.Name)
	return out
}

// groovesOf is how many grooves are asked for: those of the tire, at least the
// three that every gauge sheet has.
func groovesOf(t models.Tire) int {
	if n := len(t.NewDepths); n >= 3 {
		return n
	}
	return 3
}

// input returns a field as it was sent.
func (e *entry) input(name, label string) input {
	return input{Name: name, Label: label, Value: e.sent.Get(name), Fault: e.Fault(name)}
}

// Value returns what was typed into a field.
func (e *entry) Value(name string) string { return e.sent.Get(name) }

// inspected records what the form says.
func (s *site) inspected(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	v, err := s.Fleet.Vehicle(r.ctx(), r.actor, models.VehicleID(r.Param("id")))
	if err != nil {
		return err
	}
	e := newEntry(sent, r.units(v.Depot))
	ev := e.inspection(v)
	if !e.ok() {
		e.Msg = "Some fields could not be read. Nothing was recorded yet; what you typed is still here"
		return s.showInspect(r, http.StatusUnprocessableEntity, v, e)
	}
	done, err := s.Fleet.Record(r.ctx(), r.actor, ev)
	if err != nil {
		if r.sentBefore(e, err) || e.take(err) {
			return s.showInspect(r, http.StatusUnprocessableEntity, v, e)
		}
		return err
	}
	said := "inspection"
	if done.Repeated {
		said = "repeated"
	}
	return r.Redirect(http.StatusSeeOther, "/vehicles/"+string(v.Vehicle.ID)+"?said="+said)
}

// inspection reads the form. Places where nothing was entered are left out.
func (e *entry) inspection(v fleet.VehicleView) *models.Inspection {
	ev := &models.Inspection{Meta: e.meta(v.Vehicle.ID, zone(v.Depot))}
	ev.Gauge.Name = e.text("gauge")
	for _, t := range v.Tires {
		pos := t.State.Position
		rd, note := e.reading(pos, groovesOf(t.Tire))
		if note != "" {
			ev.Note = strings.TrimSpace(ev.Note + "\n" + string(pos) + ": " + note)
		}
		if rd == nil {
			continue
		}
		e.aliasReading(len(ev.Readings), rd, "p."+string(pos))
		ev.Readings = append(ev.Readings, *rd)
	}
	for _, c := range e.sent["vehicle"] {
		ev.Vehicle = append(ev.Vehicle, models.Observation{Code: models.ObservationCode(c)})
	}
	e.as("readings", "readings")
	e.as("vehicle", "vehicle")
	return ev
}

// reading reads one place; nil if nothing was entered there. A note that
// belongs to no observation comes back by itself.
func (e *entry) reading(pos models.Position, grooves int) (*models.Reading, string) {
	name := "p." + string(pos)
	rd := &models.Reading{Position: pos, NotReached: e.ticked(name + ".notreached"), Hot: e.ticked(name + ".hot")}
	rd.Depths = e.grid(name, grooves)
	rd.Pressure = e.pressure(name + ".pressure")
	if rd.Pressure != nil && rd.NotReached {
		e.fault(name+".pressure", "there is a pressure and a tick at \"not reached\"; only one can be right")
	}
	note := e.text(name + ".note")
	for _, c := range e.sent[name+".see"] {
		o := models.Observation{Code: models.ObservationCode(c)}
		switch o.Code {
		case models.ObsCupping:
			o.Count = e.whole(name+".cups", "cups")
		case models.ObsFlatSpot:
			if !slices.Contains(e.sent[name+".see"], string(models.ObsCupping)) { // then what was counted are cups
				o.Count = e.whole(name+".cups", "flat spots")
			}
		case models.ObsFeathering:
			o.Direction = e.text(name + ".feather")
		}
		if o.Code != models.ObsSmooth {
			o.Place = e.text(name + ".place")
			o.Note, note = note, ""
		}
		rd.Observations = append(rd.Observations, o)
	}
	if rd.Depths == nil && rd.Pressure == nil && !rd.NotReached && len(rd.Observations) == 0 {
		return nil, note
	}
	return rd, note
}

// grid reads the depths of a place: only the stations that were asked for, and
// the further ones if any of them was filled in; nil if no depth was read.
func (e *entry) grid(name string, grooves int) [][]*models.Depth {
	around := stationsOf(e)
	if around == 1 && e.filledAround(name, grooves) {
		around = 8
	}
	var out [][]*models.Depth
	any := false
	for g := range grooves {
		row := make([]*models.Depth, around)
		for k := range row {
			row[k] = e.depth(fmt.Sprintf("%s.d%d.%d", name, g, k))
			any = any || row[k] != nil
		}
		out = append(out, row)
	}
	if !any {
		return nil
	}
	return out
}

func (e *entry) filledAround(name string, grooves int) bool {
	for g := range grooves {
		for k := 1; k < 8; k++ {
			if e.text(fmt.Sprintf("%s.d%d.%d", name, g, k)) != "" {
				return true
			}
		}
	}
	return false
}

// aliasReading says where on the form the answers about reading i are shown.
func (e *entry) aliasReading(i int, rd *models.Reading, name string) {
	at := fmt.Sprintf("readings[%d]", i)
	e.as(at, name)
	e.as(at+".pressure", name+".pressure")
	e.as(at+".observations", name+".see")
	e.as(at+".depths", name+".d0.0")
	for g, row := range rd.Depths {
		for k := range row {
			e.as(fmt.Sprintf("%s.depths[%d][%d]", at, g, k), fmt.Sprintf("%s.d%d.%d", name, g, k))
		}
	}
}
