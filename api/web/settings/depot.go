package settings

import (
	"errors"
	"net/http"
	"net/url"
	"reflect"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/legal"
	"rimledger/models/units"
)

func depotSections(f *form.Entry, nextDigest string) []form.Section {
	var places []form.Option
	for _, j := range legal.Jurisdictions() {
		places = append(places, form.Option{Value: j.Code, Label: j.Code + ", " + j.Name})
	}

	return []form.Section{
		{
			Legend: "Depot",
			Fields: []form.Field{
				f.TextField("name", "Name", "", ""),
				f.TextField("time_zone", "Time zone", "", "such as Europe/Berlin"),
				f.SelectField("jurisdiction", "Law that applies", "choose", places),
				f.TextField("currency", "Currency", "", "three letters"),
			},
		},
		{Legend: "Units", Fields: unitFields(f, "")},
		ownRuleSection(f), boxSection(f), digestSection(f, nextDigest),
	}
}

func depotValues(d models.Depot, u units.Style) url.Values {
	v := url.Values{
		"name":         {d.Name},
		"time_zone":    {d.TimeZone},
		"jurisdiction": {d.Jurisdiction},
		"currency":     {d.Currency},
		"recipients":   {strings.Join(d.Recipients, "\n")},
		"version":      {strconv.FormatInt(d.Version, 10)},
	}

	setUnitValues(v, d.Units)
	setDigest(v, d.DigestCron)
	setOwnRules(v, d.OwnRules, u)
	setBox(v, d.Box, u)
	return v
}

// depotOf puts what was typed into d; the rest of d stays.
func depotOf(e *form.Entry, d models.Depot) models.Depot {
	d.Name, d.TimeZone = e.Text("name"), e.Text("time_zone")
	d.Jurisdiction, d.Currency = e.Text("jurisdiction"), e.Text("currency")
	d.DigestCron = digestOf(e, d.DigestCron)
	d.Units = unitSet(e)
	d.Recipients = strings.Fields(e.Text("recipients"))
	d.OwnRules = ownRulesOf(e, units.Style{Set: d.Units, Notation: e.Units.Notation})
	d.Box = readBox(e, d.Units.Mass)

	for _, name := range []string{"name", "time_zone", "jurisdiction", "currency", "recipients"} {
		e.MapField(name, name)
	}

	e.MapField("units", "depth")
	return d
}

func (s *room) newDepot(r *site.Request) error {
	if err := r.Actor.MayCreateDepot(); err != nil {
		return err
	}

	sent := url.Values{"id": {uuid.Must(uuid.NewV7()).String()}}
	setDigest(sent, "0 6 * * 1")
	setUnitValues(sent, units.Metric)
	return s.showDepot(r, http.StatusOK, form.NewEntry(sent, r.Unitless()), models.Depot{})
}

func (s *room) showDepot(r *site.Request, status int, e *form.Entry, d models.Depot) error {
	p := site.FormPage{
		Heading:  "New depot",
		Intro:    "A yard with its own time zone, law, units and weekly mail.",
		Action:   "/settings/depots/new",
		Entry:    e,
		Sections: depotSections(e, s.NextDigest(r, d)),
	}
	if d.ID != "" {
		p.Heading, p.Action = d.Name, "/settings/depots/"+string(d.ID)
		p.Version, p.Depot = d.Version, &d
	}
	return s.ShowForm(r, status, p)
}

func (s *room) addDepot(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}
	e := form.NewEntry(sent, r.Unitless())
	d := depotOf(e, models.Depot{ID: models.DepotID(e.Text("id"))})

	if !e.OK() {
		e.Msg = "Some fields could not be read"
		return s.showDepot(r, http.StatusUnprocessableEntity, e, models.Depot{})
	}

	if _, err := s.Fleet.CreateDepot(r.Ctx(), r.Actor, d); err != nil {
		if e.ApplyError(err) {
			return s.showDepot(r, http.StatusUnprocessableEntity, e, models.Depot{})
		}
		return err
	}

	return r.Redirect(http.StatusSeeOther, "/settings/depots/"+string(d.ID)+"?said=saved")
}

func (s *room) depotForm(r *site.Request) error {
	d, err := s.Fleet.Depot(r.Ctx(), r.Actor, models.DepotID(r.Param("id")))
	if err != nil {
		return err
	}
	return s.showDepot(r, http.StatusOK, form.NewEntry(depotValues(d, r.Unitless()), r.Unitless()), d)
}

