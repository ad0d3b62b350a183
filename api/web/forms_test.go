package web_test

import (
	"errors"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/labstack/echo/v4"
	"golang.org/x/net/html"

	"rimledger/api/auth"
	"rimledger/api/web"
	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/demo"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
)

// sentForm is a form of a page as a browser would send it untouched.
type sentForm struct {
	page, action string
	name         string // action without numbers of things, and the button if it says something
	values       url.Values
	options      map[string][]string // what can be chosen or ticked, by field
	multipart    bool
}

var (
	aNumber   = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f-]{27}`)
	aPosition = regexp.MustCompile(`/(bench|at)/[0-9A-Z]+`)
	aClass    = regexp.MustCompile(`/policy/[a-z_]+`)
)

func formName(action string) string {
	path, _, _ := strings.Cut(action, "?")
	path = aNumber.ReplaceAllString(path, ":id")
	return aClass.ReplaceAllString(aPosition.ReplaceAllString(path, "/$1/:position"), "/policy/:class")
}

// formsOf lists the forms of a page that record something.
func formsOf(t *testing.T, page, body string) []sentForm {
	t.Helper()
	doc := modeltest.Must(html.Parse(strings.NewReader(body)))(t)
	var out []sentForm

	byID := map[string]int{}
	for n := range doc.Descendants() {
		if n.Type == html.ElementNode && n.Data == "form" && strings.EqualFold(webtest.Attr(n, "method"), "post") {
			f := sentForm{
				page:      page,
				action:    webtest.Attr(n, "action"),
				values:    url.Values{},
				options:   map[string][]string{},
				multipart: webtest.Attr(n, "enctype") == "multipart/form-data",
			}
			if f.action == "" {
				f.action = page
			}

			f.name = formName(f.action)
			if id := webtest.Attr(n, "id"); id != "" {
				byID[id] = len(out)
			}

			for c := range n.Descendants() {
				f.take(c)
			}

			out = append(out, f)
		}
	}

	for n := range doc.Descendants() { // fields that stand outside of their form
		if i, ok := byID[webtest.Attr(n, "form")]; ok && n.Type == html.ElementNode && webtest.Attr(n, "form") != "" {
			out[i].take(n)
		}
	}

	return out
}

// take adds what one element of the form sends.
func (f *sentForm) take(n *html.Node) {
	name := webtest.Attr(n, "name")
	if n.Type != html.ElementNode || name == "" {
		return
	}

	switch n.Data {
	case "button":
		if len(f.values) == 0 {
			f.name += " " + name
			f.values.Set(name, webtest.Attr(n, "value"))
		}
	case "input":
		switch webtest.Attr(n, "type") {
		case "checkbox", "radio":
			f.options[name] = append(f.options[name], webtest.Attr(n, "value"))
			if webtest.Has(n, "checked") {
				f.values.Add(name, webtest.Attr(n, "value"))
			}
		case "file":
		default:
			f.values.Add(name, webtest.Attr(n, "value"))
		}
	case "textarea":
		f.values.Add(name, webtest.Text(n))
	case "select":
		value, first := "", true
		for o := range n.Descendants() {
			if o.Data == "option" && o.Type == html.ElementNode {
				v := webtest.Text(o)
				if webtest.Has(o, "value") {
					v = webtest.Attr(o, "value")
				}
				if v != "" {
					f.options[name] = append(f.options[name], v)
				}
				if webtest.Has(o, "selected") || first {
					value = v
				}

				first = false
			}
		}

		f.values.Add(name, value)
	}
}

// formCase says how a form is filled in wrongly and rightly.
type formCase struct {
	name  string                  // of sentForm
	bad   [2]string               // a field, and what is typed into it that cannot be right
	also  []string                // more fields of the bad form
	good  []string                // fields of the right one; "first" is the first that can be chosen
	more  func(*forms, *sentForm) // what cannot be written down beforehand
	notes string                  // why a part of the test does not apply
}

// Why a part does not apply.
const (
	nothingTyped = "nothing is typed"
	secrets      = "passwords are never sent back to a page"
	files        = "browsers do not let a page put a file back"
)

// checkSpin is a job at the bench with nothing fitted.
var checkSpin = []string{
	"do",
	"save",
	"why",
	"complaint",
	"mode",
	"two_plane",
	"planes",
	"flanges",
	"check_spin",
	"1",
	"shown.outer.mass",
	"0",
	"shown.inner.mass",
	"0",
}

// formCases is every form of the pages, in an order in which each finds what it needs.
var formCases = []formCase{
	{
		name: "/vehicles/:id/inspect",
		bad:  [2]string{"p.1L.pressure", "hard"},
		also: []string{"note", "rain"},
		good: []string{"note", "rain", "p.1L.pressure", "100 psi"},
	},
	{
		name: "/",
		bad:  [2]string{"day", "someday"},
		also: []string{"vehicle", "first"},
		good: []string{"vehicle", "first", "note", "bay 2"},
		more: func(f *forms, s *sentForm) {
			s.values.Set("day", f.now.AddDate(0, 0, 3).Format(time.DateOnly))
		},
	},
	{
		name: "/findings/:id/acknowledge",
		bad:  [2]string{"until", "soon"},
		good: []string{"why", "booked in"},
		more: func(f *forms, s *sentForm) {
			s.values.Set("until", f.now.AddDate(0, 0, 3).Format(time.DateOnly))
		},
	},
	{name: "/findings/:id/acknowledge withdraw", notes: nothingTyped},
	{
		name: "/vehicles/:id/do/odometer",
		bad:  [2]string{"odometer", "far"},
		more: func(f *forms, s *sentForm) { s.values.Set("odometer", f.further(s)) },
	},
	{
		name: "/vehicles/:id/do/withdraw",
		bad:  [2]string{"odometer", "far"},
		good: []string{"reason", "read from the wrong vehicle"},
		more: func(f *forms, s *sentForm) { s.values.Set("supersedes", f.newest(s)) },
	},
	{
		name: "/vehicles/:id/do/rotate",
		bad:  [2]string{"torque_nm", "tight"},
		good: []string{"goes.1L", "1R", "goes.1R", "1L"},
	},
	{
		name: "/vehicles/:id/do/remove",
		bad:  [2]string{"depth.1L", "deep"},
		also: []string{"reason.1L", "worn_even"},
		good: []string{"reason.1L", "worn_even", "to.1L", "stock"},
	},
	{name: "/vehicles/:id/do/fit", bad: [2]string{"torque_nm", "tight"}, good: []string{"tire.1L", "first"}},
	{
		name: "/vehicles/:id/do/repair",
		bad:  [2]string{"cost", "much"},
		good: []string{"position", "first", "what", "plug and patch"},
	},
	{name: "/vehicles/:id/do/retorque", bad: [2]string{"torque_nm", "tight"}, good: []string{"torque_nm", "600 N·m"}},
	{name: "/vehicles/:id/do/alignment", bad: [2]string{"odometer", "far"}, good: []string{"found", "toe in 5 mm"}},
	{name: "/vehicles/:id/do/service", bad: [2]string{"odometer", "far"}, good: []string{"what", "dampers"}},
	{
		name: "/vehicles/:id/do/vibration",
		bad:  [2]string{"starts_kmh", "fast"},
		good: []string{"starts_kmh", "50", "felt_at", "seat"},
	},
	{
		name: "/vehicles/:id/do/clearance",
		bad:  [2]string{"odometer", "far"},
		also: []string{"codes", "first"},
		good: []string{"codes", "first", "note", "tire looked at inside"},
	},
	{name: "/vehicles/:id/bench/:position", bad: [2]string{"shown.outer.angle", "north"}, also: checkSpin,
		good: checkSpin},
	{
		name: "/vehicles/new",
		bad:  [2]string{"torque_nm", "tight"},
		good: []string{"depot", "first", "number", "N-1", "class", "tractor", "axles", "first"},
	},
	{name: "/vehicles/:id/edit", bad: [2]string{"max_mass_kg", "heavy"}, good: []string{"parking_row", "Z"}},
	{
		name: "/tires/new",
		bad:  [2]string{"price", "much"},
		good: []string{"depot", "first", "number", "N-T1", "size", "295/75R22.5", "new_depths", "18, 18, 18"},
		more: func(f *forms, s *sentForm) {
			f.pages = append(
				[]string{
					"/tires/" + s.values.Get("id") + "/bench",
					"/tires/" + s.values.Get("id") + "/withdraw",
					"/tires/" + s.values.Get("id") + "/move",
				},
				f.pages...)
			f.tire = models.TireID(s.values.Get("id"))
		},
	},
	{name: "/tires/:id/bench", bad: [2]string{"shown.outer.angle", "north"}, also: checkSpin, good: checkSpin},
	{
		name: "/tires/:id/withdraw",
		bad:  [2]string{"at", "yesterday"},
		also: []string{"reason", "another wheel"},
		good: []string{"supersedes", "first", "reason", "another wheel"},
	},
	{name: "/tires/:id/edit", bad: [2]string{"price", "much"}, good: []string{"design", "rib"}},
	{name: "/tires/:id/move", bad: [2]string{"at", "yesterday"}, good: []string{"to", "at_retreader"}},
	{
		name: "/wheels/new",
		bad:  [2]string{"width_in", "broad"},
		good: []string{
			"depot",
			"first",
			"number",
			"N-W1",
			"diameter_in",
			"22.5",
			"width_in",
			"8.25",
			"material",
			"steel",
		},
		more: func(f *forms, s *sentForm) {
			f.pages = append(f.pages, "/wheels/"+s.values.Get("id")+"/edit")
		},
	},
	{name: "/wheels/:id/edit", bad: [2]string{"width_in", "broad"}, good: []string{"width_in", "9"}},
	{name: "/sheets", bad: [2]string{"kind", "song"}, notes: files},
	{
		name: "/settings/depots/new",
		bad:  [2]string{"own.0.min_depth", "deep"},
		good: []string{"name", "Dell Yard", "time_zone", "Europe/Oslo", "jurisdiction", "first", "currency", "EUR"},
	},
	{
		name: "/settings/depots/:id",
		bad:  [2]string{"time_zone", "Mars/Base"},
		good: []string{"recipients", "mara@larkfield.example"},
	},
	{
		name: "/settings/depots/:id/policy/:class",
		bad:  [2]string{"InspectDays", "often"},
		good: []string{"InspectDays", "20"},
	},
	{
		name: "/settings/people/new",
		bad:  [2]string{"email", "not an address"},
		also: []string{"name", "Lee Marsh"},
		good: []string{"name", "Lee Marsh", "email", "lee@larkfield.example"},
	},
	{
		name: "/settings/people/:id",
		bad:  [2]string{"email", "not an address"},
		good: []string{"name", "Odd F. Fennimore"},
	},
	{name: "/settings/people/:id/password", bad: [2]string{"password", "short"}, notes: secrets},
	{
		name:  "/settings/password",
		bad:   [2]string{"password", "short"},
		also:  []string{"old_password", demo.People[0].Password},
		notes: secrets,
	},
	{
		name: "/settings/units",
		bad:  [2]string{"depth", "mm"},
		good: []string{"depth", "mm", "pressure", "bar", "distance", "km", "mass", "g"},
	},
	{name: "/settings/tokens", bad: [2]string{"days", "forever"}, good: []string{"name", "telematics"}},
	{name: "/settings/tokens/:id/revoke", notes: nothingTyped},
	{name: "/settings/calendar", notes: nothingTyped},
	{name: "/digest", notes: "nothing is typed; TestDigestToMe counts the mails"},
}

// notOurs are the addresses that are tested by themselves: they are what a
// stranger meets.
var notOurs = []string{"/sign-in", "/sign-out", "/first"}

// forms is the demo fleet, and who fills its forms in.
type forms struct {
	t      *testing.T
	fleet  *fleet.Service
	server *webtest.World
	here   *webtest.Person
	now    time.Time
	pages  []string
	// whose entries are counted
	vehicle models.VehicleID
	tire    models.TireID
}

// further is what the odometer of a form's vehicle may show next.
func (f *forms) further(s *sentForm) string {
	v := modeltest.Must(
		f.fleet.Vehicle(f.t.Context(), fleet.System(models.FromDemo), models.VehicleID(aNumber.FindString(s.action))),
	)(
		f.t,
	)
	return strings.TrimSpace(v.State.Odometer.Text) + "" // the same again is no step back
}

// newest is the number of the newest entry of a form's vehicle.
func (f *forms) newest(s *sentForm) string {
	list, _, err := f.fleet.Events(
		f.t.Context(),
		fleet.System(models.FromDemo),
		models.EventFilter{VehicleID: models.VehicleID(aNumber.FindString(s.action))},
		models.Page{Limit: 1},
	)
	if err != nil {
		f.t.Fatal(err)
	}
	return string(list[0].Header().ID)
}

// records counts what was written since the test began.
func (f *forms) records() int {
	f.t.Helper()
	n := 0

	changes, _, err := f.fleet.Changes(
		f.t.Context(),
		fleet.System(models.FromDemo),
		models.ChangeFilter{},
		models.Page{Limit: 200},
	)
	if err != nil {
		f.t.Fatal(err)
	}

	for _, c := range changes {
		if c.At.After(f.now) && c.Entity != "session" {
			n++
		}
	}

	for _, of := range []models.EventFilter{{VehicleID: f.vehicle, Superseded: true}, {TireID: f.tire, Superseded: true}} {
		if of.VehicleID == "" && of.TireID == "" {
			continue
		}

		events, _, err := f.fleet.Events(f.t.Context(), fleet.System(models.FromDemo), of, models.Page{Limit: 200})
		if err != nil && !errors.Is(err, models.NotFound) { // a tire that a form is to create
			f.t.Fatal(err)
		}

		n += len(events)
		for _, e := range events {
			if e.Header().SupersededBy != "" {
				n++ // by an entry that is on no tire's list
			}
		}
	}

	return n
}

// find opens pages until one holds the form.
func (f *forms) find(name string) (sentForm, bool) {
	for _, page := range f.pages {
		if !strings.Contains(name, " ") && !leads(page, name) {
			continue
		}
		for _, s := range formsOf(f.t, page, f.here.Get(page).Body) {
			if s.name == name {
				return s, true
			}
		}
	}
	return sentForm{}, false
}

// leads reports whether a page may hold a form: those of the settings' start
// page and of the list have others' addresses.
func leads(page, name string) bool {
	at := formName(page)
	return at == name || strings.HasPrefix(name, at) && at != "/"
}

// fill puts values over a form.
func (s *sentForm) fill(pairs []string) {
	for i := 0; i < len(pairs); i += 2 {
		value := pairs[i+1]
		if value == "first" && len(s.options[pairs[i]]) > 0 {
			value = s.options[pairs[i]][0]
		}
		s.values.Set(pairs[i], value)
	}
}

// TestEveryForm goes over every form of the pages: what cannot be right is shown
// again with what is wrong beside it; what is sent after the session ended is
// there after signing in again; and the same sent twice is one record.
func TestEveryForm(t *testing.T) {
	t.Parallel()
	known := map[string]bool{}
	for _, c := range formCases {
		name, _, _ := strings.Cut(c.name, " ")
		known[name] = true
	}

	e := echo.New()
	if _, err := web.Mount(e, web.Deps{Auth: &auth.Auth{}}); err != nil {
		t.Fatal(err)
	}

	for _, r := range e.Routes() {
		name := strings.Replace(r.Path, ":kind", "odometer", 1)
		if r.Method == http.MethodPost && !known[name] && !slices.Contains(notOurs, name) {
			t.Errorf("the form of %s is not in formCases", r.Path)
		}
	}

	fl, server := webtest.DemoFleet(t)
	f := &forms{t: t, fleet: fl, server: &webtest.World{T: t, Server: server, Fleet: fl}, now: webtest.Now()}
	f.here = f.server.Stranger()
	f.here.Post("/sign-in", url.Values{"email": {demo.People[0].Email}, "password": {demo.People[0].Password}}).
		Wants(t, http.StatusSeeOther)
	f.vehicle = webtest.TractorToSee(t, fl, webtest.Damaged).Vehicle.ID

	f.pages = f.everywhere()
	for _, c := range formCases {
		t.Run(strings.TrimPrefix(c.name, "/"), func(t *testing.T) {
			f.t, f.server.T = t, t
			if c.bad[0] != "" && c.notes != files {
				f.refused(c)
			}
			if c.notes != secrets && c.notes != files {
				f.kept(c)
				f.twice(c)
			}
		})
	}
}

// everywhere lists the pages, and the forms that a vehicle's page leads to.
func (f *forms) everywhere() []string {
	var out []string
	for _, p := range everyPage(f.t, f.fleet) {
		out = append(out, p.path)
	}
	v := "/vehicles/" + string(f.vehicle)
	for _, link := range regexp.MustCompile(`href="(`+v+`/do/[^"]*)"`).FindAllStringSubmatch(f.here.Get(v).Body, -1) {
		out = append(out, html.UnescapeString(link[1]))
	}
	return out
}

