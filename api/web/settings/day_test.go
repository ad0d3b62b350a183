package settings_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/units"
)

// desk is a browser on a desk, worked by a person.
type desk struct {
	*webtest.Browser
	t    *testing.T
	base string
}

func (d *desk) open(path string) {
	d.t.Helper()
	d.Run(d.t, "open "+path, chromedp.Navigate(d.base+path), chromedp.WaitVisible(chromedp.CSS("footer")))
}

// types replaces what a field holds, key by key.
func (d *desk) types(name, value string) {
	d.t.Helper()
	field := chromedp.CSS(`main [name="` + name + `"]`)
	d.Run(
		d.t,
		"select "+name,
		chromedp.Focus(field),
		chromedp.Evaluate[chromedp.Void](`document.activeElement.select()`),
		chromedp.KeyEvent(value),
	)
}

// chooses picks an option of a select.
func (d *desk) chooses(name, value string) {
	d.t.Helper()
	d.Run(d.t, "choose "+name, chromedp.SetValue(chromedp.CSS(`main select[name="`+name+`"]`), value))
}

// presses clicks a button or link of the page by its words, and waits for the page that comes.
func (d *desk) presses(words string) {
	d.t.Helper()
	d.Run(d.t, "find "+words, chromedp.Evaluate[chromedp.Void](`(() => { window.before = true;
		const b = [...document.querySelectorAll("main button, main a")].find((b) => b.textContent.replace(/\\s+/g, " ").trim() === `+webtest.Quote(words)+`);
		b.id ||= "pressed"; window.found = b.id; })()`))

	id := webtest.Ask(d.t, d.Browser, "find "+words, chromedp.Evaluate[string]("window.found"))
	d.Run(d.t, "press "+words, chromedp.Click(chromedp.ID(id)))

	d.Until(d.t, `!window.before && document.readyState === "complete"`)
}

// beside fails the test unless a field holds a value and is described by a message.
func (d *desk) beside(name, value, message string) {
	d.t.Helper()
	got := webtest.Ask(
		d.t,
		d.Browser,
		name,
		chromedp.Evaluate[[]string](`(() => { const f = document.querySelector('main [name="`+name+`"]');
		return [f.value, document.getElementById(f.getAttribute("aria-describedby"))?.innerText || ""]; })()`),
	)
	if got[0] != value || !strings.Contains(got[1], message) {
		d.t.Errorf("%s holds %q, described by %q; want %q and %q", name, got[0], got[1], value, message)
	}
}

