package web

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"time"

	"github.com/labstack/echo/v4"

	"rimledger/models"
	"rimledger/reports/calendar"
)

// monthPage is what is due in one month, day by day.
type monthPage struct {
	Title       string
	Depot       string
	Depots      []models.Depot
	Month       string // 2026-12
	Before      string // addresses of the months beside it
	After       string
	Lead        []struct{} // days of the week before the first of the month
	Days        []monthDay
	Problem     string
	OverdueText string // how much is overdue from earlier months
	More        bool
}

type monthDay struct {
	Date  time.Time
	Today bool
	Lines []dayLine
}

// dayLine is one thing on a day.
type dayLine struct {
	dueLine
	Day    string // civil date
	Booked bool   // the shop takes the vehicle in
}

// maxDue bounds what one calendar is made from.
const maxDue = 2000

// dayLines lists what is due before a time and what is booked in, joined by
// vehicle, reason and day, in the order of the days. more reports that there
// was more than maxDue.
func (s *site) dayLines(r *request, depot string, before time.Time) (out []dayLine, more bool, err error) {
	var due []dueLine
	booked := map[string]bool{}
	numbers := map[models.VehicleID]string{}
	p := models.Page{Limit: 500}
	for len(due) < maxDue {
		list, next, err := s.Fleet.Findings(r.ctx(), r.actor, models.FindingFilter{Depots: narrowed(depot)}, p)
		if err != nil {
			return nil, false, err
		}
		for _, f := range list {
			d := r.depot(f.DepotID)
			line := dueLine{Finding: f, Depot: d, Zone: zone(d)}
			if line.Vehicle, err = s.number(r, f.VehicleID, numbers); err != nil {
				return nil, false, err
			}
			if f.Quiet(r.now) && f.Ack.Booked != "" && !booked[string(f.VehicleID)+f.Ack.Booked] {
				booked[string(f.VehicleID)+f.Ack.Booked] = true
				out = append(out, dayLine{dueLine: line, Day: f.Ack.Booked, Booked: true})
			}
			if f.DueAt != nil && f.DueAt.Before(before) {
				due = append(due, line)
			}
		}
		if p.After = next; next == "" {
			break
		}
	}
	for _, l := range joined(due) {
		out = append(out, dayLine{dueLine: l, Day: l.Finding.DueAt.In(l.Zone).Format(time.DateOnly)})
	}
	slices.SortStableFunc(out, func(a, b dayLine) int { return compareText(a.Day, b.Day) })
	return out, p.After != "", nil
}

func compareText(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// month shows one month.
func (s *site) month(r *request) error {
	p := monthPage{Depot: r.QueryParam("depot"), Depots: r.depots, Month: r.QueryParam("month")}
	today := r.now.In(zone(r.depot(models.DepotID(p.Depot))))
	first, err := time.Parse("2006-01", p.Month)
	if err != nil {
		if p.Month != "" {
			p.Problem = "That is no month; write it as " + today.Format("2006-01") + "."
		}
		first = time.Date(today.Year(), today.Month(), 1, 0, 0, 0, 0, time.UTC)
	}
	p.Month, p.Title = first.Format("2006-01"), first.Format("January 2006")
	p.Before, p.After = r.with("month", first.AddDate(0, -1, 0).Format("2006-01")), r.with("month", first.AddDate(0, 1, 0).Format("2006-01"))
	p.Lead = make([]struct{}, (int(first.Weekday())+6)%7)
	for d := first; d.Month() == first.Month(); d = d.AddDate(0, 0, 1) {
		p.Days = append(p.Days, monthDay{Date: d, Today: d.Format(time.DateOnly) == today.Format(time.DateOnly)})
	}
	lines, more, err := s.dayLines(r, p.Depot, first.AddDate(0, 1, 1))
	if err != nil {
		return err
	}
	p.More = more
	earlier := 0
	for _, l := range lines {
		day, err := time.Parse(time.DateOnly, l.Day)
		switch {
		case err != nil:
		case day.Before(first):
			earlier++
		case day.Month() == first.Month() && day.Year() == first.Year():
			p.Days[day.Day()-1].Lines = append(p.Days[day.Day()-1].Lines, l)
		}
	}
	if earlier > 0 {
		p.OverdueText = plural(earlier, "job was", "jobs were") + " due before this month"
	}
	return r.render("month", "due", "Due in "+p.Title, p)
}

// feedAhead is how far the feed looks ahead.
const feedAhead = 366 * 24 * time.Hour

// feed answers the calendar to a program that knows a secret address of it. The
// key is part of the query, which is logged nowhere.
func (s *site) feed(c echo.Context) error {
	secure(c)
	actor, err := s.Fleet.AuthenticateFeed(c.Request().Context(), c.QueryParam("key"))
	if err != nil {
		return s.failed(c, err)
	}
	r := &request{Context: c, site: s, actor: actor, now: s.Now()}
	if r.depots, err = s.Fleet.Depots(r.ctx(), actor); err != nil {
		return s.failed(c, err)
	}
	depot := r.QueryParam("depot")
	name := "Tires and wheels: due"
	if depot != "" {
		d := r.depot(models.DepotID(depot))
		if d.ID == "" {
			return s.failed(c, models.Errorf(models.NotFound, "no such depot"))
		}
		name = d.Name + ": due"
	}
	lines, _, err := s.dayLines(r, depot, r.now.Add(feedAhead))
	if err != nil {
		return s.failed(c, err)
	}
	base := url.URL{Scheme: r.Scheme(), Host: r.Request().Host}
	var b bytes.Buffer
	if err := calendar.Write(&b, name, entries(lines, base.String())); err != nil {
		return s.failed(c, err)
	}
	r.Response().Header().Set("Content-Disposition", `attachment; filename="due.ics"`)
	return r.Blob(http.StatusOK, "text/calendar; charset=utf-8", b.Bytes())
}

func entries(lines []dayLine, base string) []calendar.Entry {
	var out []calendar.Entry
	for _, l := range lines {
		day, err := time.Parse(time.DateOnly, l.Day)
		if err != nil {
			continue
		}
		f := l.Finding
		e := calendar.Entry{UID: string(f.ID) + "@rimledger", Day: day, Stamp: f.UpdatedAt, Summary: l.Vehicle + ": " + f.Title, Category: f.Urgency.String(),
			Description: f.FirstJob, URL: base + "/findings/" + string(f.ID)}
		for i, p := range l.Also {
			sep := ", "
			if i == 0 {
				sep = " (also "
			}
			e.Summary += sep + string(p)
		}
		if len(l.Also) > 0 {
			e.Summary += ")"
		}
		if f.Estimated {
			e.Description += "\nThe day rests on an estimate."
		}
		if l.Booked {
			e.UID, e.URL = fmt.Sprintf("booked-%s-%s@rimledger", f.VehicleID, l.Day), base+"/vehicles/"+string(f.VehicleID)
			e.Summary, e.Description, e.Category, e.Stamp = l.Vehicle+" in the shop", f.Ack.Why, "booked in", f.Ack.At
		}
		out = append(out, e)
	}
	return out
}
