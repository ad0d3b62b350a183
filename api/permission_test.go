package api_test

import (
	"encoding/json"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"rimledger/api/auth"
	"rimledger/api/rest"
	"rimledger/api/web"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
)

// TestPermissions tries every operation of the API and every address of the pages
// as a viewer, a technician, a manager, a read-only token, somebody disabled and
// nobody, each with the ids of another depot, in the path, the query and the body.
// What a person may not see is answered as if it did not exist. The same request
// with the person's own ids succeeds, so the refusals are not about its shape.
func TestPermissions(t *testing.T) {
	modeltest.Long(t)
	t.Parallel()
	g := newGate(t)
	cases := slices.Concat(apiCases(), pageCases())
	everyOperation(t, g, cases)

	// Lists come first, while one page holds what there is.
	slices.SortStableFunc(cases, func(a, b permitted) int {
		return map[bool]int{true: 0, false: 1}[a.lists] - map[bool]int{true: 0, false: 1}[b.lists]
	})

	for _, c := range cases {
		t.Run(c.op, func(t *testing.T) {
			g.t = t
			g.turnedAway(c)
			g.elsewhere(c)
			g.sentAgain(c)
			g.admitted(c)
		})
	}
}

// everyOperation fails for an operation or an address without a case.
func everyOperation(t *testing.T, g *gate, cases []permitted) {
	t.Helper()
	covered := map[string]bool{}
	for _, c := range cases {
		covered[c.op] = true
	}

	known := map[string]bool{}
	need := func(op string) {
		known[op] = true
		if _, apart := testedApart[op]; !covered[op] && !apart {
			t.Errorf("%s has no case in the table of permissions", op)
		}
	}

	var document struct{ Paths map[string]map[string]any }
	a := g.send(&caller{}, get(rest.Prefix+"/openapi.json"))
	if err := json.Unmarshal([]byte(a.body), &document); err != nil {
		t.Fatal(err)
	}

	for path, item := range document.Paths {
		for method := range item {
			if method != "parameters" && method != "servers" {
				need(strings.ToUpper(method) + " " + rest.Prefix + path)
			}
		}
	}

	e := echo.New()
	if _, err := web.Mount(e, web.Deps{Auth: &auth.Auth{}}); err != nil {
		t.Fatal(err)
	}

	for _, r := range e.Routes() {
		if r.Method != echo.RouteNotFound {
			need(r.Method + " " + r.Path)
		}
	}

	for _, c := range cases {
		if !known[c.op] || !slices.Contains(models.Roles, c.least) {
			t.Errorf("%s for a %q is in the table and is no operation for a role", c.op, c.least)
		}
	}

	for op := range testedApart {
		if !known[op] {
			t.Errorf("%s is no operation any more", op)
		}
	}
}

// mayUse reports whether c may use the operation on what c sees.
func (p permitted) mayUse(c *caller) bool {
	switch {
	case c.nobody:
		return false
	case c.readOnly && !p.reads && p.method() != http.MethodGet:
		return false
	case p.allDepots && len(c.user.Depots) > 0:
		return false
	}
	return slices.Index(models.Roles, c.role) >= slices.Index(models.Roles, p.least)
}

// turnedAway tries the operation as everybody who may not use it.
func (g *gate) turnedAway(p permitted) {
	g.t.Helper()

	for _, c := range g.callers {
		if p.mayUse(c) {
			continue
		}

		r := p.make(g.own, c)
		before := g.records()
		a := g.send(c, r)

		want := http.StatusForbidden
		if c.nobody {
			want = http.StatusUnauthorized
		}
		asked := p.asksPassword && c.readOnly && a.status == http.StatusUnprocessableEntity // a token knows none
		if a.status != want && !asked {
			g.t.Errorf("%s: status %d, want %d: %.300s", c.name, a.status, want, a.plain())
		}

		g.unchanged(c.name, before)
		g.discreet(c, r, a)
	}
}

// elsewhere sends the request with one of its ids, and with all of them, replaced
// by those of another depot, and by ones that nothing has.
func (g *gate) elsewhere(p permitted) {
	g.t.Helper()

	for _, c := range g.callers {
		if !p.mayUse(c) || len(g.hidden(c)) == 0 {
			continue
		}

		own, foreign := p.make(g.own, c), p.make(g.foreign, g.boss)
		if len(own.ids) == 0 {
			return
		}

		for i, one := range own.ids {
			theirs, none := own.replaced(one.id, foreign.ids[i].id), own.replaced(one.id, uuid.NewString())
			g.alike(c, "another depot's "+one.what, theirs, none, one.narrow)
		}

		if len(own.ids) > 1 {
			theirs, none, narrows := own, own, true
			for i, one := range own.ids {
				theirs, none = theirs.replaced(one.id, foreign.ids[i].id), none.replaced(one.id, uuid.NewString())
				narrows = narrows && one.narrow
			}
			g.alike(c, "everything another depot's", theirs, none, narrows)
		}
	}
}

// alike requires that a request about another depot's things is refused, or
// finds nothing, exactly as one about things that do not exist.
func (g *gate) alike(c *caller, what string, theirs, none request, narrows bool) {
	g.t.Helper()
	before := g.records()

	got, want := g.send(c, theirs), g.send(c, none)
	if got.status != want.status || got.plain() != want.plain() {
		g.t.Errorf(
			"%s, %s: status %d\n%.400s\nwhere there is none: status %d\n%.400s",
			c.name,
			what,
			got.status,
			got.plain(),
			want.status,
			want.plain(),
		)
	}

	if refused := got.status >= 400 && got.status < 500; refused == narrows {
		g.t.Errorf("%s, %s: status %d: %.300s", c.name, what, got.status, got.plain())
	}

	g.unchanged(c.name+", "+what, before)
	g.discreet(c, theirs, got)
}

