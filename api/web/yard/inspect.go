package yard

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/pattern"
	"rimledger/models/units"
)

// inspectPage is the yard's form for one vehicle, in walking order. Field names
// are p.POSITION.WHAT, such as p.2LO.d0.0 for the first groove at the valve.
type inspectPage struct {
	fleet.VehicleView
	Zone     say.Clock
	Units    units.Style
	UnitWord string // unit of depth on every field
	Entry    *form.Entry
	Plain    bool // the form itself; else scripts draw the walk around the vehicle
	Stations int  // places around the tire asked of every position: 1, 3 or 8
	Unequal  bool // eight unequal places, which distinguish more numbers of cups
	Places   []inspectPlace
	Looks    []observationChoice // on the vehicle as a whole
	Visit    string              // yardVisit as JSON, for the remarks beside the fields
}

// inspectPlace is one position of the form.
type inspectPlace struct {
	Position models.Position
	Name     string // beginning of the names of its fields
	Tire     *models.TireWithState
	Last     *models.Measured
	LastText []string
	Judged   string // yardPlace as JSON, for the remarks beside the fields
	Grooves  []grooveInputs
	More     []string // angles of the further stations, if they are folded away
	MoreOpen bool
	Pressure input
	Target   string
	Reached  bool
	Feel     []observationChoice
	Look     []observationChoice
	Rest     []observationChoice
	RestOpen bool
	Fault    *form.Fault
}

type grooveInputs struct {
	Name   string
	Inline []input
	More   []input
}

type input struct {
	Name, Label, Value string
	Groove             string // of a place around the tire
	Fault              *form.Fault
}

type observationChoice struct {
	Name, Label, Value string
	Chosen, OffRoad    bool
}

var (
	feels = []models.ObservationCode{
		models.ObsSmooth,
		models.ObsCupping,
		models.ObsFeathering,
		models.ObsHeelToe,
		models.ObsFlatSpot,
	}
	looks = []models.ObservationCode{
		models.ObsCut,
		models.ObsBulge,
		models.ObsExposedCord,
		models.ObsNail,
		models.ObsMissingWeight,
		models.ObsLooseNuts,
		models.ObsCracks,
		models.ObsValve,
	}
	rests = []models.ObservationCode{
		models.ObsCutToCord,
		models.ObsSeparation,
		models.ObsFlat,
		models.ObsLeak,
		models.ObsContact,
		models.ObsWedged,
		models.ObsCrackedWheel,
		models.ObsDiagonal,
		models.ObsErosion,
		models.ObsRibDepression,
		models.ObsShoulderStep,
		models.ObsDepression,
		models.ObsAlternateLug,
		models.ObsWearBar,
		models.ObsDirt,
	}
)

func (s *room) inspect(r *site.Request) error {
	v, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, models.VehicleID(r.Param("id")))
	if err != nil {
		return err
	}
	e := form.NewEntry(form.Fresh(r.Now), r.Units(v.Depot))
	e.Sent.Set("stations", r.QueryParam("stations"))
	return s.showInspect(r, http.StatusOK, v, e)
}

// unequal is what the form sends for eight unequal places.
const unequal = "unequal"

func stationsOf(e *form.Entry) int {
	switch e.Text("stations") {
	case "3":
		return 3
	case "8":
		return 8
	case unequal:
		return len(pattern.UnequalStations())
	}
	return 1
}

// unequalStations returns the places that are read if the form asks for unequal ones, else
// nil.
func unequalStations(e *form.Entry) []models.Station {
	if e.Text("stations") != unequal {
		return nil
	}

	var out []models.Station
	for _, deg := range pattern.UnequalStations() {
		out = append(out, models.Station{Deg: deg, Text: strconv.Itoa(int(deg)) + "°"})
	}
	return out
}

