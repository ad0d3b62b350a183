package web_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/chromedp"

	"rimledger/models"
	"rimledger/models/units"
)

// enter inspects the first wheel of the yard's tractor without a network: depths
// as the keys are named, the rest not read, and waits until it is kept.
func (p *phone) enter(s *shop, v models.Vehicle, depths ...string) {
	p.t.Helper()
	p.cut(true)
	p.to(s.url("/vehicles/" + string(v.ID) + "/inspect"))
	p.tap("Odometer unknown")
	for _, d := range depths {
		p.tap(d)
	}
	p.tap("101 psi")
	p.tap("Summary")
	p.tap("#send")
	p.shows("Kept on this phone")
	p.until(`document.activeElement.textContent === "Kept on this phone"`)
}

// settle opens what waits, with the network back, until something is refused.
func (p *phone) settle(s *shop) {
	p.t.Helper()
	p.cut(false)
	p.to(s.url("/yard/waiting"))
	p.until("document.querySelector('.refused') !== null")
}

// edit changes a person as a manager would.
func (y *testServer) edit(email string, change func(*models.User)) {
	y.t.Helper()
	list := must(y.fleet.Users(y.t.Context(), y.system))(y.t)
	u := list[slices.IndexFunc(list, func(u models.User) bool { return u.Email == email })]
	change(&u)
	must(y.fleet.EditUser(y.t.Context(), y.system, u))(y.t)
}

// TestRefusedStaysUntilSettled has the server refuse what was entered without a
// network, for each reason that it can have: the entry stays on the phone with
// the reason, also when the page is opened again, until a person settles it.
func TestRefusedStaysUntilSettled(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.addPerson("odd@fleet.example")

	elsewhere := must(
		y.fleet.CreateDepot(
			t.Context(),
			y.system,
			models.Depot{
				ID:           newID[models.DepotID](),
				Name:         "Birch Yard",
				TimeZone:     "America/Chicago",
				Jurisdiction: "US",
				Units:        units.US,
				Currency:     "USD",
			},
		),
	)(
		t,
	)

	s := y.open()
	p := hold(t, newBrowser(t, 4*time.Minute))
	p.signIn(t, s.url(""), "odd@fleet.example", password)
	p.ready(s)

	recorded := func(want int) {
		t.Helper()
		if n := len(y.inspections(y.vehicle.ID)); n != want {
			t.Fatalf("%d inspections are recorded, want %d", n, want)
		}
	}

	twelve := []string{"12/32", "12/32", "12/32"}

	// The role changed while there was no network.
	p.enter(s, y.vehicle, twelve...)
	y.edit("odd@fleet.example", func(u *models.User) { u.Role = models.Viewer })
	p.settle(s)
	p.shows("Your role or your depots do not allow this")

	p.to(s.url("/yard/waiting"))
	p.shows("Your role or your depots do not allow this")
	recorded(0)
	y.edit("odd@fleet.example", func(u *models.User) { u.Role = models.Technician })
	p.tap("Send again")
	p.shows("Nothing waits")
	recorded(1)

	// The technician was moved to another depot.
	p.to(s.url("/yard")) // as a technician again
	p.ready(s)
	p.enter(s, y.vehicle, "11/32", "11/32", "11/32")
	y.edit("odd@fleet.example", func(u *models.User) { u.Depots = []models.DepotID{elsewhere.ID} })
	p.settle(s)
	p.shows("no such vehicle at your depots")

	recorded(1)
	y.edit("odd@fleet.example", func(u *models.User) { u.Depots = nil })
	p.tap("Send again")
	p.shows("Nothing waits")
	recorded(2)

	// Tread does not grow: the technician had read another groove, and corrects.
	p.enter(s, y.vehicle, "14/32", "14/32", "14/32")
	p.settle(s)
	p.shows("tread does not grow")
	p.shows("1 to settle")
	p.tap("Correct")
	p.shows("Summary")

	p.tap("1L")

	for g := range 3 {
		p.tap("#yard .readout:nth-child(" + string(rune('1'+g)) + ") input")
		p.tap("10/32")
	}

	p.tap("Summary")
	p.tap("#send")
	p.shows("Inspection recorded")
	recorded(3)

	if d, _ := y.inspections(y.vehicle.ID)[0].(*models.Inspection).Readings[0].Min(); d.Text != "10/32" {
		t.Errorf("after the correction %q is recorded, want 10/32", d.Text)
	}

	// Somebody took the tire off before it was inspected, and recorded it.
	p.enter(s, y.vehicle, "10/32", "10/32", "9/32")

	must(
		y.fleet.Record(
			t.Context(),
			y.system,
			&models.Removal{
				Meta: models.Meta{
					ID:        newID[models.EventID](),
					VehicleID: y.vehicle.ID,
					At:        y.inspections(y.vehicle.ID)[0].Header().At.Add(time.Millisecond),
				},
				Removed: []models.Removed{{Position: "1L", Reason: models.WornUneven, To: models.InStock}},
			},
		),
	)(
		t,
	)

	p.settle(s)
	p.shows("1L has no tire in the record; fit one first")
	recorded(3)

	// A new entry of the same vehicle is not overwritten by correcting the old one.
	p.to(s.url("/vehicles/" + string(y.vehicle.ID) + "/inspect"))
	p.tap("Odometer unknown")
	p.tap("2LO")
	p.tap("9/32")
	p.to(s.url("/yard/waiting"))
	p.tap("Correct")

	p.shows("is begun on this phone")
	// Measurements are thrown away only when that is said twice.
	p.tap("Discard")
	p.shows("throw these measurements away")
	p.to(s.url("/yard/waiting"))
	p.shows("1L has no tire in the record")
	p.tap("Discard")

	p.tap("Yes, throw these measurements away")
	p.shows("Nothing waits")
	recorded(3)

	p.problems = slices.DeleteFunc(
		p.problems,
		func(s string) bool { // what was refused on purpose, and the network that was cut
			return strings.Contains(s, "status of 4") || strings.Contains(s, "ERR_INTERNET_DISCONNECTED")
		},
	)

	p.check(t, s.url(""))
}

