package desk_test

import (
	"errors"
	"fmt"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"rimledger/api/web/webtest"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/modeltest"
)

// The calendar is a page, and a feed under a secret address that is shown once,
// opens nothing else and ends when it is revoked.
func TestCalendar(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")

	day := webtest.Now().AddDate(0, 0, 2).Format(time.DateOnly)
	modeltest.Must(
		y.Fleet.BookIn(
			t.Context(),
			y.System,
			fleet.Booking{
				ID:       modeltest.NewID[string](),
				Vehicles: []models.VehicleID{y.Vehicle.ID},
				Day:      day,
				Note:     "bay 2; brakes, too",
			},
		),
	)(
		t,
	)

	p.Get("/due/calendar?month="+day[:7]).Wants(t, http.StatusOK, "in the shop", "T-101", "bay 2; brakes, too")
	p.Get("/due/calendar?month=soon").Wants(t, http.StatusOK, "That is no month")

	made := p.Post("/settings/calendar", nil)
	made.Wants(t, http.StatusOK, "shown this once", "the calendar only")

	found := regexp.MustCompile(`http://[^<]*/calendar\.ics\?key=(rl_[^<&]*)`).
		FindStringSubmatch(html.UnescapeString(made.Body))
	if found == nil {
		t.Fatal("no address is shown")
	}
	if strings.Contains(p.Get("/settings").Body, found[1]) {
		t.Error("the address is shown again")
	}

	program := y.Stranger()
	path := "/calendar.ics?key=" + url.QueryEscape(found[1])

	feed := program.Get(path)
	feed.Wants(
		t,
		http.StatusOK,
		"BEGIN:VCALENDAR\r\n",
		"SUMMARY:T-101 in the shop\r\n",
		`DESCRIPTION:bay 2\; brakes\, too`,
		"DTSTART;VALUE=DATE:"+strings.ReplaceAll(day, "-", ""),
	)

	if kind := feed.Header.Get("Content-Type"); kind != "text/calendar; charset=utf-8" {
		t.Errorf("content type %s", kind)
	}

	ids := map[string]bool{}
	for _, m := range regexp.MustCompile(`UID:(\S+)`).FindAllStringSubmatch(feed.Body, -1) {
		if ids[m[1]] {
			t.Errorf("UID %s stands twice", m[1])
		}
		ids[m[1]] = true
	}

	program.Get(path+"&depot="+string(y.Depot.ID)).Wants(t, http.StatusOK, "X-WR-CALNAME:Alder Yard: due")
	program.Get("/calendar.ics?key=rl_guess").Wants(t, http.StatusUnauthorized)
	// The key is no key to anything else, and an API token is none to the feed.
	r := modeltest.Must(
		http.NewRequestWithContext(t.Context(), http.MethodGet, y.Server.URL+"/api/v1/vehicles", nil),
	)(
		t,
	)
	r.Header.Set("Authorization", "Bearer "+found[1])
	if a := program.Do(r); a.Status != http.StatusUnauthorized {
		t.Errorf("the API answers %d to the calendar's key", a.Status)
	}

	made = p.Post("/settings/tokens", url.Values{"name": {"api"}, "days": {"9"}})
	api := regexp.MustCompile(`rl_[\w-]+`).FindString(made.Body)
	program.Get("/calendar.ics?key="+api).Wants(t, http.StatusUnauthorized)

	for _, m := range regexp.MustCompile(`/settings/tokens/[\w-]+/revoke`).FindAllString(p.Get("/settings").Body, -1) {
		p.Post(m, nil).Wants(t, http.StatusSeeOther)
	}

	program.Get(path).Wants(t, http.StatusUnauthorized)
}

