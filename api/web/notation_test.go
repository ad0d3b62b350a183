package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"rimledger/api/web/webtest"
	"rimledger/models/demo"
	"rimledger/models/modeltest"
)

var (
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
	f, server := webtest.DemoFleet(t)
	y := &webtest.World{T: t, Server: server, Fleet: f}
	p := y.Stranger()
	p.Post("/sign-in", url.Values{"email": {demo.People[0].Email}, "password": {demo.People[0].Password}}).
		Wants(t, http.StatusSeeOther)
	p.Post("/settings/units", webtest.German).Wants(t, http.StatusSeeOther)

	days, numbers := 0, 0
	shaking := "/vehicles/" + string(
		webtest.ShakingVehicle(t, f),
	) // a light vehicle, whose balance jobs are judged in ounces
	pages := append(everyPage(t, f), page{name: "shaking", path: shaking})

	v := webtest.TractorToSee(t, f, webtest.Damaged)
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

		body := p.Get(pg.path).Body
		if strings.ContainsAny(body, "⟦⟧") {
			t.Errorf("%s: a mark is not told: %.200s", pg.name, body[strings.IndexAny(body, "⟦⟧"):])
		}

		for _, block := range blocksOf(t, body) {
			block = asWritten.ReplaceAllString(unitless.ReplaceAllString(block, ""), "")
			if day := webtest.ForeignDay.FindString(block); day != "" {
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
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	p.Post("/vehicles/"+string(y.Vehicle.ID)+"/inspect", y.Inspection("10")).Wants(t, http.StatusSeeOther)
	for language, want := range map[string]string{"": "205,000 mi", "en-GB,en;q=0.9": "205,000 mi", "de-DE,de;q=0.8": "205.000 mi", "sv-SE": "205 000 mi"} {
		p.Language = language
		p.Get("/vehicles/"+string(y.Vehicle.ID)).Wants(t, http.StatusOK, want)
	}
	p.Post("/settings/units", url.Values{"notation": {"de-CH"}}).Wants(t, http.StatusSeeOther)
	p.Get("/vehicles/"+string(y.Vehicle.ID)).Wants(t, http.StatusOK, "205’000 mi")
	p.Post("/settings/units", url.Values{"notation": {"de"}}).
		Wants(t, http.StatusUnprocessableEntity, "must be a language tag with a country")
}

// TestTypesInTheCountry types numbers as in Germany, and sees them again as they
// were typed where they are refused.
func TestTypesInTheCountry(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	p.Post("/settings/units", webtest.German).Wants(t, http.StatusSeeOther)
	path := "/vehicles/" + string(y.Vehicle.ID)

	form := y.Inspection("8,5")
	for name := range form {
		if strings.HasSuffix(name, ".pressure") {
			form.Set(name, "7,2 bar")
		}
	}

	form.Set("odometer", "329.915,5")
	form.Set("p.1L.d0.0", "8,5,1")
	p.Post(path+"/inspect", form).Wants(t, http.StatusUnprocessableEntity, "8,5,1", "329.915,5", "7,2 bar")
	form.Set("p.1L.d0.0", "8.5") // a point that parts no thousands
	p.Post(path+"/inspect", form).Wants(t, http.StatusSeeOther)
	p.Get(path).Wants(t, http.StatusOK, "8,5 mm", "7,2 bar", "329.916 km")
	p.Get(path+"/edit").Wants(t, http.StatusOK, "105 psi")
}

// TestTorqueInItsUnit: a US shop reads its wrench in pound-feet; the record keeps
// newton metres. 1 ft·lbf = 1.355 818 N·m (NIST SP 811, appendix B.8).
func TestTorqueInItsUnit(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	edit := "/vehicles/" + string(y.Vehicle.ID) + "/edit"
	vehicleForm := func() url.Values {
		all := formsOf(t, edit, p.Get(edit).Body)
		return all[slices.IndexFunc(all, func(f sentForm) bool { return f.action == edit })].values
	}

	for _, c := range []struct {
		typed string
		nm    float64
		shown string
	}{{"450", 610.1, "450"}, {"600 N·m", 600, "442.54"}, {"442.54", 600, "442.54"}, {"450 ft-lb", 610.1, "450"}, {"1,200 lb·ft", 1627, "1200"}} {
		form := vehicleForm()
		form.Set("torque_nm", c.typed)
		p.Post(edit, form).Wants(t, http.StatusSeeOther)
		if v := modeltest.Must(y.Fleet.Vehicle(t.Context(), y.System, y.Vehicle.ID))(t).Vehicle; v.TorqueNM != c.nm {
			t.Errorf("%q is kept as %g N·m, want %g", c.typed, v.TorqueNM, c.nm)
		}
		p.Get(edit).Wants(t, http.StatusOK, `name="torque_nm" value="`+c.shown+`"`)
	}

	form := vehicleForm()
	form.Set("torque_nm", "5000")
	p.Post(edit, form).Wants(t, http.StatusUnprocessableEntity, "1475 lb·ft", `value="5000"`)
}
