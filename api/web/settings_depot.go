package web

import (
	"errors"
	"math"
	"net/http"
	"net/url"
	"reflect"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/units"
)

func (s *site) mountDepots() {
	s.get("/settings/depots/new", s.newDepot)
	s.post("/settings/depots/new", s.addDepot)
	s.get("/settings/depots/:id", s.depotForm)
	s.post("/settings/depots/:id", s.editDepot)
	s.get("/settings/depots/:id/policy/:class", s.policyForm)
	s.post("/settings/depots/:id/policy/:class", s.setPolicy)
}

// formPage is a form of the settings.
type formPage struct {
	Heading, Intro string
	Action         string
	Entry          *entry
	Sections       []section
	Version        int64
	Back, BackText string         // the way back; empty: the settings
	Nav            string         // entry of the navigation; empty: the settings
	Depot          *models.Depot  // with links to its policies
	Classes        []models.Class // of those links
	Person         *models.User   // whose password may be set
}

func (s *site) showForm(r *request, status int, p formPage) error {
	p.Classes = models.Classes
	if p.Back == "" {
		p.Back, p.BackText, p.Nav = "/settings", "Settings", "settings"
	}
	return r.show(status, "form", p.Nav, p.Heading, p)
}

func depotSections(f *entry, nextDigest string) []section {
	var places []option
	for _, j := range legal.Jurisdictions() {
		places = append(places, option{Value: j.Code, Label: j.Code + ", " + j.Name})
	}
	return []section{
		{Legend: "Depot", Fields: []field{f.textField("name", "Name", "", ""), f.textField("time_zone", "Time zone", "", "such as Europe/Berlin"),
			f.selectField("jurisdiction", "Law that applies", "choose", places), f.textField("currency", "Currency", "", "three letters")}},
		{Legend: "Units", Fields: f.unitFields("")},
		ownRuleSection(f), boxSection(f), digestSection(f, nextDigest),
	}
}

func depotValues(d models.Depot, u units.Style) url.Values {
	v := url.Values{"name": {d.Name}, "time_zone": {d.TimeZone}, "jurisdiction": {d.Jurisdiction}, "currency": {d.Currency},
		"recipients": {strings.Join(d.Recipients, "\n")}, "version": {strconv.FormatInt(d.Version, 10)}}
	setUnitValues(v, d.Units)
	setDigest(v, d.DigestCron)
	setOwnRules(v, d.OwnRules, u)
	setBox(v, d.Box, u)
	return v
}

// depotOf puts what was typed into d; the rest of d stays.
func depotOf(e *entry, d models.Depot) models.Depot {
	d.Name, d.TimeZone, d.Jurisdiction, d.Currency = e.text("name"), e.text("time_zone"), e.text("jurisdiction"), e.text("currency")
	d.DigestCron = digestOf(e, d.DigestCron)
	d.Units = e.unitSet()
	d.Recipients = strings.Fields(e.text("recipients"))
	d.OwnRules = ownRulesOf(e, units.Style{Set: d.Units, Notation: e.units.Notation})
	d.Box = boxOf(e, d.Units.Mass)
	for _, name := range []string{"name", "time_zone", "jurisdiction", "currency", "recipients"} {
		e.as(name, name)
	}
	e.as("units", "depth")
	return d
}

func (s *site) newDepot(r *request) error {
	sent := url.Values{"id": {uuid.Must(uuid.NewV7()).String()}}
	setDigest(sent, "0 6 * * 1")
	setUnitValues(sent, units.Metric)
	return s.showDepot(r, http.StatusOK, newEntry(sent, r.unitless()), models.Depot{})
}

func (s *site) showDepot(r *request, status int, e *entry, d models.Depot) error {
	p := formPage{Heading: "New depot", Intro: "A yard with its own time zone, law, units and weekly mail.", Action: "/settings/depots/new", Entry: e, Sections: depotSections(e, s.nextDigest(r, d))}
	if d.ID != "" {
		p.Heading, p.Action, p.Version, p.Depot = d.Name, "/settings/depots/"+string(d.ID), d.Version, &d
	}
	return s.showForm(r, status, p)
}

func (s *site) addDepot(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	e := newEntry(sent, r.unitless())
	d := depotOf(e, models.Depot{ID: models.DepotID(e.text("id"))})
	if !e.ok() {
		e.Msg = "Some fields could not be read"
		return s.showDepot(r, http.StatusUnprocessableEntity, e, models.Depot{})
	}
	if _, err := s.Fleet.CreateDepot(r.ctx(), r.actor, d); err != nil {
		if e.take(err) {
			return s.showDepot(r, http.StatusUnprocessableEntity, e, models.Depot{})
		}
		return err
	}
	return r.Redirect(http.StatusSeeOther, "/settings/depots/"+string(d.ID)+"?said=saved")
}

