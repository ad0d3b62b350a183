package yard_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/units"
)

// enter inspects the first wheel of the yard's tractor without a network: depths
// as the keys are named, the rest not read, and waits until it is kept.
func enter(p *webtest.Phone, s *webtest.Server, v models.Vehicle, depths ...string) {
	p.T.Helper()
	p.Cut(true)
	p.To(s.URL("/vehicles/" + string(v.ID) + "/inspect"))
	p.Tap("Odometer unknown")
	for _, d := range depths {
		p.Tap(d)
	}
	p.Tap("101 psi")
	p.Tap("Summary")
	p.Tap("#send")
	p.Shows("Kept on this phone")
	p.Until(`document.activeElement.textContent === "Kept on this phone"`)
}

// settle opens what waits, with the network back, until something is refused.
func settle(p *webtest.Phone, s *webtest.Server) {
	p.T.Helper()
	p.Cut(false)
	p.To(s.URL("/yard/waiting"))
	p.Until("document.querySelector('.refused') !== null")
}

// TestRefusedStaysUntilSettled has the server refuse what was entered without a
// network, for each reason that it can have: the entry stays on the phone with
// the reason, also when the page is opened again, until a person settles it.
func TestRefusedStaysUntilSettled(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")

	elsewhere := modeltest.Must(
		y.Fleet.CreateDepot(
			t.Context(),
			y.System,
			models.Depot{
				ID:           modeltest.NewID[models.DepotID](),
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

	s := y.Open()
	p := ownPhone(t, 4*time.Minute)
	p.SignIn(t, s.URL(""), "odd@fleet.example", webtest.Password)
	p.Ready(s)

	recorded := func(want int) {
		t.Helper()
		if n := len(y.Inspections(y.Vehicle.ID)); n != want {
			t.Fatalf("%d inspections are recorded, want %d", n, want)
		}
	}

	twelve := []string{"12/32", "12/32", "12/32"}

	// The role changed while there was no network.
	enter(p, s, y.Vehicle, twelve...)
	y.Edit("odd@fleet.example", func(u *models.User) { u.Role = models.Viewer })
	settle(p, s)
	p.Shows("Your role or your depots do not allow this")

	p.To(s.URL("/yard/waiting"))
	p.Shows("Your role or your depots do not allow this")
	recorded(0)
	y.Edit("odd@fleet.example", func(u *models.User) { u.Role = models.Technician })
	p.Tap("Send again")
	p.Shows("Nothing waits")
	recorded(1)

	// The technician was moved to another depot.
	p.To(s.URL("/yard")) // as a technician again
	p.Ready(s)
	enter(p, s, y.Vehicle, "11/32", "11/32", "11/32")
	y.Edit("odd@fleet.example", func(u *models.User) { u.Depots = []models.DepotID{elsewhere.ID} })
	settle(p, s)
	p.Shows("no such vehicle at your depots")

	recorded(1)
	y.Edit("odd@fleet.example", func(u *models.User) { u.Depots = nil })
	p.Tap("Send again")
	p.Shows("Nothing waits")
	recorded(2)

	// Tread does not grow: the technician had read another groove, and corrects.
	enter(p, s, y.Vehicle, "14/32", "14/32", "14/32")
	settle(p, s)
	p.Shows("tread does not grow")
	p.Shows("1 to settle")
	p.Tap("Correct")
	p.Shows("Summary")

	p.Tap("1L")

	for g := range 3 {
		p.Tap("#yard .readout:nth-child(" + string(rune('1'+g)) + ") input")
		p.Tap("10/32")
	}

	p.Tap("Summary")
	p.Tap("#send")
	p.Shows("Inspection recorded")
	recorded(3)

	if d, _ := y.Inspections(y.Vehicle.ID)[0].(*models.Inspection).Readings[0].Min(); d.Text != "10/32" {
		t.Errorf("after the correction %q is recorded, want 10/32", d.Text)
	}

	// Somebody took the tire off before it was inspected, and recorded it.
	enter(p, s, y.Vehicle, "10/32", "10/32", "9/32")

	modeltest.Must(
		y.Fleet.Record(
			t.Context(),
			y.System,
			&models.Removal{
				Meta: models.Meta{
					ID:        modeltest.NewID[models.EventID](),
					VehicleID: y.Vehicle.ID,
					At:        y.Inspections(y.Vehicle.ID)[0].Header().At.Add(time.Millisecond),
				},
				Removed: []models.Removed{{Position: "1L", Reason: models.WornUneven, To: models.InStock}},
			},
		),
	)(
		t,
	)

	settle(p, s)
	p.Shows("1L has no tire in the record; fit one first")
	recorded(3)

	// A new entry of the same vehicle is not overwritten by correcting the old one.
	p.To(s.URL("/vehicles/" + string(y.Vehicle.ID) + "/inspect"))
	p.Tap("Odometer unknown")
	p.Tap("2LO")
	p.Tap("9/32")
	p.To(s.URL("/yard/waiting"))
	p.Tap("Correct")

	p.Shows("is begun on this phone")
	// Measurements are thrown away only when that is said twice.
	p.Tap("Discard")
	p.Shows("throw these measurements away")
	p.To(s.URL("/yard/waiting"))
	p.Shows("1L has no tire in the record")
	p.Tap("Discard")

	p.Tap("Yes, throw these measurements away")
	p.Shows("Nothing waits")
	recorded(3)

	p.Forgive("status of 4", "ERR_INTERNET_DISCONNECTED") // refused and cut off on purpose
	p.Check(t, s.URL(""))
}

// TestTwoPagesOneInspection sends one entry from two pages, changed in between:
// the second is refused, since its number is taken, and recorded as one more
// only when the person says so.
func TestTwoPagesOneInspection(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")
	s := y.Open()
	p := ownPhone(t, 2*time.Minute)
	p.SignIn(t, s.URL(""), "odd@fleet.example", webtest.Password)
	p.Ready(s)
	enter(p, s, y.Vehicle, "12/32", "12/32", "12/32")

	// The other page has the same entry, and differs by a note.
	p.Run(t, "other page", chromedp.Evaluate[chromedp.Void](`(async () => {
		const keep = await `+webtest.Module("keep.js")+`;
		const [item] = await keep.all("waiting");
		const late = { ...item.entry, note: "seen twice" };
		window.late = { ...item, entry: late, body: { ...item.body, note: late.note } };
		sessionStorage.setItem("late", JSON.stringify(window.late));
	})()`, chromedp.EvalAwaitPromise))

	p.Cut(false)
	p.To(s.URL("/yard/waiting"))
	p.Shows("Nothing waits")

	p.Run(
		t,
		"other page",
		chromedp.Evaluate[chromedp.Void](
			webtest.Module(
				"keep.js",
			)+`.then((keep) => keep.put("waiting", JSON.parse(sessionStorage.getItem("late"))))`,
			chromedp.EvalAwaitPromise,
		),
	)

	p.To(s.URL("/yard/waiting"))
	p.Shows("Another version of this inspection is recorded already")
	if n := len(y.Inspections(y.Vehicle.ID)); n != 1 {
		t.Fatalf("%d inspections are recorded, want 1", n)
	}

	p.Tap("Send as one more")
	p.Shows("Nothing waits")
	list := y.Inspections(y.Vehicle.ID)
	if len(list) != 2 || list[0].Header().ID == list[1].Header().ID {
		t.Errorf("%d inspections are recorded, want 2 under their own numbers", len(list))
	}
}

// TestSentWithoutThePage has the browser send what waits when the network is
// back and no page of ours is open.
func TestSentWithoutThePage(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")
	s := y.Open()
	p := ownPhone(t, 2*time.Minute)
	p.SignIn(t, s.URL(""), "odd@fleet.example", webtest.Password)
	p.Ready(s)

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

	modeltest.Must(chromedp.Call(p, serviceworker.Enable, cdp.Empty{}))(t)
	registration := <-registrations
	enter(p, s, y.Vehicle, "12/32", "12/32", "12/32")
	p.Until("navigator.serviceWorker.ready.then((r) => r.sync.getTags()).then((tags) => tags.includes('send'))")
	p.Run(t, "leave", chromedp.Navigate("about:blank"))
	p.Cut(false)

	modeltest.Must(
		chromedp.Call(
			p,
			serviceworker.DispatchSyncEvent,
			serviceworker.DispatchSyncEventParams{Origin: s.URL(""), RegistrationID: registration, Tag: "send"},
		),
	)(
		t,
	)

	modeltest.Eventually(t, "the inspection arrives while no page is open", func() bool {
		return len(y.Inspections(y.Vehicle.ID)) > 0
	})

	if at := webtest.Ask(t, p.Browser, "where", chromedp.Evaluate[string]("location.href")); at != "about:blank" {
		t.Errorf("the browser is at %s", at)
	}
}

// TestSignOutLeavesNothingToSee signs one person out and another in on the same
// phone, with and without a network: of the first nothing can be seen, and what
// they entered is sent when they come back.
func TestSignOutLeavesNothingToSee(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")
	y.AddPerson("mara@fleet.example")
	s := y.Open()
	p := ownPhone(t, 3*time.Minute)
	p.SignIn(t, s.URL(""), "odd@fleet.example", webtest.Password)
	p.Ready(s)
	enter(p, s, y.Vehicle, "12/32", "12/32", "12/32")
	s.Stop()
	p.Run(t, "agree", chromedp.Evaluate[chromedp.Void](`window.confirm = () => true`))
	p.Run(t, "sign out", chromedp.Click(chromedp.CSS("#sign-out button")))
	p.Until("document.body.innerText.includes('Nobody is signed in on this phone')")
	p.To(s.URL("/yard"))
	p.Until("document.body.innerText.includes('Nobody is signed in on this phone')")
	p.Cut(false)
	s.Start()
	p.To(s.URL("/vehicles"))
	p.Until("document.querySelector('input[name=password]') !== null") // the server was told, late
	p.SignIn(t, s.URL(""), "mara@fleet.example", webtest.Password)
	p.Ready(s)
	p.To(s.URL("/yard/waiting"))
	p.Shows("Nothing waits")
	p.To(s.URL("/vehicles/" + string(y.Vehicle.ID) + "/inspect"))
	p.Shows("Odometer")

	if page := webtest.Ask(t, p.Browser, "read", chromedp.Text(chromedp.ID("main"))); strings.Contains(
		page,
		"still here",
	) {
		t.Errorf("the next person sees what the one before entered:\n%s", page)
	}
	if n := len(y.Inspections(y.Vehicle.ID)); n != 0 {
		t.Fatalf("%d inspections were sent under another's name", n)
	}

	p.Run(t, "sign out", chromedp.Click(chromedp.CSS("#sign-out button")))
	p.Until("document.querySelector('input[name=password]') !== null")
	p.Until("caches.has('rimledger-person').then((has) => !has)")
	p.SignIn(t, s.URL(""), "odd@fleet.example", webtest.Password)
	modeltest.Eventually(t, "the inspection is sent", func() bool { return len(y.Inspections(y.Vehicle.ID)) > 0 })

	list := y.Inspections(y.Vehicle.ID)
	if len(list) != 1 {
		t.Fatalf("%d inspections are recorded after coming back, want 1", len(list))
	}

	users := modeltest.Must(y.Fleet.Users(t.Context(), y.System))(t)
	odd := users[slices.IndexFunc(users, func(u models.User) bool { return u.Email == "odd@fleet.example" })]
	if list[0].Header().RecordedBy != odd.ID {
		t.Errorf("the inspection is recorded by %s, want by %s", list[0].Header().RecordedBy, odd.ID)
	}
}