func (f *forms) open(c formCase, fields []string) sentForm {
	f.t.Helper()
	s, ok := f.find(c.name)
	if !ok {
		f.t.Fatalf("no page has the form %s", c.name)
	}
	s.fill(fields)
	return s
}

func (f *forms) refused(c formCase) {
	f.t.Helper()
	s := f.open(c, c.also)
	s.values.Set(c.bad[0], c.bad[1])
	before := f.records()
	a := f.here.Post(s.action, s.values)
	if a.Status != http.StatusUnprocessableEntity {
		f.t.Errorf("%s %q: status %d, want 422", c.bad[0], c.bad[1], a.Status)
	}

	if n := f.records() - before; n != 0 {
		f.t.Errorf("%s %q: %d records were made", c.bad[0], c.bad[1], n)
	}

	f.beside(a.Body, c)

	for _, w := range webtest.FaultsOf(f.t, a.Body) {
		f.t.Errorf("refused: %s", w)
	}
}

// beside looks for what was typed, and for the message that describes its field.
func (f *forms) beside(body string, c formCase) {
	f.t.Helper()
	doc := modeltest.Must(html.Parse(strings.NewReader(body)))(f.t)
	var field *html.Node

	texts := map[string]string{}
	for n := range doc.Descendants() {
		if n.Type == html.ElementNode && webtest.Attr(n, "name") == c.bad[0] {
			field = n
		}
		if id := webtest.Attr(n, "id"); id != "" {
			texts[id] = webtest.Text(n)
		}
	}

	switch {
	case field == nil:
		f.t.Errorf("the field %s is not shown again", c.bad[0])
		return
	case webtest.Attr(field, "value") != c.bad[1] && webtest.Text(field) != c.bad[1] &&
		c.notes != secrets && field.Data != "select":
		f.t.Errorf("%s holds %q, want what was typed: %q", c.bad[0], webtest.Attr(field, "value"), c.bad[1])
	case webtest.Attr(field, "value") != "" && c.notes == secrets:
		f.t.Errorf("a password stands on the page")
	}

	if said := texts[webtest.Attr(field, "aria-describedby")]; said == "" ||
		webtest.Attr(field, "aria-invalid") != "true" {
		f.t.Errorf("no message describes %s: %q", c.bad[0], said)
	}
}

