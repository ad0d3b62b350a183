package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rimledger/models"
	"rimledger/models/demo"
)

var (
	foreignDay    = regexp.MustCompile(`\b\d{4}-\d{2}-\d{2}\b|\b[A-Z][a-z]{2}[ \x{a0}]\d{1,2},[ \x{a0}]20\d\d\b`)
	foreignNumber = regexp.MustCompile(
		`\b\d+\.\d{1,2} ?(mm|bar|kPa|psi|g|oz|km|mi|times|in)\b|\b\d{1,3},\d{3} (km|mi)\b`,
	)
	// asWritten is what keeps the notation of who wrote it: laws and their dates of
	// reading, codes of rims, examples.
	asWritten = regexp.MustCompile(
		`such as [^;]*1\.5 mm|5 g; 10 g; 0\.25 oz|[\d.]+ × [\d.]+ in|read \d{4}-\d{2}(-\d{2})?|1\.6 mm(: categories| in the main grooves)`,
	)
)

// TestReadsInTheCountry reads every page as a person in Germany: days and numbers
// come as they are written there, on findings of every depot, too, and in that
// person's units; no mark of a quantity is left.
func TestReadsInTheCountry(t *testing.T) {
	t.Parallel()
	f, server := demoFleet(t)
	y := &testServer{t: t, server: server, fleet: f}
	p := y.stranger()
	p.post("/sign-in", url.Values{"email": {demo.People[0].Email}, "password": {demo.People[0].Password}}).
		wants(t, http.StatusSeeOther)
	p.post("/settings/units", german).wants(t, http.StatusSeeOther)

	days, numbers := 0, 0
	shaking := "/vehicles/" + string(shakingVehicle(t, f)) // a light vehicle, whose balance jobs are judged in ounces
	pages := append(everyPage(t, f), page{name: "shaking", path: shaking})

	v := tractorToSee(t, f, damaged)
	for _, tire := range v.Tires {
		pages = append(
			pages,
			page{name: "place", path: "/vehicles/" + string(v.Vehicle.ID) + "/at/" + string(tire.State.Position)},
			page{name: "bench", path: "/vehicles/" + string(v.Vehicle.ID) + "/bench/" + string(tire.State.Position)},
		)
	}

	for _, pg := range pages {
		// Laws, the mail as its depot reads it, and examples of every country.
		if pg.stranger || slices.Contains([]string{"rules", "digest", "settings", "audit", "help", "sheets"}, pg.name) {
			continue
		}

		body := p.get(pg.path).Body
		if strings.ContainsAny(body, "⟦⟧") {
			t.Errorf("%s: a mark is not told: %.200s", pg.name, body[strings.IndexAny(body, "⟦⟧"):])
		}

		for _, block := range blocksOf(t, body) {
			block = asWritten.ReplaceAllString(unitless.ReplaceAllString(block, ""), "")
			if day := foreignDay.FindString(block); day != "" {
				t.Errorf("%s: the day %s in %q", pg.name, day, block)
			}
			if n := foreignNumber.FindString(block); n != "" {
				t.Errorf("%s: the number %s in %q", pg.name, n, block)
			}
			days += len(regexp.MustCompile(`\b\d{1,2}\x{a0}[A-Z][a-z]{2}\x{a0}20\d\d\b`).FindAllString(block, -1))
			numbers += len(regexp.MustCompile(`\d,\d+ (mm|bar)\b`).FindAllString(block, -1))
		}
	}

	if days < 100 || numbers < 100 {
		t.Errorf("%d days and %d numbers were seen; what was read?", days, numbers)
	}
}

// TestBrowserNamesTheCountry: without a choice of the person the browser decides,
// and without its word the depot's country.
func TestBrowserNamesTheCountry(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	p.post("/vehicles/"+string(y.vehicle.ID)+"/inspect", y.inspection("10")).wants(t, http.StatusSeeOther)
	for language, want := range map[string]string{"": "205,000 mi", "en-GB,en;q=0.9": "205,000 mi", "de-DE,de;q=0.8": "205.000 mi", "sv-SE": "205 000 mi"} {
		p.language = language
		p.get("/vehicles/"+string(y.vehicle.ID)).wants(t, http.StatusOK, want)
	}
	p.post("/settings/units", url.Values{"notation": {"de-CH"}}).wants(t, http.StatusSeeOther)
	p.get("/vehicles/"+string(y.vehicle.ID)).wants(t, http.StatusOK, "205’000 mi")
	p.post("/settings/units", url.Values{"notation": {"de"}}).
		wants(t, http.StatusUnprocessableEntity, "must be a language tag with a country")
}

