package bench_test

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	pdf "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/modeltest"
	"rimledger/models/units"
)

// fullestJob is a job that says everything that the form can say.
func fullestJob(y *webtest.World, t *testing.T) *models.BalanceJob {
	t.Helper()

	wheel := modeltest.Must(
		y.Fleet.CreateWheel(
			t.Context(),
			y.System,
			models.Wheel{
				ID:         modeltest.NewID[models.WheelID](),
				DepotID:    y.Depot.ID,
				Number:     "W-17",
				DiameterIn: 22.5,
				WidthIn:    8.25,
				Material:   "alloy",
			},
		),
	)(
		t,
	)

	g := func(v float64) models.Mass {
		return models.Mass{Value: units.Mass(v), Text: fmt.Sprintf("%g g", v)}
	}

	check := webtest.Now().AddDate(0, 0, -3)
	e := &models.BalanceJob{
		Meta: models.Meta{
			ID:        modeltest.NewID[models.EventID](),
			VehicleID: y.Vehicle.ID,
			At:        webtest.Now(),
			Person:    "Tilda Fennimore-Castellan (invented)",
			Odometer: modeltest.Must(
				models.ParseOdometer("204,500 mi", units.Mi),
			)(
				t,
			),
			Note: strings.Repeat("Shook from 55 mph before; ran true on the yard after. ", 8),
		},
		Position:   "1L",
		WheelID:    wheel.ID,
		Why:        models.BalanceComplaint,
		Mode:       "hidden",
		Planes:     "band_and_flange",
		Machine:    "bench 1 by the door (invented)",
		SelfCheck:  &check,
		Checks:     models.BalanceChecks,
		WeightsOff: true,
		TorqueNM:   600,
		Media:      &models.BalanceMedia{Type: "glass beads (invented)", Dose: "8 oz", In: check},
		Geometry: &models.WheelGeometry{
			OuterRadius:    285 * units.Millimetre,
			InnerRadius:    285 * units.Millimetre,
			InnerOffset:    210 * units.Millimetre,
			AdhesiveRadius: 262 * units.Millimetre,
			AdhesiveOffset: 70 * units.Millimetre,
			Spokes: []float64{
				0,
				36,
				72,
				108,
				144,
				180,
				216,
				252,
				288,
				324,
			},
			Blocked: []models.Arc{{From: 350, To: 10}, {From: 175, To: 190}},
		},
	}

	for i, plane := range []string{"outer", "inner"} {
		e.Shown = append(
			e.Shown,
			models.PlaneUnbalance{Plane: plane, Mass: g(345), Unrounded: new(g(343.7)), Angle: units.Angle(400 + 90*i)},
		)
		e.ShownAfter = append(
			e.ShownAfter,
			models.PlaneUnbalance{Plane: plane, Mass: g(5), Unrounded: new(g(3.2)), Angle: units.Angle(-20)},
		)

		for n := range 2 {
			e.Fitted = append(
				e.Fitted,
				models.FittedWeight{
					Plane: plane,
					Type:  []string{"adhesive", "clip"}[i],
					Mass:  g(175),
					Angle: units.Angle(22 + 36*n + 90*i),
					Place: fmt.Sprintf("spoke %d", n+2),
				},
			)

			e.Removed = append(
				e.Removed,
				models.FittedWeight{
					Plane: plane,
					Type:  "clip",
					Mass:  g(100),
					Angle: units.Angle(30 * n),
					Place: "flange",
				},
			)
		}
	}

	return e
}