func (s *room) showInspect(r *site.Request, status int, v fleet.VehicleView, e *form.Entry) error {
	p := inspectPage{
		VehicleView: v,
		Zone:        r.Clock(v.Depot),
		Units:       e.Units,
		UnitWord:    say.UnitWord(e.Units.Depth),
		Entry:       e,
		Stations:    stationsOf(e),
		Unequal:     e.Text("stations") == unequal,
		Plain:       status != http.StatusOK || r.QueryParam("plain") != "",
	}

	var err error
	visit := yardVisit{yardUnits{e.Units.Depth, e.Units.Pressure, e.Units.Distance}, holdTable(), useOf(v)}
	if p.Visit, err = jsonText(visit); err != nil {
		return err
	}

	mounted := mountedOn(v)
	for _, pos := range v.Vehicle.WalkingOrder() {
		place := inspectPlace{Position: pos, Name: "p." + string(pos)}
		if t, ok := mounted[pos]; ok {
			if place.Judged, err = jsonText(placeOf(v, pos, mounted)); err != nil {
				return err
			}
			p.layPlace(&place, &t)
		}
		p.Places = append(p.Places, place)
	}

	p.Looks = observationChoices(e, "vehicle", models.VehicleCodes)
	return r.ShowStatus(status, "inspect", "vehicles", "Inspect "+v.Vehicle.Number, p)
}

func observationChoices(e *form.Entry, name string, codes []models.ObservationCode) []observationChoice {
	var out []observationChoice
	for _, c := range codes {
		l := observationChoice{Name: name, Label: say.ObservationName(c), Value: string(c), OffRoad: c.TakesOffRoad()}
		for _, v := range e.Sent[name] {
			l.Chosen = l.Chosen || v == l.Value
		}
		out = append(out, l)
	}
	return out
}

// jsonText writes v for a script to read from an attribute.
func jsonText(v any) (string, error) {
	b, err := json.Marshal(v)
	return string(b), err
}