// TestTypesInTheCountry types numbers as in Germany, and sees them again as they
// were typed where they are refused.
func TestTypesInTheCountry(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	p.post("/settings/units", german).wants(t, http.StatusSeeOther)
	path := "/vehicles/" + string(y.vehicle.ID)

	form := y.inspection("8,5")
	for name := range form {
		if strings.HasSuffix(name, ".pressure") {
			form.Set(name, "7,2 bar")
		}
	}

	form.Set("odometer", "329.915,5")
	form.Set("p.1L.d0.0", "8,5,1")
	p.post(path+"/inspect", form).wants(t, http.StatusUnprocessableEntity, "8,5,1", "329.915,5", "7,2 bar")
	form.Set("p.1L.d0.0", "8.5") // a point that parts no thousands
	p.post(path+"/inspect", form).wants(t, http.StatusSeeOther)
	p.get(path).wants(t, http.StatusOK, "8,5 mm", "7,2 bar", "329.916 km")
	p.get(path+"/edit").wants(t, http.StatusOK, "105 psi")
}

// TestPhoneWritesAsTheCountry: keys, fields and what was typed by hand have the
// country's decimal sign; what is sent has a point.
func TestPhoneWritesAsTheCountry(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	manager := y.signedIn("mara@fleet.example")
	manager.post("/settings/units", german).wants(t, http.StatusSeeOther)
	s := y.open()
	p := hold(t, newBrowser(t, time.Minute))
	p.signIn(t, s.url(""), "mara@fleet.example", password)
	p.to(s.url("/vehicles/" + string(y.vehicle.ID) + "/inspect"))
	p.tap("Odometer unknown")
	p.tap("8 mm")
	p.tap("8,5 mm")
	p.until(`document.querySelector("[data-field='0.0'] input").value === "8,5"`)

	p.run(
		t,
		"type",
		chromedp.Evaluate[chromedp.Void](
			`(f => { f.value = "8,25"; f.dispatchEvent(new Event("input", { bubbles: true })); })(document.querySelector("[data-field='1.0'] input"))`,
		),
	)

	p.tap("Summary")
	p.shows("8,5 · 8,25 · – mm")
	p.tap("#send")
	p.shows("Inspection recorded")

	got := y.inspections(y.vehicle.ID)
	if len(got) != 1 {
		t.Fatalf("%d inspections, want 1", len(got))
	}
	depths := got[0].(*models.Inspection).Readings[0].Depths
	if a, b := depths[0][0], depths[1][0]; a.Text != "8.5 mm" || b.Text != "8.25 mm" || b.Value != 8_250_000 {
		t.Errorf("recorded %+v and %+v, want 8.5 mm and 8.25 mm", a, b)
	}
}

// TestTorqueInItsUnit: a US shop reads its wrench in pound-feet; the record keeps
// newton metres. 1 ft·lbf = 1.355 818 N·m (NIST SP 811, appendix B.8).
func TestTorqueInItsUnit(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	edit := "/vehicles/" + string(y.vehicle.ID) + "/edit"
	vehicleForm := func() url.Values {
		all := formsOf(t, edit, p.get(edit).Body)
		return all[slices.IndexFunc(all, func(f sentForm) bool { return f.action == edit })].values
	}

	for _, c := range []struct {
		typed string
		nm    float64
		shown string
	}{{"450", 610.1, "450"}, {"600 N·m", 600, "442.54"}, {"442.54", 600, "442.54"}, {"450 ft-lb", 610.1, "450"}, {"1,200 lb·ft", 1627, "1200"}} {
		form := vehicleForm()
		form.Set("torque_nm", c.typed)
		p.post(edit, form).wants(t, http.StatusSeeOther)
		if v := must(y.fleet.Vehicle(t.Context(), y.system, y.vehicle.ID))(t).Vehicle; v.TorqueNM != c.nm {
			t.Errorf("%q is kept as %g N·m, want %g", c.typed, v.TorqueNM, c.nm)
		}
		p.get(edit).wants(t, http.StatusOK, `name="torque_nm" value="`+c.shown+`"`)
	}

	form := vehicleForm()
	form.Set("torque_nm", "5000")
	p.post(edit, form).wants(t, http.StatusUnprocessableEntity, "1475 lb·ft", `value="5000"`)
}
