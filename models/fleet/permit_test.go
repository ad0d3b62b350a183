package fleet_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/fleet"
	"rimledger/models/units"
)

// as returns a person of a role who sees these depots, or all.
func (w *world) as(role models.Role, depots ...models.DepotID) fleet.Actor {
	u := models.User{ID: newID[models.UserID](), Name: "Lee Marsh", Role: role, Depots: depots}
	return fleet.Actor{User: u, Source: models.FromAPI}
}

// otherDepot opens one more depot.
func (w *world) otherDepot(name string) models.DepotID {
	w.t.Helper()
	d := models.Depot{ID: newID[models.DepotID](), Name: name, TimeZone: "America/Chicago", Jurisdiction: "US",
		Units: units.US, Currency: "USD"}
	return must(w.fleet.CreateDepot(w.ctx, w.boss, d))(w.t).ID
}

// person adds a technician who sees these depots, or all.
func (w *world) person(name string, depots ...models.DepotID) models.User {
	w.t.Helper()
	u := models.User{ID: newID[models.UserID](), Name: name, Email: newID[string]() + "@fleet.example",
		Role: models.Technician, Depots: depots}
	return must(w.fleet.AddUser(w.ctx, w.boss, u, ""))(w.t)
}

// move takes the tractor of w to another depot.
func (w *world) move(to models.DepotID) {
	w.t.Helper()
	w.vehicle.DepotID = to
	w.vehicle = must(w.fleet.EditVehicle(w.ctx, w.boss, w.vehicle))(w.t)
}

// token makes one for a person, as the command does, and returns its secret.
func (w *world) token(u models.User) (models.Token, string) {
	w.t.Helper()
	k := models.Token{UserID: u.ID, Name: "board", ExpiresAt: w.now.Add(day)}
	k, secret, err := w.fleet.AddToken(w.ctx, fleet.System(models.FromCLI), k)
	if err != nil {
		w.t.Fatal(err)
	}
	return k, secret
}

// takeOff1L is a removal into stock.
func takeOff1L(m models.Meta) *models.Removal {
	return &models.Removal{Meta: m, Removed: []models.Removed{
		{Position: "1L", Reason: models.WornEven, To: models.InStock}}}
}

// Every use-case that a person asks for opens its transaction through readAs or
// writeAs, which check the permission and the ids that the request names.
func TestUseCasesAskForPermission(t *testing.T) {
	t.Parallel()
	files := must(os.ReadDir("."))(t)
	cases := 0
	for _, file := range files {
		if !strings.HasSuffix(file.Name(), ".go") || strings.HasSuffix(file.Name(), "_test.go") {
			continue
		}
		parsed := must(parser.ParseFile(token.NewFileSet(), file.Name(), nil, 0))(t)
		for _, d := range parsed.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || !f.Name.IsExported() || f.Recv == nil || !takesActor(f) {
				continue
			}
			cases++
			for _, called := range callsIn(f) {
				if called == "read" || called == "write" || called == "Read" || called == "Write" {
					t.Errorf("%s in %s opens a transaction by %s", f.Name.Name, file.Name(), called)
				}
			}
		}
	}
	if cases < 40 { // there are some fifty
		t.Errorf("only %d use-cases were looked at", cases)
	}
}

func takesActor(f *ast.FuncDecl) bool {
	for _, p := range f.Type.Params.List {
		if name, ok := p.Type.(*ast.Ident); ok && name.Name == "Actor" {
			return true
		}
	}
	return false
}

// callsIn lists the names of what is called in f.
func callsIn(f *ast.FuncDecl) []string {
	var out []string
	ast.Inspect(f.Body, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok {
			return true
		}
		switch fn := call.Fun.(type) {
		case *ast.Ident:
			out = append(out, fn.Name)
		case *ast.SelectorExpr:
			out = append(out, fn.Sel.Name)
		}
		return true
	})
	return out
}

