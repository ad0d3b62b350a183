package record_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/units"
)

// dueLines reads the table of what is due and when: a line a row, its cells
// parted by bars.
func dueLines(t *testing.T, body string) []string {
	t.Helper()
	doc := modeltest.Must(html.Parse(strings.NewReader(body)))(t)

	var out []string
	for n := range doc.Descendants() {
		if n.Type != html.ElementNode || n.Data != "section" || webtest.Attr(n, "aria-labelledby") != "due" {
			continue
		}

		for row := range n.Descendants() {
			if row.Type != html.ElementNode || row.Data != "tr" {
				continue
			}
			var cells []string
			for c := range row.ChildNodes() {
				cells = append(cells, strings.Join(strings.Fields(webtest.Text(c)), " "))
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
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	path := "/vehicles/" + string(y.Vehicle.ID)

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

	has(dueLines(t, p.Get(path).Body), "overdue | first inspection in the record since then", "| –")
	p.Post(path+"/inspect", y.Inspection("9")).Wants(t, http.StatusSeeOther)

	modeltest.Must(
		y.Fleet.Record(
			t.Context(),
			y.System,
			&models.Alignment{
				Meta: models.Meta{
					ID:        modeltest.NewID[models.EventID](),
					VehicleID: y.Vehicle.ID,
					At:        y.Start.AddDate(-2, 0, 0),
				},
			},
		),
	)(
		t,
	)

	lines := dueLines(t, p.Get(path).Body)
	has(lines, "overdue", "| alignment every 365 days |")
	has(lines, "estimated | rotation every 75,000 mi | 275,000 mi")
	has(lines, "estimated | pull point 6/32 in at 1L, 1R by its wear", " mi")
	if !strings.Contains(lines[1], "alignment") {
		t.Errorf("the first line is %q, want what is overdue", lines[1])
	}

	p.Post("/settings/units", url.Values{"depth": {"mm"}, "pressure": {"bar"}, "distance": {"km"}, "mass": {"g"}}).
		Wants(t, http.StatusSeeOther)
	metric := dueLines(t, p.Get(path).Body)
	has(metric, "rotation every 120,701 km | 442,570 km")
	if all := strings.Join(metric, "\n"); strings.Contains(all, " mi") || strings.Contains(all, "/32") {
		t.Errorf("miles or 32nds for a person who reads metric:\n%s", all)
	}
}

func TestWhatIsDueWithoutOdometerAndWhenRetired(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")

	trailer := models.Vehicle{
		ID:         modeltest.NewID[models.VehicleID](),
		DepotID:    y.Depot.ID,
		Number:     "T-202",
		Class:      models.Trailer,
		NoOdometer: true,
		Axles:      []models.Axle{{Pressure: modeltest.Must(models.ParsePressure("100 psi", units.BareNone))(t)}},
	}

	modeltest.Must(y.Fleet.CreateVehicle(t.Context(), y.System, trailer))(t)
	fit := &models.Fit{
		Meta: models.Meta{
			ID:        modeltest.NewID[models.EventID](),
			VehicleID: trailer.ID,
			At:        y.Start.AddDate(0, -1, 0),
		},
		Existing: true,
	}

	for _, at := range trailer.Positions() {
		tire := modeltest.Must(
			y.Fleet.CreateTire(
				t.Context(),
				y.System,
				models.Tire{
					ID:        modeltest.NewID[models.TireID](),
					DepotID:   y.Depot.ID,
					Number:    "B" + string(at),
					Size:      "11R22.5",
					NewDepths: []units.Length{18 * units.ThirtySecond},
				},
			),
		)(
			t,
		)

		fit.Fittings = append(fit.Fittings, models.Fitting{TireID: tire.ID, Position: at})
	}

	modeltest.Must(y.Fleet.Record(t.Context(), y.System, fit))(t)
	lines := strings.Join(dueLines(t, p.Get("/vehicles/"+string(trailer.ID)).Body), "\n")
	if !strings.Contains(lines, "rotation every ") ||
		!strings.Contains(lines, " mi, by usual use per day: the odometer is not known | –") {
		t.Errorf("a trailer without an odometer:\n%s", lines)
	}

	trailer.ID, trailer.Number, trailer.Retired = modeltest.NewID[models.VehicleID](), "T-203", true
	modeltest.Must(y.Fleet.CreateVehicle(t.Context(), y.System, trailer))(t)
	p.Get("/vehicles/"+string(trailer.ID)).
		Wants(t, http.StatusOK, "· <b>retired</b>", "This vehicle is retired: nothing comes due on it.")
}