// TestSettingsDay is what a manager does in the settings in a real browser,
// while another edits the same policy. 49 CFR 393.75(b): 4/32 in on the steer
// axle.
func TestSettingsDay(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("mara@fleet.example")
	ida := models.User{
		ID:    modeltest.NewID[models.UserID](),
		Name:  "Ida Bell",
		Email: "ida@fleet.example",
		Role:  models.Manager,
	}
	modeltest.Must(y.Fleet.AddUser(t.Context(), y.System, ida, webtest.Password))(t)

	mara, other := &desk{
		webtest.NewBrowser(t, 2*time.Minute),
		t,
		y.Server.URL,
	}, &desk{
		webtest.NewBrowser(t, 2*time.Minute),
		t,
		y.Server.URL,
	}

	mara.SignIn(t, y.Server.URL, "mara@fleet.example", webtest.Password)
	other.SignIn(t, y.Server.URL, "ida@fleet.example", webtest.Password)
	depot := "/settings/depots/" + string(y.Depot.ID)

	// Both open the policy; the second to save sees both values, and decides.
	mara.open(depot)
	mara.presses("tractor")
	other.open(depot + "/policy/tractor")
	mara.types("InspectDays", "20")
	mara.presses("Save")
	mara.Reads(t, "Saved.")

	other.types("InspectDays", "40")
	other.types("PullSteer", "7")
	other.presses("Save")
	other.Reads(t, "Someone else saved this in the meantime")
	other.beside("InspectDays", "40", "saved meanwhile: 20")
	other.beside("PullSteer", "7", "saved meanwhile: nothing")
	other.presses("Save")

	other.Reads(t, "Saved.")
	mara.open(depot + "/policy/tractor")
	mara.beside("InspectDays", "40", "")
	mara.beside("PullSteer", "7/32 in", "")
	mara.types("PullSteer", "deep")
	mara.presses("Save")
	mara.beside("PullSteer", "deep", "not a number")

	// The law with its citations, and an own rule that asks for more than it.
	mara.open("/settings/rules")
	mara.Reads(t, "393.75", "not verified", "Alder Yard")
	mara.open(depot)
	mara.types("own.0.min_depth", "4/32")
	mara.chooses("own.0.class", "tractor")
	mara.chooses("own.0.role", "steer")

	mara.types("own.0.reason", "rain")
	mara.presses("Save")
	mara.beside("own.0.min_depth", "4/32", "larger depth")
	mara.types("own.0.min_depth", "6/32")
	mara.types("recipients", "nobody")
	mara.presses("Save")
	mara.beside("recipients", "nobody", "mail address")

	mara.types("recipients", "yard@fleet.example")
	mara.presses("Save")
	mara.Reads(t, "Saved.")

	d := modeltest.Must(y.Fleet.Depot(t.Context(), y.System, y.Depot.ID))(t)
	if len(d.OwnRules) != 1 || d.OwnRules[0].MinDepth.Value != 6*units.ThirtySecond ||
		!slices.Equal(d.Recipients, []string{"yard@fleet.example"}) {
		t.Errorf("the depot has the rules %+v and the recipients %v", d.OwnRules, d.Recipients)
	}

	mara.open("/digest")
	mara.Reads(t, "yard@fleet.example", "to mara@fleet.example only")
	mara.presses("Send me one now")
	mara.Reads(t, "on its way to your own mail address")

	// A person of one's own depot, and a token that is shown once.
	mara.open("/settings/people")
	mara.presses("Add a person")
	mara.types("name", "Lee Marsh")
	mara.types("email", "lee")
	mara.types("password", webtest.Password)
	mara.presses("Save")

	mara.beside("email", "lee", "mail address")
	mara.types("email", "lee@fleet.example")
	mara.types("password", webtest.Password)
	mara.presses("Save")
	mara.Reads(t, "lee@fleet.example")
	mara.open("/settings")
	mara.types("name", "telematics")

	mara.presses("Make the token")
	secret := webtest.Ask(t, mara.Browser, "secret", chromedp.Text(chromedp.CSS(".secret")))
	if a, err := y.Fleet.Authenticate(t.Context(), secret); err != nil || a.User.Email != "mara@fleet.example" {
		t.Errorf("the token acts as %q: %v", a.User.Email, err)
	}

	mara.open("/settings")
	if page := webtest.Ask(t, mara.Browser, "read", chromedp.Text(chromedp.ID("main"))); strings.Contains(
		page,
		secret,
	) ||
		!strings.Contains(page, "telematics") {
		t.Error("the token is shown again, or not listed")
	}

	mara.presses("Revoke telematics")
	if _, err := y.Fleet.Authenticate(t.Context(), secret); err == nil {
		t.Error("the revoked token still opens")
	}

	// Units of one's own, at once on every page.
	for name, unit := range map[string]string{"depth": "mm", "pressure": "bar", "distance": "km", "mass": "g"} {
		mara.chooses(name, unit)
	}

	mara.presses("Save how I read")
	mara.open("/vehicles/" + string(y.Vehicle.ID) + "/inspect?plain=1")
	mara.Reads(t, "Odometer, km", "321,869 km", "bar, target 7.2 bar") // 200,000 international miles are 321,868.8 km

	mara.open("/settings/audit")

	mara.Reads(
		t,
		"policy edited by Ida Bell",
		"policy edited by Mara Quill",
		"depot Alder Yard edited by Mara Quill",
		"person Lee Marsh created by Mara Quill",
		"token revoked by Mara Quill",
	)

	for _, b := range []*desk{mara, other} {
		b.Forgive("status of 4") // refused on purpose
		b.Check(t, y.Server.URL)
	}
}