// A person may do nothing while disabled, whatever way they came in.
func TestDisabledPersonMayNothing(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	gone := w.as(models.Manager)
	gone.User.Disabled = true
	_, err := w.fleet.Depots(w.ctx, gone)
	wantKind(t, err, models.Unauthenticated)
	_, err = w.fleet.CreateTire(w.ctx, gone, w.tire("R900"))

	wantKind(t, err, models.Unauthenticated)

	odd := models.User{Name: "Odd Fennimore", Email: "odd@fleet.example", Role: models.Technician}
	u := must(w.fleet.AddUser(w.ctx, w.boss, odd, "a long enough word"))(t)
	_, secret := w.token(u)
	u.Disabled = true
	must(w.fleet.EditUser(w.ctx, w.boss, u))(t)

	for name, err := range map[string]error{
		"signing in":       second(w.fleet.SignIn(w.ctx, access.Stranger, u.Email, "a long enough word")),
		"an older session": second(w.fleet.Signed(w.ctx, u.ID)),
		"an older token":   second(w.fleet.Authenticate(w.ctx, secret)),
	} {
		if models.KindOf(err) != models.Unauthenticated {
			t.Errorf("%s: got %v, want unauthenticated", name, err)
		}
	}
}

func second[T any](_ T, err error) error { return err }

// A manager of some depots gives nobody more than that, nor changes people who
// see more.
func TestGrantingDepots(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	other := w.otherDepot("Birch Yard")
	limited := w.as(models.Manager, w.depot.ID)

	fresh := func(depots ...models.DepotID) models.User {
		return models.User{
			Name:   "Vic Harrow",
			Email:  newID[string]() + "@fleet.example",
			Role:   models.Viewer,
			Depots: depots,
		}
	}

	for _, tc := range []struct {
		name   string
		depots []models.DepotID
		want   models.Kind
	}{
		{"all depots", nil, models.Forbidden},
		{"another depot", []models.DepotID{other}, models.NotFound},
		{"another depot as well", []models.DepotID{w.depot.ID, other}, models.NotFound},
		{"a depot that there is not", []models.DepotID{newID[models.DepotID]()}, models.NotFound},
	} {
		_, err := w.fleet.AddUser(w.ctx, limited, fresh(tc.depots...), "")
		if models.KindOf(err) != tc.want {
			t.Errorf("a new person with %s: got %v, want %q", tc.name, err, tc.want)
		}
	}

	u := must(w.fleet.AddUser(w.ctx, limited, fresh(w.depot.ID), ""))(t)
	u.Depots = nil
	_, err := w.fleet.EditUser(w.ctx, limited, u)
	wantKind(t, err, models.Forbidden)

	for name, u := range map[string]models.User{
		"all depots":    w.person("Zoe Hill"),
		"another depot": w.person("Bo Hill", other),
		"both":          w.person("Al Hill", w.depot.ID, other),
	} {
		errs := []error{second(w.fleet.User(w.ctx, limited, u.ID)),
			w.fleet.SetPassword(w.ctx, limited, u.ID, "a long enough word")}
		u.Depots = []models.DepotID{w.depot.ID}

		errs = append(errs, second(w.fleet.EditUser(w.ctx, limited, u)))
		for _, err := range errs {
			if models.KindOf(err) != models.NotFound || strings.Contains(err.Error(), "Hill") {
				t.Errorf("somebody who sees %s: got %v, want not found", name, err)
			}
		}
	}
}

// Tokens act for whoever makes them, except that the command makes them for others.
func TestTokenIsOnesOwn(t *testing.T) {
	t.Parallel()
	w := newWorld(t)

	a, b := w.person("Bo Hill"), w.person("Al Hill")
	for _, source := range []models.Source{models.FromPage, models.FromAPI} {
		board := models.Token{UserID: b.ID, Name: "board", ExpiresAt: w.now.Add(day)}
		k, _, err := w.fleet.AddToken(w.ctx, fleet.Actor{User: a, Source: source}, board)
		if err != nil || k.UserID != a.ID {
			t.Errorf("%s: a token of %q for another person acts for %q, %v", source, a.ID, k.UserID, err)
		}
	}

	k, _ := w.token(b)
	if k.UserID != b.ID {
		t.Errorf("by the command: for %q, want %q", k.UserID, b.ID)
	}

	if list := must(w.fleet.Tokens(w.ctx, fleet.Actor{User: b}))(t); len(list) != 1 {
		t.Errorf("the other person has %d tokens, want the one by the command", len(list))
	}

	wantKind(t, w.fleet.RevokeToken(w.ctx, fleet.Actor{User: a}, k.ID), models.NotFound)
	reads := fleet.Actor{User: b, Token: &models.Token{ID: k.ID, Name: "board", ReadOnly: true}}
	wantKind(t, w.fleet.RevokeToken(w.ctx, reads, k.ID), models.Forbidden)
	b.Name = "Al H. Hill"
	_, err := w.fleet.EditUser(w.ctx, reads, b)
	wantKind(t, err, models.Forbidden)
}

