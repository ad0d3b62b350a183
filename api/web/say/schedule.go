package say

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"rimledger/models"
)

// Weekly is a schedule that comes once a week.
type Weekly struct {
	Day time.Weekday
	At  string // 06:00
}

// Cron writes the schedule as five fields.
func (w Weekly) Cron() string {
	at, _ := time.Parse(TimeOfDay, w.At)
	return fmt.Sprintf("%d %d * * %d", at.Minute(), at.Hour(), w.Day)
}

// TimeOfDay is how a time of day is written in a form.
const TimeOfDay = "15:04"

// Weekdays are the days of a week as a form lists them; their names are the values.
var Weekdays = []time.Weekday{
	time.Monday,
	time.Tuesday,
	time.Wednesday,
	time.Thursday,
	time.Friday,
	time.Saturday,
	time.Sunday,
}

// ReadWeekly reads five fields of cron that name one day of the week and one
// time, false for every other schedule.
func ReadWeekly(cron string) (Weekly, bool) {
	f := strings.Fields(cron)
	if len(f) != 5 || strings.Trim(f[2], "*?") != "" || f[3] != "*" {
		return Weekly{}, false
	}
	day := slices.IndexFunc(Weekdays, func(d time.Weekday) bool {
		return f[4] == strconv.Itoa(int(d)) || strings.EqualFold(f[4], d.String()[:3])
	})
	minute, err := strconv.ParseUint(f[0], 10, 8)

	hour, err2 := strconv.ParseUint(f[1], 10, 8)
	if day < 0 || err != nil || err2 != nil || minute > 59 || hour > 23 {
		return Weekly{}, false
	}

	return Weekly{Weekdays[day], fmt.Sprintf("%02d:%02d", hour, minute)}, true
}

// ScheduleText says when a depot's digest goes out, in words where it is weekly.
func ScheduleText(d models.Depot, z Clock) string {
	if w, ok := ReadWeekly(d.DigestCron); ok {
		at, _ := time.Parse(TimeOfDay, w.At)
		return "every " + w.Day.String() + " at " + z.WriteTime(at) + ", " + d.TimeZone
	}
	return "as set: " + d.DigestCron + " (minute, hour, day, month, weekday), " + d.TimeZone
}
