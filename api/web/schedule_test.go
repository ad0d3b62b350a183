package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"rimledger/models"
	"rimledger/models/units"
)

// dueLines reads the table of what is due and when: a line a row, its cells
// parted by bars.
func dueLines(t *testing.T, body string) []string {
	t.Helper()
	doc := must(html.Parse(strings.NewReader(body)))(t)

	var out []string
	for n := range doc.Descendants() {
		if n.Type != html.ElementNode || n.Data != "section" || attr(n, "aria-labelledby") != "due" {
			continue
		}

		for row := range n.Descendants() {
			if row.Type != html.ElementNode || row.Data != "tr" {
				continue
			}
			var cells []string
			for c := range row.ChildNodes() {
				cells = append(cells, strings.Join(strings.Fields(text(c)), " "))
			}
			out = append(out, strings.Join(cells, " | "))
		}
	}

	return out
}

// What the lines hold is tested with assess.Schedule; here, that each state of a
// vehicle reads well and that every number comes in the person's units. 120,000 km
// are 74,564.5 miles by the international mile of 1.609344 km; tires were fitted at
// 200,000 mi.
func TestWhatIsDueOnAVehicle(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	path := "/vehicles/" + string(y.vehicle.ID)

	has := func(lines []string, parts ...string) {
		t.Helper()

		for _, l := range lines {
			ok := true
			for _, s := range parts {
				ok = ok && strings.Contains(l, s)
			}
			if ok {
				return
			}
		}

		t.Errorf("no line with %q:\n%s", parts, strings.Join(lines, "\n"))
	}

	has(dueLines(t, p.get(path).Body), "overdue | first inspection in the record since then", "| –")
	p.post(path+"/inspect", y.inspection("9")).wants(t, http.StatusSeeOther)

	must(
		y.fleet.Record(
			t.Context(),
			y.system,
			&models.Alignment{
				Meta: models.Meta{ID: newID[models.EventID](), VehicleID: y.vehicle.ID, At: y.start.AddDate(-2, 0, 0)},
			},
		),
	)(
		t,
	)

	lines := dueLines(t, p.get(path).Body)
	has(lines, "overdue", "| alignment every 365 days |")
	has(lines, "estimated | rotation every 74,565 mi | 274,565 mi")
	has(lines, "estimated | pull point 6/32 in at 1L, 1R by its wear", " mi")
	if !strings.Contains(lines[1], "alignment") {
		t.Errorf("the first line is %q, want what is overdue", lines[1])
	}

	p.post("/settings/units", url.Values{"depth": {"mm"}, "pressure": {"bar"}, "distance": {"km"}, "mass": {"g"}}).
		wants(t, http.StatusSeeOther)
	metric := dueLines(t, p.get(path).Body)
	has(metric, "rotation every 120,000 km | 441,869 km")
	if all := strings.Join(metric, "\n"); strings.Contains(all, " mi") || strings.Contains(all, "/32") {
		t.Errorf("miles or 32nds for a person who reads metric:\n%s", all)
	}
}

func TestWhatIsDueWithoutOdometerAndWhenRetired(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")

	trailer := models.Vehicle{
		ID:         newID[models.VehicleID](),
		DepotID:    y.depot.ID,
		Number:     "T-202",
		Class:      models.Trailer,
		NoOdometer: true,
		Axles:      []models.Axle{{Pressure: must(models.ParsePressure("100 psi", units.BareNone))(t)}},
	}

	must(y.fleet.CreateVehicle(t.Context(), y.system, trailer))(t)
	fit := &models.Fit{
		Meta:     models.Meta{ID: newID[models.EventID](), VehicleID: trailer.ID, At: y.start.AddDate(0, -1, 0)},
		Existing: true,
	}

	for _, at := range trailer.Positions() {
		tire := must(
			y.fleet.CreateTire(
				t.Context(),
				y.system,
				models.Tire{ID: newID[models.TireID](), DepotID: y.depot.ID, Number: "B" + string(at), Size: "11R22.5",
					NewDepths: []units.Length{18 * units.ThirtySecond}},
			),
		)(
			t,
		)

		fit.Fittings = append(fit.Fittings, models.Fitting{TireID: tire.ID, Position: at})
	}

	must(y.fleet.Record(t.Context(), y.system, fit))(t)
	lines := strings.Join(dueLines(t, p.get("/vehicles/"+string(trailer.ID)).Body), "\n")
	if !strings.Contains(lines, "rotation every ") ||
		!strings.Contains(lines, " mi, by usual use per day: the odometer is not known | –") {
		t.Errorf("a trailer without an odometer:\n%s", lines)
	}

	trailer.ID, trailer.Number, trailer.Retired = newID[models.VehicleID](), "T-203", true
	must(y.fleet.CreateVehicle(t.Context(), y.system, trailer))(t)
	p.get("/vehicles/"+string(trailer.ID)).
		wants(t, http.StatusOK, "· <b>retired</b>", "This vehicle is retired: nothing comes due on it.")
}
