package web

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// weekly is a schedule that comes once a week.
type weekly struct {
	Day time.Weekday
	At  string // 06:00
}

// cron writes the schedule as five fields.
func (w weekly) cron() string {
	at, _ := time.Parse(timeOfDay, w.At)
	return fmt.Sprintf("%d %d * * %d", at.Minute(), at.Hour(), w.Day)
}

// timeOfDay is how a time of day is written in a form.
const timeOfDay = "15:04"

// weekdays are the days of a week as a form lists them; their names are the values.
var weekdays = []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday, time.Saturday, time.Sunday}

// readWeekly reads five fields of cron that name one day of the week and one
// time, false for every other schedule.
func readWeekly(cron string) (weekly, bool) {
	f := strings.Fields(cron)
	if len(f) != 5 || strings.Trim(f[2], "*?") != "" || f[3] != "*" {
		return weekly{}, false
	}
	day := slices.IndexFunc(weekdays, func(d time.Weekday) bool {
		return f[4] == strconv.Itoa(int(d)) || strings.EqualFold(f[4], d.String()[:3])
	})
	minute, err := strconv.ParseUint(f[0], 10, 8)
	hour, err2 := strconv.ParseUint(f[1], 10, 8)
	if day < 0 || err != nil || err2 != nil || minute > 59 || hour > 23 {
		return weekly{}, false
	}
	return weekly{weekdays[day], fmt.Sprintf("%02d:%02d", hour, minute)}, true
}

// scheduleText says when a depot's digest goes out, in words where it is weekly.
func scheduleText(d models.Depot, z clock) string {
	if w, ok := readWeekly(d.DigestCron); ok {
		at, _ := time.Parse(timeOfDay, w.At)
		return "every " + w.Day.String() + " at " + z.WriteTime(at) + ", " + d.TimeZone
	}
	return "as set: " + d.DigestCron + " (minute, hour, day, month, weekday), " + d.TimeZone
}

// setDigest puts a schedule into the fields of the form. One that is not weekly
// is the value of the day itself, and is kept so unless another is chosen.
func setDigest(v url.Values, cron string) {
	v.Set("digest_day", cron)
	if w, ok := readWeekly(cron); ok {
		v.Set("digest_day", w.Day.String())
		v.Set("digest_time", w.At)
	}
}

func digestSection(f *entry, hint string) section {
	var days, times []option
	for _, d := range weekdays {
		days = append(days, option{Value: d.String(), Label: d.String()})
	}
	if is := f.text("digest_day"); is != "" && !slices.ContainsFunc(days, func(o option) bool { return o.Value == is }) {
		days = append(days, option{Value: is, Label: "as set: " + is})
	}
	for t := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC); t.Day() == 1; t = t.Add(30 * time.Minute) {
		times = append(times, timeOption(t, f.units))
	}
	is := f.text("digest_time")
	if is == "" {
		is = "06:00" // offered first, chosen by us
	}
	if i, found := slices.BinarySearchFunc(times, is, func(o option, s string) int { return strings.Compare(o.Value, s) }); !found {
		own := option{Value: is, Label: is}
		if t, err := time.Parse(timeOfDay, is); err == nil {
			own = timeOption(t, f.units)
		}
		times = slices.Insert(times, i, own)
	}
	at := f.selectField("digest_time", "Time, by the depot's clocks", "", times)
	for i := range at.Options {
		at.Options[i].Chosen = at.Options[i].Value == is
	}
	return section{Legend: "Weekly digest", Hint: hint, Fields: []field{
		f.selectField("digest_day", "Goes out on", "none, no mail goes out", days), at,
		f.areaField("recipients", "Sent to, one email address per line", "")}}
}

func timeOption(t time.Time, u units.Style) option {
	return option{Value: t.Format(timeOfDay), Label: u.WriteTime(t)}
}

// digestOf reads the schedule that was chosen. The text that stands is kept
// where it says the same.
func digestOf(e *entry, stands string) string {
	e.as("digest_cron", "digest_day")
	day := e.text("digest_day")
	i := slices.IndexFunc(weekdays, func(d time.Weekday) bool { return d.String() == day })
	if i < 0 {
		if day != "" && len(strings.Fields(day)) != 5 {
			e.fault("digest_day", strconv.Quote(day)+": choose a day of the week, or none")
		}
		return day
	}
	at, err := time.Parse(timeOfDay, e.text("digest_time"))
	if err != nil {
		e.fault("digest_time", strconv.Quote(e.text("digest_time"))+": choose the time, such as 06:00")
		return stands
	}
	w := weekly{weekdays[i], at.Format(timeOfDay)}
	if old, ok := readWeekly(stands); ok && old == w {
		return stands
	}
	return w.cron()
}

// nextDigest says when the next digest of a depot goes out, and why none does.
func (s *site) nextDigest(r *request, d models.Depot) string {
	next, ok := s.DigestNext(d, r.now)
	switch {
	case !ok:
		return ""
	case len(d.Recipients) == 0:
		return "None goes out until somebody is named to send it to."
	case s.DigestToMe == nil:
		return "This server has no mail server yet, so digests wait."
	}
	return "The next one goes out on " + next.In(zone(d)).Format("Monday, ") + r.clock(d).moment(next) + ", " + d.TimeZone + "."
}