// TestJobCardPrintsOnOneSheet prints the fullest card on A4 (ISO 216: 210 x 297 mm)
// and on Letter (ANSI A: 8.5 x 11 in) and counts the sheets.
func TestJobCardPrintsOnOneSheet(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.AddPerson("odd@fleet.example")
	job := fullestJob(y, t)
	modeltest.Must(y.Fleet.Record(t.Context(), y.System, job))(t)
	b := webtest.NewBrowser(t, 2*time.Minute)
	b.SignIn(t, y.Server.URL, "odd@fleet.example", webtest.Password)

	b.Run(
		t,
		"card",
		chromedp.Navigate(y.Server.URL+"/balance-jobs/"+string(job.ID)),
		chromedp.WaitVisible(chromedp.CSS(".jobcard")),
	)

	b.Text(t, "Over the limit") // 690 g asked for: no heavy wheel may

	for paper, inches := range map[string][2]float64{"a4": {210 / 25.4, 297 / 25.4}, "letter": {8.5, 11}} {
		out := modeltest.Must(
			chromedp.Call(
				b,
				pdf.PrintToPDF,
				pdf.PrintToPDFParams{PaperWidth: inches[0], PaperHeight: inches[1], PrintBackground: new(true)},
			),
		)(
			t,
		)

		if n := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(out.Data, -1)); n != 1 {
			t.Errorf("the fullest card takes %d sheets of %s", n, paper)
		}

		if folder := os.Getenv("RIMLEDGER_TEST_SHOTS"); folder != "" {
			if err := os.WriteFile(filepath.Join(folder, "card-"+paper+".pdf"), out.Data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}

	b.Shot(t, "job-card-fullest")
	b.Check(t, y.Server.URL)
}

// TestJobCardSaysWhatToDo: checks before, cautions, surface, torque and re-torque
// stand on the card, done or not; the card of a loose assembly leads back to it.
func TestJobCardSaysWhatToDo(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	job := fullestJob(y, t)
	job.Checks = []string{"clean"}
	modeltest.Must(y.Fleet.Record(t.Context(), y.System, job))(t)
	p.Get("/balance-jobs/"+string(job.ID)).
		Wants(t, http.StatusOK, "☑ rim and wheel cleaned", "☐ stones, mud and ice out", "☐ beads seated all around",
			"☐ run-out looked at", "☐ dampers looked at", "☐ bearings and joints", "Hood down, eye protection",
			"licensed", "bare, sound metal", "alcohol and water", "tightened to 443 lb·ft",
			"check nut torque again after at most", "8 oz by the maker", "wheel W-17",
			"shown, outer plane: 400° taken as 40°", "shown after, inner plane: -20° taken as 340°", "Not more weight")
}

// TestJobCardDrawsTheRecord: the dial shows every weight that was fitted, more than the
// form has rows, and what they leave. By hand: 120 g is asked for at 0 degrees in the
// outer plane, and six clips of 10 g sit there: 60 g are still to add at 0 degrees.
func TestJobCardDrawsTheRecord(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("odd@fleet.example")
	g := func(v float64) models.Mass { return models.Mass{Value: units.Mass(v), Text: fmt.Sprintf("%g g", v)} }
	job := &models.BalanceJob{
		Meta:     models.Meta{ID: modeltest.NewID[models.EventID](), VehicleID: y.Vehicle.ID, At: webtest.Now()},
		Position: "1L",
		Why:      models.BalanceInterval,
		Mode:     "two_plane",
		Planes:   "flanges",
		Geometry: &models.WheelGeometry{OuterRadius: 285 * units.Millimetre, InnerRadius: 285 * units.Millimetre,
			InnerOffset: 210 * units.Millimetre},
		Shown: []models.PlaneUnbalance{{Plane: "outer", Mass: g(120)}, {Plane: "inner", Mass: g(0)}},
	}
	for range 6 {
		job.Fitted = append(job.Fitted, models.FittedWeight{Plane: "outer", Type: "clip", Mass: g(10)})
	}
	modeltest.Must(y.Fleet.Record(t.Context(), y.System, job))(t)

	a := p.Get("/balance-jobs/" + string(job.ID))
	a.Wants(t, http.StatusOK, "outer plane asks for 120 g at 0°", "inner plane asks for nothing")
	if n := strings.Count(a.Body, `class="dial-own"`); n != 6 {
		t.Errorf("%d weights on the dial, want 6", n)
	}
	// The line from the center is as long as half of the largest as it was, 60 of 120 g: 30 upward from 200, 200.
	if !strings.Contains(a.Body, `class="dial-left dial-left-outer" d="M200 200L200 170"`) {
		t.Errorf("what is left is not drawn as 60 g to add at 0 degrees")
	}
}