// sentAgain sends what was done at another depot once more, to the letter, as
// somebody who does not see that depot: repeating gives the first answer only to
// those who may have it.
func (g *gate) sentAgain(p permitted) {
	g.t.Helper()
	if p.method() == http.MethodGet {
		return
	}

	r := p.make(g.foreign, g.boss)
	if len(r.ids) == 0 {
		return
	}
	if a := g.send(g.boss, r); !a.succeeded() {
		g.t.Fatalf("%s at the other depot: status %d: %.1500s", g.boss.name, a.status, a.plain())
	}

	for _, c := range g.callers {
		if !p.mayUse(c) || len(g.hidden(c)) == 0 {
			continue
		}

		before := g.records()
		a := g.send(c, r)
		if a.status < 400 || a.status >= 500 {
			g.t.Errorf("%s repeats what was done elsewhere: status %d: %.300s", c.name, a.status, a.plain())
		}
		g.unchanged(c.name+" repeats", before)
		g.discreet(c, r, a)
	}
}

// admitted sends a request about a person's own things as everybody who may.
func (g *gate) admitted(p permitted) {
	g.t.Helper()
	callers := g.callers
	if p.allDepots {
		callers = []*caller{g.boss}
	}

	for _, c := range callers {
		if !p.mayUse(c) {
			continue
		}

		at := g.own
		if len(c.sees) == 2 {
			at = g.second
		}
		r := p.make(at, c)

		a := g.send(c, r)
		if !a.succeeded() {
			g.t.Errorf("%s: status %d: %.1500s", c.name, a.status, a.plain())
		}
		g.discreet(c, r, a)

		for _, seen := range c.sees {
			if p.lists && !strings.Contains(a.body, seen.word) {
				g.t.Errorf("%s does not find what belongs to %s: %.600s", c.name, seen.word, a.plain())
			}
		}

		if p.asksPassword { // which takes long: one caller is enough
			return
		}
	}
}

func (a reply) succeeded() bool { return a.status >= 200 && a.status < 400 }

// unchanged fails if anything was recorded.
func (g *gate) unchanged(who, before string) {
	g.t.Helper()
	if after := g.records(); after != before {
		g.t.Errorf("%s changed the record:\n%s\n%s", who, before, after)
	}
}

// discreet fails if the answer to r names what c does not see and r did not name.
func (g *gate) discreet(c *caller, r request, a reply) {
	g.t.Helper()
	for _, word := range g.hidden(c) {
		if strings.Contains(r.body, word) {
			continue
		}
		if i := strings.Index(strings.ToLower(a.body), strings.ToLower(word)); i >= 0 {
			g.t.Errorf("%s is told of %s: ...%.200s", c.name, word, a.body[max(i-80, 0):])
		}
	}
}

// anID is any id, and the number of a request, which differ between two answers.
var anID = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}|"request":"[A-Z2-7]+"`)

// plain is the text of a without ids; of a page what stands in its middle.
func (a reply) plain() string {
	text := anID.ReplaceAllString(a.body, "#")
	if _, main, ok := strings.Cut(text, "<main"); ok {
		return main
	}
	return text
}

// TestCalendarOfDepots reads the calendar by the key in its address, which is that
// of a person: it holds what that person sees and nothing else.
func TestCalendarOfDepots(t *testing.T) {
	t.Parallel()
	g := newGate(t)
	for _, p := range []*place{g.own, g.second, g.foreign} { // what is booked in stands in the calendar
		booking := fleet.Booking{ID: newID[string](), Vehicles: []models.VehicleID{p.shared.ID},
			Day: noon.AddDate(0, 0, 2).Format(time.DateOnly)}
		must(g.fleet.BookIn(t.Context(), g.system, booking))(t)
	}

	for _, c := range g.callers {
		if c.nobody || c.readOnly || len(g.hidden(c)) == 0 {
			continue
		}

		_, key, err := g.fleet.AddToken(
			t.Context(),
			g.system,
			models.Token{
				UserID:    c.user.ID,
				Name:      "calendar",
				Feed:      true,
				ReadOnly:  true,
				ExpiresAt: noon.AddDate(0, 1, 0),
			},
		)
		if err != nil {
			t.Fatal(err)
		}

		whole := g.send(&caller{}, get("/calendar.ics?key="+key))
		if whole.status != http.StatusOK || !strings.Contains(whole.body, "BEGIN:VEVENT") {
			t.Errorf("%s: status %d: %.300s", c.name, whole.status, whole.body)
		}
		g.discreet(c, request{}, whole)

		for _, seen := range c.sees {
			if !strings.Contains(whole.body, seen.word) {
				t.Errorf("%s: the calendar lacks %s", c.name, seen.word)
			}
		}

		address := "/calendar.ics?key=" + key + "&depot="
		g.alike(c, "another depot", get(address+string(g.foreign.depot)), get(address+newID[string]()), false)
		if own := g.send(&caller{}, get(address+string(g.own.depot))); own.status != http.StatusOK {
			t.Errorf("%s: the calendar of one depot: status %d", c.name, own.status)
		}
	}
}