func (s *room) editDepot(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}

	old, err := s.Fleet.Depot(r.Ctx(), r.Actor, models.DepotID(r.Param("id")))
	if err != nil {
		return err
	}

	e := form.NewEntry(sent, r.Unitless())
	d := depotOf(e, old)
	d.Version = e.Version()
	if !e.OK() {
		e.Msg = "Some fields could not be read"
		old.Version = e.Version()
		return s.showDepot(r, http.StatusUnprocessableEntity, e, old)
	}

	if _, err := s.Fleet.EditDepot(r.Ctx(), r.Actor, d); err != nil {
		if errors.Is(err, models.Stale) {
			e.ShowConflict(depotValues(old, e.Units))
			return s.showDepot(r, site.StatusOf(err), e, old)
		}

		if e.ApplyError(err) {
			shown := old
			shown.Version = e.Version()
			return s.showDepot(r, http.StatusUnprocessableEntity, e, shown)
		}

		return err
	}

	return r.Redirect(http.StatusSeeOther, "/settings/depots/"+string(old.ID)+"?said=saved")
}

// policyField says what one field of a policy is.
type policyField struct{ Name, Label, Unit string }

// policyGroups are the fields of models.PolicyPatch in the order of the form.
var policyGroups = []struct {
	Legend string
	Fields []policyField
}{
	{
		"Inspections",
		[]policyField{
			{"InspectDays", "Tread readings at least every", "days"},
			{"PressureDays", "Pressure at least every", "days"},
		},
	},
	{
		"Work",
		[]policyField{
			{"RebalanceKM", "Balance every", "km"},
			{"RebalanceDays", "Balance every", "days"},
			{"RotateKM", "Rotate every", "km"},
			{
				"RotateDays",
				"Rotate every",
				"days",
			},
			{"AlignKM", "Align every", "km"},
			{"AlignDays", "Align every", "days"},
			{
				"RetorqueKM",
				"Check nuts after wheels were off within",
				"km",
			},
			{"RetorqueDays", "Check nuts where no odometer is known within", "days"},
		},
	},
	{
		"Depth",
		[]policyField{
			{"PullSteer", "Pull point, steer axle", ""},
			{"PullDrive", "Pull point, drive axle", ""},
			{"PullFree", "Pull point, free-rolling", ""},
			{
				"WatchAbove",
				"Watch from this much above it",
				"",
			},
			{"DualDepth", "Largest difference in a dual pair", ""},
			{"AxleDepth", "Largest difference across an axle", ""},
			{"DualDiameter", "Largest difference of diameter in a dual pair", ""},
		},
	},
	{
		"Pressure",
		[]policyField{
			{"LowPercent", "Low below this share of the target", "%"},
			{"RunFlatPercent", "Run flat at this share", "%"},
			{"DualPressure", "Largest difference in a dual pair", ""},
		},
	},
	{
		"Age and planning ahead",
		[]policyField{
			{"AgeWatchYears", "Watch from an age of", "years"},
			{"AgeLimitYears", "Age limit", "years"},
			{
				"ForecastDays",
				"Plan tires that reach the pull point within",
				"days",
			},
			{"DueDays", "Show work as due ahead", "days"},
		},
	},
}

func policySections(f *form.Entry, p models.Policy) []form.Section {
	var out []form.Section

	now := reflect.ValueOf(p)
	for _, g := range policyGroups {
		s := form.Section{Legend: g.Legend, Rows: "even"}
		for _, pf := range g.Fields {
			unit, value := pf.Unit, ""
			switch v := now.FieldByName(pf.Name).Interface().(type) {
			case int:
				value = strconv.Itoa(v)
			case float64:
				unit, value = string(f.Units.Distance), distanceText(v, f.Units)
			case units.Length:
				unit, value = say.UnitWord(f.Units.Depth), f.Units.WriteDepth(v)
			case units.Pressure:
				unit, value = string(f.Units.Pressure), f.Units.WritePressure(v)
			}

			x := f.TextField(pf.Name, pf.Label, unit, "")
			if x.Help = "default " + value; value == "0" || strings.HasPrefix(value, "0 ") {
				x.Help = "off by default"
			}
			s.Fields = append(s.Fields, x)
		}

		out = append(out, s)
	}

	return out
}

// patchValues returns the form values of a patch; a field that is not changed is empty.
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
		case float64:
			out.Set(name, distanceText(n, u))
		case units.Length:
			out.Set(name, u.WriteDepth(n))
		case units.Pressure:
			out.Set(name, u.WritePressure(n))
		}
	}

	return out
}

