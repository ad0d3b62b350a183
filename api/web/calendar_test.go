package web_test

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/fleet"
)

// The calendar is a page, and a feed under a secret address that is shown once,
// opens nothing else and ends when it is revoked.
func TestCalendar(t *testing.T) {
	t.Parallel()
	y := newYard(t)
	p := y.signedIn("mara@fleet.example")
	day := time.Now().AddDate(0, 0, 2).Format(time.DateOnly)
	must(y.fleet.BookIn(t.Context(), y.system, fleet.Booking{ID: newID[string](), Vehicles: []models.VehicleID{y.vehicle.ID}, Day: day, Note: "bay 2; brakes, too"}))(t)
	p.get("/due/calendar?month="+day[:7]).wants(t, http.StatusOK, "in the shop", "T-101", "bay 2; brakes, too")
	p.get("/due/calendar?month=soon").wants(t, http.StatusOK, "That is no month")

	made := p.post("/settings/calendar", nil)
	made.wants(t, http.StatusOK, "shown this once", "the calendar only")
	found := regexp.MustCompile(`http://[^<]*/calendar\.ics\?key=(rl_[^<&]*)`).FindStringSubmatch(html.UnescapeString(made.Body))
	if found == nil {
		t.Fatal("no address is shown")
	}
	if strings.Contains(p.get("/settings").Body, found[1]) {
		t.Error("the address is shown again")
	}
	program := y.stranger()
	path := "/calendar.ics?key=" + url.QueryEscape(found[1])
	feed := program.get(path)
	feed.wants(t, http.StatusOK, "BEGIN:VCALENDAR\r\n", "SUMMARY:T-101 in the shop\r\n", `DESCRIPTION:bay 2\; brakes\, too`, "DTSTART;VALUE=DATE:"+strings.ReplaceAll(day, "-", ""))
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
	program.get(path+"&depot="+string(y.depot.ID)).wants(t, http.StatusOK, "X-WR-CALNAME:Alder Yard: due")
	program.get("/calendar.ics?key=rl_guess").wants(t, http.StatusUnauthorized)
	// The key is no key to anything else, and an API token is none to the feed.
	r := must(http.NewRequestWithContext(t.Context(), http.MethodGet, y.server.URL+"/api/v1/vehicles", nil))(t)
	r.Header.Set("Authorization", "Bearer "+found[1])
	if a := program.do(r); a.Status != http.StatusUnauthorized {
		t.Errorf("the API answers %d to the calendar's key", a.Status)
	}
	made = p.post("/settings/tokens", url.Values{"name": {"api"}, "days": {"9"}})
	api := regexp.MustCompile(`rl_[\w-]+`).FindString(made.Body)
	program.get("/calendar.ics?key="+api).wants(t, http.StatusUnauthorized)
	for _, m := range regexp.MustCompile(`/settings/tokens/[\w-]+/revoke`).FindAllString(p.get("/settings").Body, -1) {
		p.post(m, nil).wants(t, http.StatusSeeOther)
	}
	program.get(path).wants(t, http.StatusUnauthorized)
}