// layPlace lays out the fields of a place where t is.
//
//revive:disable-next-line:cyclomatic,cognitive-complexity
func (p *inspectPage) layPlace(out *inspectPlace, t *models.TireWithState) {
	e, pos := p.Entry, out.Position
	out.Tire = t
	if out.Last = t.State.Last; out.Last != nil {
		out.LastText = say.TypedDepths(out.Last.Reading, p.Units)
	}

	// The quick way asks for one place and keeps seven more folded below.
	around := p.Stations

	// The folded places have headings of their own.
	if p.Stations == 1 {
		around = 8
	}

	for g, name := range say.GrooveNames(groovesOf(t.Tire)) {
		row := grooveInputs{Name: name}
		for k := range around {
			in := inputOf(e, fmt.Sprintf("%s.d%d.%d", out.Name, g, k), name)
			switch places := unequalStations(e); {
			case places != nil:
				in.Groove, in.Label = name, "at "+places[k].Text
			case p.Stations > 1 || k > 0:
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

	out.Pressure = inputOf(e, out.Name+".pressure", "pressure")
	out.Feel = observationChoices(e, out.Name+".see", feels)
	out.Look = observationChoices(e, out.Name+".see", looks)
	out.Rest = observationChoices(e, out.Name+".see", rests)
	for _, l := range out.Rest {
		out.RestOpen = out.RestOpen || l.Chosen
	}

	out.Fault = e.Fault(out.Name)
}

// groovesOf is how many grooves are asked for: those of the tire, at least the
// three that every gauge sheet has.
func groovesOf(t models.Tire) int {
	if n := len(t.NewDepths); n >= 3 {
		return n
	}
	return 3
}

// inputOf returns a field as it was sent.
func inputOf(e *form.Entry, name, label string) input {
	return input{Name: name, Label: label, Value: e.Sent.Get(name), Fault: e.Fault(name)}
}

// postInspection records what the form says.
func (s *room) postInspection(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}

	v, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, models.VehicleID(r.Param("id")))
	if err != nil {
		return err
	}

	// Numbers are read in the units and notation of the person.
	e := form.NewEntry(sent, r.Units(v.Depot))
	ev := inspection(e, v)

	if !e.OK() {
		e.Msg = "Some fields could not be read. Nothing was recorded yet; what you typed is still here"
		return s.showInspect(r, http.StatusUnprocessableEntity, v, e)
	}

	done, err := s.Fleet.Record(r.Ctx(), r.Actor, ev)
	if err != nil {
		if r.SentBefore(e, err) || e.ApplyError(err) {
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
func inspection(e *form.Entry, v fleet.VehicleView) *models.Inspection {
	ev := &models.Inspection{Meta: e.Meta(v.Vehicle.ID, say.Zone(v.Depot))}

	ev.Gauge.Name = e.Text("gauge")
	for _, t := range v.Tires {
		pos := t.State.Position
		rd, note := reading(e, pos, groovesOf(t.Tire))
		if note != "" {
			ev.Note = strings.TrimSpace(ev.Note + "\n" + string(pos) + ": " + note)
		}
		if rd == nil {
			continue
		}

		aliasReading(e, len(ev.Readings), rd, "p."+string(pos))
		ev.Readings = append(ev.Readings, *rd)
	}

	for _, c := range e.Sent["vehicle"] {
		ev.Vehicle = append(ev.Vehicle, models.Observation{Code: models.ObservationCode(c)})
	}

	e.MapField("readings", "readings")
	e.MapField("vehicle", "vehicle")
	return ev
}

// reading reads one place; nil if nothing was entered there. A note that
// belongs to no observation comes back by itself.
func reading(e *form.Entry, pos models.Position, grooves int) (*models.Reading, string) {
	name := "p." + string(pos)
	rd := &models.Reading{Position: pos, NotReached: e.Ticked(name + ".notreached"), Hot: e.Ticked(name + ".hot")}
	rd.Depths = grid(e, name, grooves)
	if rd.Depths != nil {
		rd.Stations = unequalStations(e)
	}
	rd.Pressure = e.Pressure(name + ".pressure")
	if rd.Pressure != nil && rd.NotReached {
		e.AddFault(name+".pressure", "there is a pressure and a tick at \"not reached\"; only one can be right")
	}

	note := e.Text(name + ".note")
	for _, c := range e.Sent[name+".see"] {
		o := models.Observation{Code: models.ObservationCode(c)}
		switch o.Code {
		case models.ObsCupping:
			o.Count = e.Whole(name+".cups", "cups")
		case models.ObsFlatSpot:
			if !slices.Contains(e.Sent[name+".see"], string(models.ObsCupping)) { // then what was counted are cups
				o.Count = e.Whole(name+".cups", "flat spots")
			}
		case models.ObsFeathering:
			o.Direction = e.Text(name + ".feather")
		}

		if o.Code != models.ObsSmooth {
			o.Place = e.Text(name + ".place")
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
func grid(e *form.Entry, name string, grooves int) [][]*models.Depth {
	around := stationsOf(e)
	if around == 1 && filledAround(e, name, grooves) {
		around = 8
	}

	var out [][]*models.Depth

	typed := false
	for g := range grooves {
		row := make([]*models.Depth, around)
		for k := range row {
			row[k] = e.Depth(fmt.Sprintf("%s.d%d.%d", name, g, k))
			typed = typed || row[k] != nil
		}
		out = append(out, row)
	}

	if !typed {
		return nil
	}
	return out
}

func filledAround(e *form.Entry, name string, grooves int) bool {
	for g := range grooves {
		for k := 1; k < 8; k++ {
			if e.Text(fmt.Sprintf("%s.d%d.%d", name, g, k)) != "" {
				return true
			}
		}
	}
	return false
}

// aliasReading says where on the form the answers about reading i are shown.
func aliasReading(e *form.Entry, i int, rd *models.Reading, name string) {
	at := fmt.Sprintf("readings[%d]", i)
	e.MapField(at, name)
	e.MapField(at+".pressure", name+".pressure")
	e.MapField(at+".observations", name+".see")
	e.MapField(at+".depths", name+".d0.0")
	for g, row := range rd.Depths {
		for k := range row {
			e.MapField(fmt.Sprintf("%s.depths[%d][%d]", at, g, k), fmt.Sprintf("%s.d%d.%d", name, g, k))
		}
	}
}