// filled is the form as it is right.
func (f *forms) filled(c formCase) sentForm {
	f.t.Helper()
	s := f.open(c, c.good)
	if c.more != nil {
		c.more(f, &s)
	}
	return s
}

// kept sends the right form without a session, signs in on the page that comes,
// and sends what that gives back.
func (f *forms) kept(c formCase) {
	f.t.Helper()
	s := f.filled(c)
	before := f.records()
	p := f.server.Stranger()
	a := p.Post(s.action, s.values)
	if a.Status != http.StatusUnauthorized || f.records() != before {
		f.t.Fatalf("without a session: status %d and %d records, want 401 and none", a.Status, f.records()-before)
	}

	in := formsOf(f.t, "/sign-in", a.Body)[0]
	in.values.Set("email", demo.People[0].Email)
	in.values.Set("password", demo.People[0].Password)
	a = p.Post(in.action, in.values)

	if len(s.values) == 0 {
		return // nothing was typed, so nothing is offered
	}

	again := formsOf(f.t, "/sign-in", a.Body)
	i := slices.IndexFunc(again, func(g sentForm) bool { return g.action == s.action })
	if i < 0 {
		f.t.Fatalf("after signing in again no form leads to %s", s.action)
	}

	for name, want := range s.values {
		if got := again[i].values[name]; !slices.Equal(got, want) && !strings.Contains(name, "password") {
			f.t.Errorf("after signing in again %s is %q, want %q", name, got, want)
		}
	}
}

// twice sends the right form two times.
func (f *forms) twice(c formCase) {
	f.t.Helper()
	s := f.filled(c)
	before := f.records()
	first := f.here.Post(s.action, s.values)
	if first.Status != http.StatusSeeOther && first.Status != http.StatusOK {
		_, main, _ := strings.Cut(first.Body, "<main")
		f.t.Fatalf("status %d:\n%.2500s", first.Status, main)
	}

	one := f.records()
	if one == before && c.name != "/digest" {
		_, main, _ := strings.Cut(first.Body, "<main")
		f.t.Errorf("nothing was recorded: status %d, to %s\n%.600s", first.Status, first.Location, main)
	}

	second := f.here.Post(s.action, s.values)
	if n := f.records(); n != one {
		f.t.Errorf("the same sent twice made %d records, once %d", n-before, one-before)
	}
	if second.Status >= 500 {
		f.t.Errorf("the second time: status %d", second.Status)
	}
}
