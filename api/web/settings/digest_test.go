package settings_test

import (
	"net/http"
	"net/url"
	"strconv"
	"testing"
	"time"

	"rimledger/api/web/webtest"
	"rimledger/models/modeltest"
)

// The schedule of the weekly digest is chosen in words and kept as cron text
// (crontab(5): minute, hour, day of month, month, day of week, 0 is Sunday).
func TestDigestScheduleInWords(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	p := y.SignedIn("mara@fleet.example")
	path := "/settings/depots/" + string(y.Depot.ID)

	form := func(day, at string) url.Values {
		v := url.Values{
			"name":         {"Alder Yard"},
			"time_zone":    {"America/Chicago"},
			"jurisdiction": {"US"},
			"currency":     {"USD"},
			"recipients":   {"yard@fleet.example"},
			"depth": {
				"32nd",
			},
			"pressure":    {"psi"},
			"distance":    {"mi"},
			"mass":        {"oz"},
			"digest_day":  {day},
			"digest_time": {at},
		}

		v.Set(
			"version",
			strconv.FormatInt(modeltest.Must(y.Fleet.Depot(t.Context(), y.System, y.Depot.ID))(t).Version, 10),
		)
		return v
	}

	stored := func() string { return modeltest.Must(y.Fleet.Depot(t.Context(), y.System, y.Depot.ID))(t).DigestCron }
	set := func(cron string) {
		d := modeltest.Must(y.Fleet.Depot(t.Context(), y.System, y.Depot.ID))(t)
		d.DigestCron = cron
		modeltest.Must(y.Fleet.EditDepot(t.Context(), y.System, d))(t)
	}

	// Words to cron text.
	for _, c := range []struct{ day, at, cron string }{
		{"Monday", "06:00", "0 6 * * 1"}, {"Sunday", "23:30", "30 23 * * 0"}, {"Saturday", "00:00", "0 0 * * 6"}, {"Wednesday", "06:10", "10 6 * * 3"}, {"", "06:00", ""},
	} {
		p.Post(path, form(c.day, c.at)).Wants(t, http.StatusSeeOther)
		if got := stored(); got != c.cron {
			t.Errorf("%s at %s is stored as %q, want %q", c.day, c.at, got, c.cron)
		}
	}

	// Cron text to words; sent back as shown, the text stays as it was.
	for _, c := range []struct{ cron, day, at, told string }{
		{"0 6 * * 1", "Monday", "06:00", "6:00 am"}, {"5 17 * * 0", "Sunday", "17:05", "5:05 pm"}, {"00 06 * * fri", "Friday", "06:00", "6:00 am"}, {"0 6 ? * TUE", "Tuesday", "06:00", "6:00 am"},
	} {
		set(c.cron)
		p.Get(path).Wants(t, http.StatusOK, `<option value="`+c.day+`" selected>`, `<option value="`+c.at+`" selected>`)
		p.Get("/digest").Wants(t, http.StatusOK, "every "+c.day+" at "+c.told)
		p.Post(path, form(c.day, c.at)).Wants(t, http.StatusSeeOther)
		if got := stored(); got != c.cron {
			t.Errorf("%q became %q, though nothing was changed", c.cron, got)
		}
	}

	// What is not weekly is shown as set, kept, and given up only for another.
	for _, odd := range []string{"0 6 1 * *", "0 6 * * 1-5", "*/5 6 * * 1", "0 6 * 3 1", "0 6,18 * * 1", "0 6 * * *"} {
		set(odd)
		p.Get(path).Wants(t, http.StatusOK, `<option value="`+odd+`" selected>as set: `+odd+`<`)
		p.Get("/digest").Wants(t, http.StatusOK, "as set: "+odd)
		p.Post(path, form(odd, "06:00")).Wants(t, http.StatusSeeOther)
		if got := stored(); got != odd {
			t.Errorf("%q became %q, though nothing was changed", odd, got)
		}
	}

	p.Post(path, form("Monday", "07:00")).Wants(t, http.StatusSeeOther)
	if got := stored(); got != "0 7 * * 1" {
		t.Errorf("another choice left %q", got)
	}

	// Bad input stands where it was typed.
	p.Post(path, form("Moonday", "06:00")).
		Wants(t, http.StatusUnprocessableEntity, `<option value="Moonday" selected>`, "choose a day of the week, "+
			"or none")

	p.Post(path, form("0 6 40 * *", "06:00")).
		Wants(t, http.StatusUnprocessableEntity, `<option value="0 6 40 * *" selected>`, "must be five fields")
	p.Post(path, form("Monday", "25:00")).
		Wants(t, http.StatusUnprocessableEntity, `<option value="25:00" selected>`, "choose the time")
	p.Post(path, form("Monday", "")).Wants(t, http.StatusUnprocessableEntity, "choose the time")
	stale := form("Friday", "06:00")
	stale.Set("version", "1")
	p.Post(path, stale).
		Wants(t, http.StatusConflict, "saved meanwhile: Monday", "saved meanwhile: 07:00", `<option value="Friday" selected>`)

	if got := stored(); got != "0 7 * * 1" {
		t.Errorf("refused forms left %q", got)
	}
}

// The page says when the next digest goes out, by the depot's clocks.
func TestNextDigest(t *testing.T) {
	t.Parallel()
	y := webtest.NewWorld(t)
	d := y.Depot
	d.DigestCron = "30 6 * * 4"
	d = modeltest.Must(y.Fleet.EditDepot(t.Context(), y.System, d))(t)
	p := y.SignedIn("mara@fleet.example")
	path := "/settings/depots/" + string(d.ID)
	p.Get(path).Wants(t, http.StatusOK, "None goes out until somebody is named")
	d.Recipients = []string{"yard@fleet.example"}
	modeltest.Must(y.Fleet.EditDepot(t.Context(), y.System, d))(t)

	chicago := modeltest.Must(time.LoadLocation("America/Chicago"))(t)
	next := nextThursday(webtest.Now().In(chicago))
	p.Get(path).Wants(t, http.StatusOK,
		"goes out on "+next.Format("Monday, Jan 2, 2006")+", 6:30 am, America/Chicago")
}

// nextThursday is the next Thursday, half past six, by the calendar.
func nextThursday(now time.Time) time.Time {
	for day := 0; ; day++ {
		at := time.Date(now.Year(), now.Month(), now.Day()+day, 6, 30, 0, 0, now.Location())
		if at.Weekday() == time.Thursday && at.After(now) {
			return at
		}
	}
}
