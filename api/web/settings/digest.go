package settings

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"rimledger/api/web/form"
	"rimledger/api/web/say"
	"rimledger/models/units"
)

// setDigest puts a schedule into the fields of the form. One that is not weekly
// is the value of the day itself, and is kept so unless another is chosen.
func setDigest(v url.Values, cron string) {
	v.Set("digest_day", cron)
	if w, ok := say.ReadWeekly(cron); ok {
		v.Set("digest_day", w.Day.String())
		v.Set("digest_time", w.At)
	}
}

func digestSection(f *form.Entry, hint string) form.Section {
	var days, times []form.Option
	for _, d := range say.Weekdays {
		days = append(days, form.Option{Value: d.String(), Label: d.String()})
	}

	if is := f.Text("digest_day"); is != "" &&
		!slices.ContainsFunc(days, func(o form.Option) bool { return o.Value == is }) {
		days = append(days, form.Option{Value: is, Label: "as set: " + is})
	}

	for t := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC); t.Day() == 1; t = t.Add(30 * time.Minute) {
		times = append(times, timeOption(t, f.Units))
	}

	is := f.Text("digest_time")
	if is == "" {
		is = "06:00" // offered first, chosen by us
	}

	byValue := func(o form.Option, value string) int { return strings.Compare(o.Value, value) }
	if i, found := slices.BinarySearchFunc(times, is, byValue); !found {
		own := form.Option{Value: is, Label: is}
		if t, err := time.Parse(say.TimeOfDay, is); err == nil {
			own = timeOption(t, f.Units)
		}
		times = slices.Insert(times, i, own)
	}

	at := f.SelectField("digest_time", "Time, by the depot's clocks", "", times)
	for i := range at.Options {
		at.Options[i].Chosen = at.Options[i].Value == is
	}

	return form.Section{Legend: "Weekly digest", Hint: hint, Fields: []form.Field{
		f.SelectField("digest_day", "Goes out on", "none, no mail goes out", days), at,
		f.AreaField("recipients", "Sent to, one email address per line", "")}}
}

func timeOption(t time.Time, u units.Style) form.Option {
	return form.Option{Value: t.Format(say.TimeOfDay), Label: u.WriteTime(t)}
}

// digestOf reads the schedule that was chosen. It returns stored unchanged where
// that means the same.
func digestOf(e *form.Entry, stored string) string {
	e.MapField("digest_cron", "digest_day")
	day := e.Text("digest_day")

	i := slices.IndexFunc(say.Weekdays, func(d time.Weekday) bool { return d.String() == day })
	if i < 0 {
		if day != "" && len(strings.Fields(day)) != 5 {
			e.AddFault("digest_day", strconv.Quote(day)+": choose a day of the week, or none")
		}
		return day
	}

	at, err := time.Parse(say.TimeOfDay, e.Text("digest_time"))
	if err != nil {
		e.AddFault("digest_time", strconv.Quote(e.Text("digest_time"))+": choose the time, such as 06:00")
		return stored
	}
	w := say.Weekly{Day: say.Weekdays[i], At: at.Format(say.TimeOfDay)}
	if old, ok := say.ReadWeekly(stored); ok && old == w {
		return stored
	}

	return w.Cron()
}