// TestTwoPagesOneInspection sends one entry from two pages, changed in between:
// the second is refused, since its number is taken, and recorded as one more
// only when the person says so.
func TestTwoPagesOneInspection(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.addPerson("odd@fleet.example")
	s := y.open()
	p := hold(t, newBrowser(t, 2*time.Minute))
	p.signIn(t, s.url(""), "odd@fleet.example", password)
	p.ready(s)
	p.enter(s, y.vehicle, "12/32", "12/32", "12/32")

	// The other page has the same entry, and differs by a note.
	p.run(t, "other page", chromedp.Evaluate[chromedp.Void](`(async () => {
		const keep = await `+module("keep.js")+`;
		const [item] = await keep.all("waiting");
		const late = { ...item.entry, note: "seen twice" };
		window.late = { ...item, entry: late, body: { ...item.body, note: late.note } };
		sessionStorage.setItem("late", JSON.stringify(window.late));
	})()`, chromedp.EvalAwaitPromise))

	p.cut(false)
	p.to(s.url("/yard/waiting"))
	p.shows("Nothing waits")

	p.run(
		t,
		"other page",
		chromedp.Evaluate[chromedp.Void](
			module("keep.js")+`.then((keep) => keep.put("waiting", JSON.parse(sessionStorage.getItem("late"))))`,
			chromedp.EvalAwaitPromise,
		),
	)

	p.to(s.url("/yard/waiting"))
	p.shows("Another version of this inspection is recorded already")
	if n := len(y.inspections(y.vehicle.ID)); n != 1 {
		t.Fatalf("%d inspections are recorded, want 1", n)
	}

	p.tap("Send as one more")
	p.shows("Nothing waits")
	list := y.inspections(y.vehicle.ID)
	if len(list) != 2 || list[0].Header().ID == list[1].Header().ID {
		t.Errorf("%d inspections are recorded, want 2 under their own numbers", len(list))
	}
}