func (s *site) depotForm(r *request) error {
	d, err := s.Fleet.Depot(r.ctx(), r.actor, models.DepotID(r.Param("id")))
	if err != nil {
		return err
	}
	return s.showDepot(r, http.StatusOK, newEntry(depotValues(d, r.unitless()), r.unitless()), d)
}

func (s *site) editDepot(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	old, err := s.Fleet.Depot(r.ctx(), r.actor, models.DepotID(r.Param("id")))
	if err != nil {
		return err
	}
	e := newEntry(sent, r.unitless())
	d := depotOf(e, old)
	d.Version = e.version()
	if !e.ok() {
		e.Msg = "Some fields could not be read"
		old.Version = e.version()
		return s.showDepot(r, http.StatusUnprocessableEntity, e, old)
	}
	if _, err := s.Fleet.EditDepot(r.ctx(), r.actor, d); err != nil {
		if errors.Is(err, models.Stale) {
			e.compare(depotValues(old, e.units))
			return s.showDepot(r, http.StatusConflict, e, old)
		}
		if e.take(err) {
			shown := old
			shown.Version = e.version()
			return s.showDepot(r, http.StatusUnprocessableEntity, e, shown)
		}
		return err
	}
	return r.Redirect(http.StatusSeeOther, "/settings/depots/"+string(old.ID)+"?said=saved")
}

// compare shows, beside what was typed, what someone else saved in the
// meantime; sending again saves over it knowingly.
func (e *entry) compare(saved url.Values) {
	e.Msg = "Someone else saved this in the meantime. Beside each field that differs stands what is saved now; yours is still in the field. Save again to put yours in its place"
	for name, v := range saved {
		if name != "version" && strings.TrimSpace(v[0]) != e.text(name) {
			text := v[0]
			if text == "" {
				text = "nothing"
			}
			e.fault(name, "saved meanwhile: "+text)
		}
	}
	e.sent.Set("version", saved.Get("version"))
}

// policyField says what one field of a policy is.
type policyField struct{ Name, Label, Unit string }

// policyGroups are the fields of models.PolicyPatch as they stand on the form.
var policyGroups = []struct {
	Legend string
	Fields []policyField
}{
	{"Inspections", []policyField{{"InspectDays", "Tread readings at least every", "days"}, {"PressureDays", "Pressure at least every", "days"}}},
	{"Work", []policyField{{"RebalanceKM", "Balance every", "km"}, {"RebalanceDays", "Balance every", "days"}, {"RotateKM", "Rotate every", "km"},
		{"RotateDays", "Rotate every", "days"}, {"AlignKM", "Align every", "km"}, {"AlignDays", "Align every", "days"},
		{"RetorqueKM", "Check nuts after wheels were off within", "km"}, {"RetorqueDays", "Check nuts where no odometer is known within", "days"}}},
	{"Depth", []policyField{{"PullSteer", "Pull point, steer axle", ""}, {"PullDrive", "Pull point, drive axle", ""}, {"PullFree", "Pull point, free-rolling", ""},
		{"WatchAbove", "Watch from this much above it", ""}, {"DualDepth", "Largest difference in a dual pair", ""}, {"AxleDepth", "Largest difference across an axle", ""},
		{"DualDiameter", "Largest difference of diameter in a dual pair", ""}}},
	{"Pressure", []policyField{{"LowPercent", "Low below this share of the target", "%"}, {"RunFlatPercent", "Run flat at this share", "%"}, {"DualPressure", "Largest difference in a dual pair", ""}}},
	{"Age and planning ahead", []policyField{{"AgeWatchYears", "Watch from an age of", "years"}, {"AgeLimitYears", "Age limit", "years"},
		{"ForecastDays", "Plan tires that reach the pull point within", "days"}, {"DueDays", "Show work as due ahead", "days"}}},
}

func policySections(f *entry, p models.Policy) []section {
	var out []section
	now := reflect.ValueOf(p)
	for _, g := range policyGroups {
		s := section{Legend: g.Legend, Rows: "even"}
		for _, pf := range g.Fields {
			unit, value := pf.Unit, ""
			switch v := now.FieldByName(pf.Name).Interface().(type) {
			case int:
				value = strconv.Itoa(v)
				if pf.Unit == "km" {
					unit, value = string(f.units.Distance), way(v, f.units)
				}
			case units.Length:
				unit, value = unitWord(f.units.Depth), f.units.WriteDepth(v)
			case units.Pressure:
				unit, value = string(f.units.Pressure), f.units.WritePressure(v)
			}
			x := f.textField(pf.Name, pf.Label, unit, "")
			if x.Help = "default " + value; value == "0" || strings.HasPrefix(value, "0 ") {
				x.Help = "off by default"
			}
			s.Fields = append(s.Fields, x)
		}
		out = append(out, s)
	}
	return out
}