// The audit trail of a person limited to depots holds what concerns these depots
// and no other: things, people, and tokens of people.
func TestAuditTrailOfDepots(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	other := w.otherDepot("Birch Yard")
	third := w.otherDepot("Cedar Yard")
	here, both := w.person("Here Hill", w.depot.ID), w.person("Both Hill", w.depot.ID, other)

	everywhere := w.person("Everywhere Hill")
	for _, u := range []models.User{here, both, everywhere} {
		w.token(u)
	}

	w.move(other)

	trail := func(a fleet.Actor, entity string) int {
		t.Helper()
		list, _, err := w.fleet.Changes(w.ctx, a, models.ChangeFilter{Entity: entity}, models.Page{Limit: 100})
		if err != nil {
			t.Fatal(err)
		}
		return len(list)
	}

	for _, tc := range []struct {
		name                         string
		a                            fleet.Actor
		depots, vehicles, users, tok int
	}{
		{"all depots", w.boss, 3, 2, 3, 3},
		{"the depot that the tractor left", w.as(models.Manager, w.depot.ID), 1, 1, 1, 1},
		{"the depot that it went to", w.as(models.Manager, other), 1, 0, 0, 0},
		{"both", w.as(models.Manager, w.depot.ID, other), 2, 2, 2, 2},
		{"another", w.as(models.Manager, third), 1, 0, 0, 0},
	} {
		got := []int{trail(tc.a, "depot"), trail(tc.a, "vehicle"), trail(tc.a, "user"), trail(tc.a, "token")}
		want := []int{tc.depots, tc.vehicles, tc.users, tc.tok}
		for i := range got {
			if got[i] != want[i] {
				t.Errorf("%s: %d depots, vehicles, users, tokens; want %d", tc.name, got, want)
				break
			}
		}
	}

	// Who gets all depots, or had them, is no longer the concern of one.
	here.Depots = nil
	here = must(w.fleet.EditUser(w.ctx, w.boss, here))(t)
	here.Depots = []models.DepotID{w.depot.ID}
	must(w.fleet.EditUser(w.ctx, w.boss, here))(t)
	if n := trail(w.as(models.Manager, w.depot.ID), "user"); n != 1 {
		t.Errorf("%d changes of people, want the first one of somebody here", n)
	}

	_, _, err := w.fleet.Changes(w.ctx, w.as(models.Technician), models.ChangeFilter{}, models.Page{Limit: 1})
	wantKind(t, err, models.Forbidden)
}

