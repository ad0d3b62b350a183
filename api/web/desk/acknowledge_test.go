package desk_test

import (
	"net/http"
	"net/url"
	"slices"
	"testing"
	"time"

	"rimledger/api/web/webtest"
	"rimledger/models"
)

func TestAcknowledge(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	y.SignedIn("odd@fleet.example").
		Post("/vehicles/"+string(y.Vehicle.ID)+"/inspect", y.Inspection("5")).
		Wants(t, http.StatusSeeOther)

	found, _, err := y.Fleet.Findings(
		t.Context(),
		y.System,
		models.FindingFilter{VehicleID: y.Vehicle.ID},
		models.Page{Limit: 50},
	)

	i := slices.IndexFunc(found, func(f models.Finding) bool { return f.Urgency != models.OffTheRoad })
	if err != nil || i < 0 {
		t.Fatalf("no finding to acknowledge: %v %v", found, err)
	}
	path := "/findings/" + string(found[i].ID)
	p := y.SignedIn("mara@fleet.example")
	p.Get(path).Wants(t, http.StatusOK, "Acknowledge", "What this means")
	p.Post(path+"/acknowledge", url.Values{"until": {"soon"}, "why": {"booked in"}}).
		Wants(t, http.StatusUnprocessableEntity, "write the day", "booked in")
	p.Post(path+"/acknowledge", url.Values{"until": {"2999-01-01"}, "why": {"booked in"}}).
		Wants(t, http.StatusUnprocessableEntity, "at most 180 days", `value="2999-01-01"`)

	a := p.Post(
		path+"/acknowledge",
		url.Values{"until": {webtest.Now().AddDate(0, 0, 9).Format(time.DateOnly)}, "why": {"booked in for Thursday"}},
	)
	a.Wants(t, http.StatusSeeOther)
	p.Get(a.Location).Wants(t, http.StatusOK, "booked in for Thursday", "by Mara Quill")

	y.SignedIn("vic@fleet.example").
		Post(path+"/acknowledge", url.Values{"withdraw": {"1"}}).
		Wants(t, http.StatusForbidden)

	p.Post(path+"/acknowledge", url.Values{"withdraw": {"1"}}).Wants(t, http.StatusSeeOther)
}