// TestSentWithoutThePage has the browser send what waits when the network is
// back and no page of ours is open.
func TestSentWithoutThePage(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.addPerson("odd@fleet.example")
	s := y.open()
	p := hold(t, newBrowser(t, 2*time.Minute))
	p.signIn(t, s.url(""), "odd@fleet.example", password)
	p.ready(s)

	registrations := make(chan serviceworker.RegistrationID, 16)
	if err := chromedp.Listen(p, func(ev any) {
		if ev, ok := ev.(*serviceworker.EventWorkerRegistrationUpdated); ok {
			for _, r := range ev.Registrations {
				select {
				case registrations <- r.RegistrationID:
				default:
				}
			}
		}
	}); err != nil {
		t.Fatal(err)
	}

	must(chromedp.Call(p, serviceworker.Enable, cdp.Empty{}))(t)
	registration := <-registrations
	p.enter(s, y.vehicle, "12/32", "12/32", "12/32")
	p.until("navigator.serviceWorker.ready.then((r) => r.sync.getTags()).then((tags) => tags.includes('send'))")
	p.run(t, "leave", chromedp.Navigate("about:blank"))
	p.cut(false)

	must(
		chromedp.Call(
			p,
			serviceworker.DispatchSyncEvent,
			serviceworker.DispatchSyncEventParams{Origin: s.url(""), RegistrationID: registration, Tag: "send"},
		),
	)(
		t,
	)

	for limit := time.Now().Add(20 * time.Second); len(y.inspections(y.vehicle.ID)) == 0; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(limit) {
			t.Fatal("the inspection did not arrive while no page was open")
		}
	}

	if at := ask(t, p.browser, "where", chromedp.Evaluate[string]("location.href")); at != "about:blank" {
		t.Errorf("the browser is at %s", at)
	}
}

// TestSignOutLeavesNothingToSee signs one person out and another in on the same
// phone, with and without a network: of the first nothing can be seen, and what
// they entered is sent when they come back.
func TestSignOutLeavesNothingToSee(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	y.addPerson("odd@fleet.example")
	y.addPerson("mara@fleet.example")
	s := y.open()
	p := hold(t, newBrowser(t, 3*time.Minute))
	p.signIn(t, s.url(""), "odd@fleet.example", password)
	p.ready(s)
	p.enter(s, y.vehicle, "12/32", "12/32", "12/32")
	s.stop()
	p.run(t, "agree", chromedp.Evaluate[chromedp.Void](`window.confirm = () => true`))
	p.run(t, "sign out", chromedp.Click(chromedp.CSS("#sign-out button")))
	p.until("document.body.innerText.includes('Nobody is signed in on this phone')")
	p.to(s.url("/yard"))
	p.until("document.body.innerText.includes('Nobody is signed in on this phone')")
	p.cut(false)
	s.start()
	p.to(s.url("/vehicles"))
	p.until("document.querySelector('input[name=password]') !== null") // the server was told, late
	p.signIn(t, s.url(""), "mara@fleet.example", password)
	p.ready(s)
	p.to(s.url("/yard/waiting"))
	p.shows("Nothing waits")
	p.to(s.url("/vehicles/" + string(y.vehicle.ID) + "/inspect"))
	p.shows("Odometer")

	if page := ask(t, p.browser, "read", chromedp.Text(chromedp.ID("main"))); strings.Contains(page, "still here") {
		t.Errorf("the next person sees what the one before entered:\n%s", page)
	}
	if n := len(y.inspections(y.vehicle.ID)); n != 0 {
		t.Fatalf("%d inspections were sent under another's name", n)
	}

	p.run(t, "sign out", chromedp.Click(chromedp.CSS("#sign-out button")))
	p.until("document.querySelector('input[name=password]') !== null")
	p.until("caches.has('rimledger-person').then((has) => !has)")
	p.signIn(t, s.url(""), "odd@fleet.example", password)
	for limit := time.Now().Add(20 * time.Second); len(y.inspections(y.vehicle.ID)) == 0 && time.Now().Before(limit); time.Sleep(20 * time.Millisecond) {
	}

	list := y.inspections(y.vehicle.ID)
	if len(list) != 1 {
		t.Fatalf("%d inspections are recorded after coming back, want 1", len(list))
	}

	users := must(y.fleet.Users(t.Context(), y.system))(t)
	odd := users[slices.IndexFunc(users, func(u models.User) bool { return u.Email == "odd@fleet.example" })]
	if list[0].Header().RecordedBy != odd.ID {
		t.Errorf("the inspection is recorded by %s, want by %s", list[0].Header().RecordedBy, odd.ID)
	}
}