// patchValues writes a patch as the form holds it: empty where it says nothing.
func patchValues(p models.DepotPolicy, u units.Style) url.Values {
	out := url.Values{"version": {strconv.FormatInt(p.Version, 10)}}
	v := reflect.ValueOf(p.Patch)
	for i := range v.NumField() {
		name := v.Type().Field(i).Name
		out.Set(name, "")
		if v.Field(i).IsNil() {
			continue
		}
		switch n := v.Field(i).Elem().Interface().(type) {
		case int:
			out.Set(name, strconv.Itoa(n))
			if strings.HasSuffix(name, "KM") {
				out.Set(name, way(n, u))
			}
		case units.Length:
			out.Set(name, u.WriteDepth(n))
		case units.Pressure:
			out.Set(name, u.WritePressure(n))
		}
	}
	return out
}

// way writes whole kilometres in the person's unit.
func way(km int, u units.Style) string {
	return u.WriteDistance(units.Distance(km) * units.Kilometre)
}

// wayKM reads a way to drive, to the nearest kilometre.
func (e *entry) wayKM(name string) int {
	d, err := units.ParseDistance(e.units.Plain(e.text(name)), e.units.Distance)
	if err != nil {
		e.fault(name, remedy(err))
		return 0
	}
	return int(math.Round(d.Kilometres()))
}

// patch reads the form.
func (e *entry) patch() models.PolicyPatch {
	var p models.PolicyPatch
	v := reflect.ValueOf(&p).Elem()
	for i := range v.NumField() {
		name := v.Type().Field(i).Name
		e.as(name, name)
		if e.text(name) == "" {
			continue
		}
		switch to := v.Field(i).Addr().Interface().(type) {
		case **int:
			n := 0
			if strings.HasSuffix(name, "KM") {
				n = e.wayKM(name)
			} else {
				n = e.whole(name, "them")
			}
			*to = &n
		case **units.Length:
			if d := e.depth(name); d != nil {
				*to = &d.Value
			}
		case **units.Pressure:
			if d := e.pressure(name); d != nil {
				*to = &d.Value
			}
		}
	}
	return p
}

func (s *site) policyOf(r *request) (models.Depot, models.DepotPolicy, error) {
	id, class := models.DepotID(r.Param("id")), models.Class(r.Param("class"))
	if !class.Valid() {
		return models.Depot{}, models.DepotPolicy{}, models.Errorf(models.NotFound, "there is no such class of vehicle")
	}
	d, err := s.Fleet.Depot(r.ctx(), r.actor, id)
	if err != nil {
		return d, models.DepotPolicy{}, err
	}
	all, err := s.Fleet.DepotPolicies(r.ctx(), r.actor, id)
	for _, p := range all {
		if p.Class == class {
			return d, p, err
		}
	}
	return d, models.DepotPolicy{DepotID: id, Class: class}, err
}

func (s *site) showPolicy(r *request, status int, d models.Depot, c models.Class, e *entry) error {
	return s.showForm(r, status, formPage{Heading: "Policy for " + className(c) + ", " + d.Name,
		Intro:  "Fill in only what differs from the default here. Zero switches a check off; empty leaves the default. Whichever comes first counts, distance or time.",
		Action: "/settings/depots/" + string(d.ID) + "/policy/" + string(c), Entry: e, Sections: policySections(e, models.DefaultPolicy(c)), Version: e.version()})
}

func (s *site) policyForm(r *request) error {
	d, p, err := s.policyOf(r)
	if err != nil {
		return err
	}
	u := r.units(d)
	return s.showPolicy(r, http.StatusOK, d, p.Class, newEntry(patchValues(p, u), u))
}

func (s *site) setPolicy(r *request) error {
	sent, err := r.form()
	if err != nil {
		return err
	}
	d, old, err := s.policyOf(r)
	if err != nil {
		return err
	}
	e := newEntry(sent, r.units(d))
	p := models.DepotPolicy{DepotID: d.ID, Class: old.Class, Patch: e.patch()}
	p.Version = e.version()
	if !e.ok() {
		e.Msg = "Some fields could not be read"
		return s.showPolicy(r, http.StatusUnprocessableEntity, d, old.Class, e)
	}
	if _, err := s.Fleet.SetDepotPolicy(r.ctx(), r.actor, p); err != nil {
		if errors.Is(err, models.Stale) {
			e.compare(patchValues(old, e.units))
			return s.showPolicy(r, http.StatusConflict, d, old.Class, e)
		}
		if e.take(err) {
			return s.showPolicy(r, http.StatusUnprocessableEntity, d, old.Class, e)
		}
		return err
	}
	return r.Redirect(http.StatusSeeOther, r.Request().URL.Path+"?said=saved")
}