// distanceText writes a distance of km kilometres in the person's unit, whole.
func distanceText(km float64, u units.Style) string {
	return u.WriteDistance(units.DistanceFromKilometres(km))
}

// distanceKM reads a way to drive, in kilometres.
func distanceKM(e *form.Entry, name string) float64 {
	d, err := units.ParseDistance(e.Units.Plain(e.Text(name)), e.Units.Distance)
	if err != nil {
		e.AddFault(name, form.Remedy(err))
		return 0
	}
	return d.Kilometres()
}

// patch reads the form. A field that still says what the form showed of old keeps its
// value: written in another unit, it was rounded.
func patch(e *form.Entry, old models.DepotPolicy) models.PolicyPatch {
	var p models.PolicyPatch
	shown := patchValues(old, e.Units)

	v := reflect.ValueOf(&p).Elem()
	for i := range v.NumField() {
		name := v.Type().Field(i).Name
		e.MapField(name, name)
		if e.Text(name) == "" {
			continue
		}
		if e.Text(name) == shown.Get(name) && e.Version() == old.Version {
			v.Field(i).Set(reflect.ValueOf(old.Patch).Field(i))
			continue
		}

		switch to := v.Field(i).Addr().Interface().(type) {
		case **int:
			n := e.Whole(name, "them")
			*to = &n
		case **float64:
			n := distanceKM(e, name)
			*to = &n
		case **units.Length:
			if d := e.Depth(name); d != nil {
				*to = &d.Value
			}
		case **units.Pressure:
			if d := e.Pressure(name); d != nil {
				*to = &d.Value
			}
		}
	}

	return p
}

func (s *room) policyOf(r *site.Request) (models.Depot, models.DepotPolicy, error) {
	id, class := models.DepotID(r.Param("id")), models.Class(r.Param("class"))
	if !class.Valid() {
		return models.Depot{}, models.DepotPolicy{}, models.Errorf(models.NotFound, "there is no such class of vehicle")
	}
	d, err := s.Fleet.Depot(r.Ctx(), r.Actor, id)
	if err != nil {
		return d, models.DepotPolicy{}, err
	}

	all, err := s.Fleet.DepotPolicies(r.Ctx(), r.Actor, id)
	for _, p := range all {
		if p.Class == class {
			return d, p, err
		}
	}

	return d, models.DepotPolicy{DepotID: id, Class: class}, err
}

func (s *room) showPolicy(r *site.Request, status int, d models.Depot, c models.Class, e *form.Entry) error {
	return s.ShowForm(r, status, site.FormPage{
		Heading: "Policy for " + say.ClassName(c) + ", " + d.Name,
		Intro: "Fill in only what differs from the default here. Zero switches a check off; empty leaves the " +
			"default. Whichever comes first counts, distance or time.",
		Action:   "/settings/depots/" + string(d.ID) + "/policy/" + string(c),
		Entry:    e,
		Sections: policySections(e, models.DefaultPolicy(c, d.Units)),
		Version:  e.Version(),
	})
}

func (s *room) policyForm(r *site.Request) error {
	d, p, err := s.policyOf(r)
	if err != nil {
		return err
	}
	u := r.Units(d)
	return s.showPolicy(r, http.StatusOK, d, p.Class, form.NewEntry(patchValues(p, u), u))
}

func (s *room) setPolicy(r *site.Request) error {
	sent, err := r.PostedForm()
	if err != nil {
		return err
	}

	d, old, err := s.policyOf(r)
	if err != nil {
		return err
	}
	e := form.NewEntry(sent, r.Units(d))
	p := models.DepotPolicy{DepotID: d.ID, Class: old.Class, Patch: patch(e, old)}
	p.Version = e.Version()

	if !e.OK() {
		e.Msg = "Some fields could not be read"
		return s.showPolicy(r, http.StatusUnprocessableEntity, d, old.Class, e)
	}

	if _, err := s.Fleet.SetDepotPolicy(r.Ctx(), r.Actor, p); err != nil {
		if errors.Is(err, models.Stale) {
			e.ShowConflict(patchValues(old, e.Units))
			return s.showPolicy(r, site.StatusOf(err), d, old.Class, e)
		}
		if e.ApplyError(err) {
			return s.showPolicy(r, http.StatusUnprocessableEntity, d, old.Class, e)
		}
		return err
	}

	return r.Redirect(http.StatusSeeOther, r.Request().URL.Path+"?said=saved")
}
