package desk_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
	"rimledger/models/units"
	"rimledger/reports/digest"
)

// TestEstimatedBelowIsSaidEverywhere: a steer tire that wore 4/32 in each ten days and was
// read at 5/32 in ten days ago is by estimate below 4/32 in, the minimum of 49 CFR 393.75(b).
// List, vehicle, phone, interface and mail say so in the same words, booked in or not.
func TestEstimatedBelowIsSaidEverywhere(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	for i, depth := range []string{"17", "13", "9", "5"} {
		at := webtest.Now().AddDate(0, 0, 10*i-40)
		d := modeltest.Must(models.ParseDepth(depth, units.In32))(t)
		o := modeltest.Must(models.ParseOdometer(fmt.Sprintf("%d mi", 204_000+4000*i), units.Mi))(t)
		r := models.Reading{Position: "1L", Depths: [][]*models.Depth{{&d}, {&d}, {&d}}}
		e := &models.Inspection{Meta: models.Meta{ID: modeltest.NewID[models.EventID](), VehicleID: y.Vehicle.ID,
			At: at, Odometer: o, Confirmed: []string{"depth_drop:1L", "unit:1L"}}, Readings: []models.Reading{r}}
		modeltest.Must(y.Fleet.Record(t.Context(), y.System, e))(t)
	}

	const words = "by estimate below the legal minimum; measure before the next trip"
	p := y.SignedIn("mara@fleet.example")
	said := func(when string) {
		vehicle := "/vehicles/" + string(y.Vehicle.ID)
		p.Get("/").Wants(t, http.StatusOK, "do now", "1L: "+words)
		p.Get(vehicle).Wants(t, http.StatusOK, "1L: "+words)
		p.Get("/api/v1/findings").Wants(t, http.StatusOK, `"below_legal_estimated"`, `"do now"`, "1L: "+words)
		p.Get("/yard/sheet?vehicle="+string(y.Vehicle.ID)).Wants(t, http.StatusOK, `"do now"`, models.Sentence(words))

		week := modeltest.Must(y.Fleet.DigestOf(t.Context(), y.System, y.Depot.ID, webtest.Now().AddDate(0, 0, -7),
			webtest.Now()))(t)
		mail := modeltest.Must(digest.Render(week, "https://fleet.example"))(t)
		text := strings.Join(strings.Fields(mail.Text), " ")
		if !strings.Contains(text, "by estimate below the legal minimum at 1L - measure before the next trip") {
			t.Errorf("%s: the mail does not say it:\n%s", when, mail.Text)
		}
	}
	said("at once")

	modeltest.Must(y.Fleet.BookIn(t.Context(), y.System, fleet.Booking{ID: modeltest.NewID[string](),
		Vehicles: []models.VehicleID{y.Vehicle.ID}, Day: webtest.Now().AddDate(0, 0, 3).Format(time.DateOnly)}))(t)
	said("booked in")
}
