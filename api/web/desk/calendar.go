package desk

import (
	"bufio"
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"time"

	"github.com/labstack/echo/v4"

	"rimledger/api/web/say"
	"rimledger/api/web/site"
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
}

type monthDay struct {
	Date    time.Time
	Today   bool
	Lines   []dayLine // the first of them
	More    int       // how many more there are
	Address string    // of the whole day
}

// dayLine is one thing on a day.
type dayLine struct {
	dueLine
	Day    string // civil date
	Booked bool   // the shop takes the vehicle in
}

// eachDayLine calls yield with what is due before a time and what is booked in,
// vehicle by vehicle; what is due on one vehicle, for one reason, on one day is one line.
func (s *room) eachDayLine(r *site.Request, depot string, before time.Time, yield func(dayLine) error) error {
	return s.Fleet.EachOpen(r.Ctx(), r.Actor, narrowed(depot), func(v models.Vehicle, open []models.Finding) error {
		d := r.Depot(v.DepotID)
		z := r.Clock(d)
		var due []dueLine

		var lines []dayLine
		for _, f := range open {
			line := dueLine{Finding: f, Vehicle: v.Number, Depot: d, Zone: z}
			if f.Quiet(r.Now) && f.Ack.Booked != "" &&
				!slices.ContainsFunc(lines, func(l dayLine) bool { return l.Day == f.Ack.Booked }) {
				lines = append(lines, dayLine{dueLine: line, Day: f.Ack.Booked, Booked: true})
			}
			if f.DueAt != nil && f.DueAt.Before(before) {
				due = append(due, line)
			}
		}

		for _, l := range joined(due) {
			lines = append(lines, dayLine{dueLine: l, Day: l.Finding.DueAt.In(z.Location).Format(time.DateOnly)})
		}

		for _, l := range lines {
			if err := yield(l); err != nil {
				return err
			}
		}

		return nil
	})
}

// inDay orders the lines of a day: the shop first, then by urgency and vehicle.
func inDay(a, b dayLine) int {
	if a.Booked != b.Booked {
		return map[bool]int{true: -1, false: 1}[a.Booked]
	}
	return cmp.Or(cmp.Compare(a.Finding.Urgency, b.Finding.Urgency), cmp.Compare(a.Vehicle, b.Vehicle))
}

// maxInDay is how many lines a day of a month shows; the rest is on its own page.
const maxInDay = 12

// month shows one month, or one day of it.
func (s *room) month(r *site.Request) error {
	if r.QueryParam("day") != "" {
		return s.day(r)
	}

	p := monthPage{Depot: r.QueryParam("depot"), Depots: r.Depots, Month: r.QueryParam("month")}
	today := r.Now.In(say.Zone(r.Depot(models.DepotID(p.Depot))))

	first, err := time.Parse("2006-01", p.Month)
	if err != nil {
		if p.Month != "" {
			p.Problem = "That is no month; write it as " + today.Format("2006-01") + "."
		}
		first = time.Date(today.Year(), today.Month(), 1, 0, 0, 0, 0, time.UTC)
	}

	p.Month, p.Title = first.Format("2006-01"), first.Format("January 2006")
	p.Before = r.AddressWith("month", first.AddDate(0, -1, 0).Format("2006-01"))
	p.After = r.AddressWith("month", first.AddDate(0, 1, 0).Format("2006-01"))

	// A week begins on Monday, so the first may be some columns in.
	p.Lead = make([]struct{}, (int(first.Weekday())+6)%7)
	for d := first; d.Month() == first.Month(); d = d.AddDate(0, 0, 1) {
		q := url.Values{"day": {d.Format(time.DateOnly)}}
		if p.Depot != "" {
			q.Set("depot", p.Depot)
		}

		p.Days = append(
			p.Days,
			monthDay{
				Date:    d,
				Today:   d.Format(time.DateOnly) == today.Format(time.DateOnly),
				Address: "/due/calendar?" + q.Encode(),
			},
		)
	}

	// What is overdue has no day in this month; it is counted above.
	earlier := 0
	err = s.eachDayLine(r, p.Depot, first.AddDate(0, 1, 1), func(l dayLine) error {
		switch day, err := time.Parse(time.DateOnly, l.Day); {
		case err != nil:
			return err
		case day.Before(first):
			earlier++
		case day.Month() == first.Month() && day.Year() == first.Year():
			p.Days[day.Day()-1].add(l)
		}

		return nil
	})
	if err != nil {
		return err
	}

	if earlier > 0 {
		p.OverdueText = say.Plural(earlier, "job was", "jobs were") + " due before this month"
	}
	return r.Show("month", "due", "Due in "+p.Title, p)
}