// A vehicle that goes to another depot takes its open findings, its events and the
// sight of its tires along. Who moves it must see both depots.
func TestVehicleMovesToAnotherDepot(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	other := w.otherDepot("Birch Yard")
	w.after(30 * day)
	inspection := w.inspection("210,000 mi", all("3/32"))
	w.record(inspection)
	left, right := w.as(models.Manager, w.depot.ID), w.as(models.Manager, other)

	to := w.vehicle

	to.DepotID = other
	for name, a := range map[string]fleet.Actor{"the old depot": left, "the new one": right} {
		if _, err := w.fleet.EditVehicle(w.ctx, a, to); models.KindOf(err) != models.NotFound {
			t.Errorf("moved by who sees only %s: %v", name, err)
		}
	}

	open := func(a fleet.Actor) int {
		list, _, err := w.fleet.Findings(w.ctx, a, models.FindingFilter{}, models.Page{Limit: 100})
		if err != nil {
			t.Fatal(err)
		}
		return len(list)
	}

	before := open(left)
	if before == 0 || open(right) != 0 {
		t.Fatalf("%d findings here, %d at the other depot", before, open(right))
	}

	w.move(other)
	if here, there := open(left), open(right); here != 0 || there != before {
		t.Errorf("%d findings stay, %d went along; want 0 and %d", here, there, before)
	}

	for name, err := range map[string]error{
		"vehicle": second(w.fleet.Vehicle(w.ctx, left, w.vehicle.ID)),
		"due":     second(w.fleet.VehicleDue(w.ctx, left, w.vehicle.ID)),
	} {
		wantKindOf(t, "the old depot's view of the "+name, err, models.NotFound)
	}

	for name, err := range map[string]error{
		"tire of the old depot":    second(w.fleet.Tire(w.ctx, right, w.tires["1L"])),
		"outlook of the tire":      second(w.fleet.TireOutlook(w.ctx, right, w.tires["1L"])),
		"event from the old depot": second(w.fleet.Event(w.ctx, right, inspection.ID)),
	} {
		if err != nil {
			t.Errorf("the new depot does not see the %s: %v", name, err)
		}
	}

	tire := must(w.fleet.Tire(w.ctx, right, w.tires["1L"]))(t).Tire
	tire.Design = "rib"
	_, err := w.fleet.EditTire(w.ctx, right, tire)
	wantKind(t, err, models.NotFound) // it belongs to the depot that lent it
}

func wantKindOf(t *testing.T, what string, err error, k models.Kind) {
	t.Helper()
	if models.KindOf(err) != k {
		t.Errorf("%s: got %v, want %q", what, err, k)
	}
}

// Repeating a creation gives the first answer; not of a thing that has gone to a
// depot that the sender does not see.
func TestRepeatedCreationOfWhatMovedAway(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	other := w.otherDepot("Birch Yard")
	limited := w.as(models.Manager, w.depot.ID)
	content := w.tire("R900")
	made := must(w.fleet.CreateTire(w.ctx, limited, content))(t)
	must(w.fleet.CreateTire(w.ctx, limited, content))(t)
	made.DepotID, made.Number = other, "B-900"
	must(w.fleet.EditTire(w.ctx, w.boss, made))(t)
	got, err := w.fleet.CreateTire(w.ctx, limited, content)

	wantKind(t, err, models.Conflict)
	if got.Number != "" || strings.Contains(err.Error(), "B-900") {
		t.Errorf("the refusal comes with tire %+v: %v", got, err)
	}

	person := models.User{
		ID:     newID[models.UserID](),
		Name:   "Vic Harrow",
		Email:  "vic@fleet.example",
		Role:   models.Viewer,
		Depots: []models.DepotID{w.depot.ID},
	}

	u := must(w.fleet.AddUser(w.ctx, limited, person, ""))(t)
	u.Depots, u.Name = []models.DepotID{other}, "Vic B. Harrow"
	must(w.fleet.EditUser(w.ctx, w.boss, u))(t)
	who, err := w.fleet.AddUser(w.ctx, limited, person, "")
	wantKind(t, err, models.Conflict)
	if who.Name != "" {
		t.Errorf("the refusal comes with %+v", who)
	}
}

// A late entry about a place from which a tire has gone to another depot since is
// refused without its number there.
func TestRefusalHidesWhereATireWent(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	other := w.otherDepot("Birch Yard")
	limited := w.as(models.Technician, w.depot.ID)
	w.after(day)
	late := w.meta("200,100 mi")
	w.after(day)
	w.record(takeOff1L(w.meta("200,200 mi")))

	refusal := func() string {
		_, err := w.fleet.Record(w.ctx, limited, takeOff1L(late))
		return wantKind(t, err, models.Conflict).Msg
	}
	if got := refusal(); !strings.Contains(got, "tire R000 has later entries") {
		t.Errorf("while the tire is here: %q", got)
	}

	tire := must(w.fleet.Tire(w.ctx, w.boss, w.tires["1L"]))(t).Tire
	tire.DepotID, tire.Number = other, "B-900"
	must(w.fleet.EditTire(w.ctx, w.boss, tire))(t)

	if got := refusal(); strings.Contains(got, "B-900") {
		t.Errorf("once it has gone: %q", got)
	}
}