// 210 vehicles with 12 jobs each, spread evenly over three days of next month, are 2,520
// jobs, 840 a day: the feed brings every one, a day of the month shows 12 and tells that
// 828 more are on its page, which is turned until all are seen.
func TestCalendarOfALargeFleet(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	zone := modeltest.Must(time.LoadLocation(y.Depot.TimeZone))(t)
	now := webtest.Now().In(zone)
	first := time.Date(now.Year(), now.Month()+1, 10, 12, 0, 0, 0, zone)

	codes := []models.FindingCode{
		models.BelowPull,
		models.RotationOverdue,
		models.AlignmentOverdue,
		models.InspectionOverdue,
		models.RebalanceOverdue,
		models.RetorqueDue,
		models.AgeLimit,
		models.PullForecast,
		models.PressureOverdue,
		models.AgeWatch,
		models.FastWear,
		models.UnevenWear,
	}

	err := y.Store.Write(t.Context(), func(tx models.Tx) error {
		for i := range 210 {
			v := y.Vehicle
			v.ID, v.Number = modeltest.NewID[models.VehicleID](), fmt.Sprintf("L-%03d", i)

			var open []models.Finding
			for n, code := range codes {
				due := first.AddDate(0, 0, n%3)
				open = append(
					open,
					models.Finding{
						ID:        modeltest.NewID[models.FindingID](),
						DepotID:   v.DepotID,
						VehicleID: v.ID,
						Code:      code,
						Urgency:   models.Plan,
						Title:     "job " + v.Number,
						Since:     now,
						OpenedAt:  now,
						UpdatedAt: now,
						DueAt:     &due,
					},
				)
			}

			standing := models.Standing{Worst: models.Plan, Since: now, Findings: len(open)}
			err := errors.Join(
				tx.PutVehicle(t.Context(), v),
				tx.PutVehicleState(t.Context(), v.ID, models.VehicleState{}, standing),
				tx.PutFindings(t.Context(), open),
			)
			if err != nil {
				return err
			}
		}

		return nil
	})

	if err != nil {
		t.Fatal(err)
	}

	key := regexp.MustCompile(`calendar\.ics\?key=(rl_[^<&]*)`).
		FindStringSubmatch(html.UnescapeString(p.Post("/settings/calendar", nil).Body))
	if key == nil {
		t.Fatal("no address is shown")
	}
	feed := y.Stranger().Get("/calendar.ics?key=" + url.QueryEscape(key[1]))
	feed.Wants(t, http.StatusOK, "END:VCALENDAR\r\n")

	ids := map[string]bool{}
	for _, m := range regexp.MustCompile(`UID:\S+`).FindAllString(feed.Body, -1) {
		ids[m] = true
	}

	if n := strings.Count(feed.Body, "SUMMARY:L-"); n != 2520 || len(ids) < n {
		t.Errorf("the feed holds %d jobs under %d ids, want 2520", n, len(ids))
	}

	month := p.Get("/due/calendar?month=" + first.Format("2006-01"))
	month.Wants(t, http.StatusOK)
	if n := strings.Count(month.Body, "and 828 more"); n != 3 {
		t.Errorf("%d days tell of 828 more, want 3", n)
	}

	seen, path := 0, "/due/calendar?day="+first.Format(time.DateOnly)
	for turns := 0; path != "" && turns < 10; turns++ {
		a := p.Get(path)
		a.Wants(t, http.StatusOK)
		if text := strings.Join(strings.Fields(a.Body), " "); !strings.Contains(text, "840 jobs on this day") {
			t.Errorf("%s does not say that there are 840 jobs", path)
		}
		seen += len(regexp.MustCompile(`href="/findings/[\w-]+">L-`).FindAllString(a.Body, -1))
		path = ""
		if next := regexp.MustCompile(`href="([^"]*)" rel="next">More on this day`).FindStringSubmatch(a.Body); next != nil {
			path = html.UnescapeString(next[1])
		}
	}

	if seen != 840 {
		t.Errorf("turning the pages of a day shows %d jobs, want 840", seen)
	}

	p.Get("/due/calendar?day=soon").Wants(t, http.StatusUnprocessableEntity, "is no day")
	p.Get("/due/calendar?day="+first.Format(time.DateOnly)+"&after=x").
		Wants(t, http.StatusUnprocessableEntity, "no place in the list")
	p.Get("/due/calendar?day="+first.AddDate(0, 0, 5).Format(time.DateOnly)).
		Wants(t, http.StatusOK, "Nothing is due on this day")
}