// add keeps the first lines of a day in order and counts the others.
func (d *monthDay) add(l dayLine) {
	i, _ := slices.BinarySearchFunc(d.Lines, l, inDay)
	d.Lines = slices.Insert(d.Lines, i, l)
	if len(d.Lines) > maxInDay {
		d.Lines = d.Lines[:maxInDay]
		d.More++
	}
}

// dayPage is everything on one day.
type dayPage struct {
	Zone        say.Clock
	Day         string // civil date
	Depot       string
	Depots      []models.Depot
	Lines       []dayLine // on this page
	Count       int       // on the day
	First, Next string
	Month       string // address of its month
}

// perDayPage is how many lines a page of one day shows.
const perDayPage = 200

func (s *room) day(r *site.Request) error {
	p := dayPage{
		Zone:   r.Clock(r.Depot(models.DepotID(r.QueryParam("depot")))),
		Day:    r.QueryParam("day"),
		Depot:  r.QueryParam("depot"),
		Depots: r.Depots,
	}

	day, err := time.Parse(time.DateOnly, p.Day)
	if err != nil {
		return models.Errorf(models.Invalid, "%q is no day; write it as 2026-12-03", p.Day)
	}

	from := 0
	if after := r.QueryParam("after"); after != "" {
		if _, err := fmt.Sscan(after, &from); err != nil || from < 0 {
			return models.Errorf(models.Invalid, "%q is no place in the list", after)
		}
	}

	var all []dayLine
	err = s.eachDayLine(
		r,
		p.Depot,
		day.AddDate(0, 0, 2),
		func(l dayLine) error { // two days on it is over in every zone
			if l.Day == p.Day {
				all = append(all, l)
			}
			return nil
		},
	)
	if err != nil {
		return err
	}

	// The whole day is sorted before it is cut into pages.
	slices.SortStableFunc(all, inDay)
	p.Count, from = len(all), min(from, len(all))
	to := min(from+perDayPage, len(all))
	p.Lines = all[from:to]
	next := ""
	if to < len(all) {
		next = fmt.Sprint(to)
	}

	p.First, p.Next = r.Paging(next)
	p.Month = "/due/calendar?" + url.Values{"month": {day.Format("2006-01")}, "depot": {p.Depot}}.Encode()
	return r.Show("day", "due", "Due on "+p.Zone.Weekday(p.Day), p)
}

// feedAhead is how far the feed looks ahead.
const feedAhead = 366 * 24 * time.Hour

// feed answers the calendar to a program that has its secret address. The
// key is part of the query, which is logged nowhere.
func (s *room) feed(c echo.Context) error {
	actor, err := s.Fleet.AuthenticateFeed(c.Request().Context(), c.QueryParam("key"))
	if err != nil {
		return s.Failed(c, err)
	}
	r, err := s.RequestOf(c, actor)
	if err != nil {
		return s.Failed(c, err)
	}

	depot := r.QueryParam("depot")

	name := "Tires and wheels: due"
	if depot != "" {
		d := r.Depot(models.DepotID(depot))
		if d.ID == "" {
			return s.Failed(c, models.Errorf(models.NotFound, "no such depot"))
		}
		name = d.Name + ": due"
	}

	base := url.URL{Scheme: r.Scheme(), Host: r.Request().Host}
	r.Response().Header().Set("Content-Type", "text/calendar; charset=utf-8")
	r.Response().Header().Set("Content-Disposition", `attachment; filename="due.ics"`)

	// The feed can be long: it is sent as it is read.
	b := bufio.NewWriterSize(r.Response(), 64<<10)

	out := calendar.NewWriter(b, name)
	err = s.eachDayLine(
		r,
		depot,
		r.Now.Add(feedAhead),
		func(l dayLine) error { return out.Add(feedEntry(l, base.String())) },
	)
	if err == nil {
		err = out.Close()
	}

	switch {
	case err == nil:
		return b.Flush()
	case r.Response().Committed: // without its end it is no calendar, and programs keep the old one
		return err
	}

	r.Response().Header().Del("Content-Disposition")
	return s.Failed(c, err)
}

func feedEntry(l dayLine, base string) calendar.Entry {
	day, _ := time.Parse(time.DateOnly, l.Day) // a civil date by its maker

	f := l.Finding
	e := calendar.Entry{
		UID:         string(f.ID) + "@rimledger",
		Day:         day,
		Stamp:       f.UpdatedAt,
		Summary:     l.Vehicle + ": " + f.Title,
		Category:    f.Urgency.String(),
		Description: f.FirstJob,
		URL:         base + "/findings/" + string(f.ID),
	}

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
		e.UID = fmt.Sprintf("booked-%s-%s@rimledger", f.VehicleID, l.Day)
		e.URL = base + "/vehicles/" + string(f.VehicleID)
		e.Summary, e.Category = l.Vehicle+" in the shop", "booked in"
		e.Description, e.Stamp = f.Ack.Why, f.Ack.At
	}

	return e
}