// An entry about a tire off any vehicle is withdrawn by who sees the tire today,
// even if it was made where they are.
func TestWithdrawalForATireThatWent(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	other := w.otherDepot("Birch Yard")
	tire := must(w.fleet.CreateTire(w.ctx, w.boss, w.tire("R900")))(t)
	m := w.meta("unknown")
	m.VehicleID = ""
	repair := &models.Repair{Meta: m, TireID: tire.ID, What: "plug and patch"}
	w.record(repair)
	tire.DepotID = other
	must(w.fleet.EditTire(w.ctx, w.boss, tire))(t)

	limited := w.as(models.Technician, w.depot.ID)
	must(w.fleet.Event(w.ctx, limited, repair.ID))(t) // it happened here
	void := &models.Void{Meta: w.meta("unknown")}
	void.VehicleID, void.Supersedes, void.Reason = "", repair.ID, "another tire"
	_, err := w.fleet.Record(w.ctx, limited, void)
	wantKind(t, err, models.NotFound)
}

// A refusal names each id of the request that does not exist, or is not seen, by
// where it stands.
func TestUnseenIDIsNamed(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	other := w.otherDepot("Birch Yard")
	limited := w.as(models.Technician, w.depot.ID)
	tire := w.tire("B-900")
	tire.DepotID = other
	must(w.fleet.CreateTire(w.ctx, w.boss, tire))(t)
	wheel := must(w.fleet.CreateWheel(w.ctx, w.boss, models.Wheel{ID: newID[models.WheelID](), DepotID: other,
		Number: "W-900", DiameterIn: 22.5, WidthIn: 8.25, Material: "steel"}))(t)
	w.after(time.Hour)
	w.record(takeOff1L(w.meta("200,100 mi")))
	w.after(time.Hour)

	for _, tc := range []struct {
		field   string
		fitting models.Fitting
	}{
		{"fittings[0].tire_id", models.Fitting{Position: "1L", TireID: tire.ID}},
		{"fittings[0].wheel_id", models.Fitting{Position: "1L", TireID: w.tires["1L"], WheelID: wheel.ID}},
	} {
		unknown := tc.fitting
		unknown.TireID, unknown.WheelID = swap(tc.fitting.TireID, tire.ID), swap(tc.fitting.WheelID, wheel.ID)

		var texts []string
		for _, f := range []models.Fitting{tc.fitting, unknown} {
			fit := &models.Fit{Meta: w.meta("200,100 mi"), Fittings: []models.Fitting{f}}
			_, err := w.fleet.Record(w.ctx, limited, fit)
			e := wantKind(t, err, models.NotFound)
			if len(e.Fields) != 1 || e.Fields[0].Name != tc.field {
				t.Errorf("%s is not named: %v", tc.field, err)
			}
			texts = append(texts, e.Msg+e.Fields[0].Remedy)
		}

		if texts[0] != texts[1] || strings.Contains(texts[0], "900") {
			t.Errorf("%s: %q where it is another depot's, %q where there is none", tc.field, texts[0], texts[1])
		}
	}
}

// swap is an id that nothing has in the place of old.
func swap[T ~string](is, old T) T {
	if is == old {
		return newID[T]()
	}
	return is
}

// TestSettledReportOfAnotherDepot: the report that a vibration report settles is
// looked for among what the person sees, before it is among those of the vehicle.
func TestSettledReportOfAnotherDepot(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	other := w.otherDepot("Birch Yard")
	v := w.vehicle
	v.ID, v.Number, v.DepotID = newID[models.VehicleID](), "B-07", other
	v.Stamp = models.Stamp{}
	v = must(w.fleet.CreateVehicle(w.ctx, w.boss, v))(t)
	m := w.meta("50,000 mi")
	m.VehicleID = v.ID
	there := w.record(&models.Vibration{Meta: m, WorstKMH: 90}).Event.Header().ID

	for _, id := range []models.EventID{there, newID[models.EventID]()} {
		_, err := w.fleet.Record(w.ctx, w.as(models.Technician, w.depot.ID),
			&models.Vibration{Meta: w.meta("200,100 mi"), WorstKMH: 90, Settles: id})
		e := wantKind(t, err, models.NotFound)
		if len(e.Fields) != 1 || e.Fields[0].Name != "settles" {
			t.Errorf("the field is not named: %+v", e)
		}
	}
}
