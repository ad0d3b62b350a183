package jobs_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"rimledger/reports/jobs"
)

func schedule(t testing.TB, spec, zone string) jobs.Schedule {
	t.Helper()
	s, err := jobs.ParseSchedule(spec, zone)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func at(t testing.TB, rfc3339 string) time.Time {
	t.Helper()
	v, err := time.Parse(time.RFC3339, rfc3339)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestNext: the expected instants follow from the laws on the clocks. EU: last Sundays of
// March and October, 01:00 UTC (Directive 2000/84/EC). US: second Sunday of
// March and first of November, 02:00 local (15 U.S.C. 260a). Both from memory.
// Central European Time is UTC+1, in summer UTC+2; New York UTC-5 and UTC-4.
func TestNext(t *testing.T) {
	t.Parallel()
	type want struct{ name, due string }

	for _, tt := range []struct {
		name, spec, zone, after string
		want                    []want
	}{
		{"every Monday at six, over the start of summer time", "0 6 * * 1",
			"Europe/Berlin", "2026-03-20T00:00:00Z", []want{
				{"2026-03-23T06:00", "2026-03-23T05:00:00Z"},
				{"2026-03-30T06:00", "2026-03-30T04:00:00Z"},
				{"2026-04-06T06:00", "2026-04-06T04:00:00Z"}}},
		{"every Monday at six, over the end of summer time", "0 6 * * 1",
			"Europe/Berlin", "2026-10-18T00:00:00Z", []want{
				{"2026-10-19T06:00", "2026-10-19T04:00:00Z"},
				{"2026-10-26T06:00", "2026-10-26T05:00:00Z"}}},
		{"every Monday at six in New York, start of summer time", "0 6 * * 1",
			"America/New_York", "2026-03-01T00:00:00Z", []want{
				{"2026-03-02T06:00", "2026-03-02T11:00:00Z"},
				{"2026-03-09T06:00", "2026-03-09T10:00:00Z"}}},
		{"every Monday at six in New York, end of summer time", "0 6 * * 1",
			"America/New_York", "2026-10-25T12:00:00Z", []want{
				{"2026-10-26T06:00", "2026-10-26T10:00:00Z"},
				{"2026-11-02T06:00", "2026-11-02T11:00:00Z"}}},
		{"02:30 is due at the jump on the day that has none", "30 2 * * *",
			"Europe/Berlin", "2026-03-27T12:00:00Z", []want{
				{"2026-03-28T02:30", "2026-03-28T01:30:00Z"},
				{"2026-03-29T02:30", "2026-03-29T01:00:00Z"},
				{"2026-03-30T02:30", "2026-03-30T00:30:00Z"}}},
		{"02:30 is due once on the day that has two", "30 2 * * *", "Europe/Berlin", "2026-10-23T12:00:00Z", []want{
			{"2026-10-24T02:30", "2026-10-24T00:30:00Z"},
			{"2026-10-25T02:30", "2026-10-25T00:30:00Z"},
			{"2026-10-26T02:30", "2026-10-26T01:30:00Z"}}},
		{"02:30 on the day the clocks jump in New York", "30 2 * * *",
			"America/New_York", "2026-03-07T12:00:00Z", []want{
				{"2026-03-08T02:30", "2026-03-08T07:00:00Z"},
				{"2026-03-09T02:30", "2026-03-09T06:30:00Z"}}},
		{"01:30 is due once on the day that has two in New York", "30 1 * * *",
			"America/New_York", "2026-10-31T12:00:00Z", []want{
				{"2026-11-01T01:30", "2026-11-01T05:30:00Z"},
				{"2026-11-02T01:30", "2026-11-02T06:30:00Z"}}},
		{"asked between the two 02:30", "30 2 * * *", "Europe/Berlin", "2026-10-25T00:45:00Z", []want{
			{"2026-10-26T02:30", "2026-10-26T01:30:00Z"}}},
		{"month ends: the 31st only where there is one", "0 6 31 * *", "Europe/Berlin", "2026-01-01T00:00:00Z", []want{
			{"2026-01-31T06:00", "2026-01-31T05:00:00Z"},
			{"2026-03-31T06:00", "2026-03-31T04:00:00Z"},
			{"2026-05-31T06:00", "2026-05-31T04:00:00Z"}}},
		{"turn of the year", "0 0 1 * *", "America/New_York", "2026-12-15T00:00:00Z", []want{
			{"2027-01-01T00:00", "2027-01-01T05:00:00Z"},
			{"2027-02-01T00:00", "2027-02-01T05:00:00Z"}}},
		{"29 February", "0 6 29 2 *", "UTC", "2026-01-01T00:00:00Z", []want{
			{"2028-02-29T06:00", "2028-02-29T06:00:00Z"}}},
		{"a slot is not due after itself", "0 6 * * 1", "UTC", "2026-03-30T06:00:00Z", []want{
			{"2026-04-06T06:00", "2026-04-06T06:00:00Z"}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()

			s, after := schedule(t, tt.spec, tt.zone), at(t, tt.after)
			for _, w := range tt.want {
				got := s.Next(after)
				if got.Name != w.name || !got.Due.Equal(at(t, w.due)) {
					t.Fatalf("got %s due %s, want %s due %s", got.Name, got.Due.UTC().Format(time.RFC3339), w.name,
						w.due)
				}

				after = got.Due
			}
		})
	}
}

// TestWeek: the week of a slot begins at the same wall time seven days before, however many
// hours that is.
func TestWeek(t *testing.T) {
	t.Parallel()

	// The week before 30 March 2026 has 167 hours in Berlin, the one before 26
	// October has 169: wall time stays, the instant moves.
	for _, tt := range []struct {
		name, slot, zone, from string
		hours                  float64
	}{
		{"start of summer time", "2026-03-30T06:00", "Europe/Berlin", "2026-03-23T05:00:00Z", 167},
		{"end of summer time", "2026-10-26T06:00", "Europe/Berlin", "2026-10-19T04:00:00Z", 169},
		{"plain week", "2026-06-15T06:00", "America/New_York", "2026-06-08T10:00:00Z", 168},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got, err := jobs.ParseSlot(tt.slot, tt.zone)
			if err != nil {
				t.Fatal(err)
			}
			if !got.From.Equal(at(t, tt.from)) || got.To.Sub(got.From).Hours() != tt.hours || !got.To.Equal(got.Due) {
				t.Errorf("got %s to %s (%v h)", got.From.UTC(), got.To.UTC(), got.To.Sub(got.From).Hours())
			}
		})
	}
}

// TestNewest: after an interruption only the newest missed slot is due.
func TestNewest(t *testing.T) {
	t.Parallel()

	for _, tt := range []struct {
		name, spec, after, now, want string
	}{
		{"nothing due yet", "0 6 * * 1", "2026-03-23T05:00:00Z", "2026-03-30T03:59:59Z", ""},
		{"due this second", "0 6 * * 1", "2026-03-23T05:00:00Z", "2026-03-30T04:00:00Z", "2026-03-30T06:00"},
		{"off for a month: only the newest", "0 6 * * 1", "2026-03-02T05:00:00Z", "2026-04-02T12:00:00Z",
			"2026-03-30T06:00"},
		{"off for two years", "0 6 * * 1", "2024-01-01T05:00:00Z", "2026-04-02T12:00:00Z", "2026-03-30T06:00"},
		{"yearly, off for two years", "0 6 1 7 *", "2024-01-01T05:00:00Z", "2026-04-02T12:00:00Z",
			"2025-07-01T06:00"},
		{"every minute, off for a year", "* * * * *", "2025-03-01T05:00:00Z", "2026-04-02T12:00:30Z",
			"2026-04-02T14:00"},
		{"between the two 02:30: the first one", "30 2 * * *", "2026-10-24T12:00:00Z", "2026-10-25T00:45:00Z",
			"2026-10-25T02:30"},
		{"behind the second 02:30: not again", "30 2 * * *", "2026-10-25T00:30:00Z", "2026-10-25T12:00:00Z", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got, ok := schedule(t, tt.spec, "Europe/Berlin").Newest(at(t, tt.after), at(t, tt.now))
			if ok != (tt.want != "") || got.Name != tt.want {
				t.Errorf("got %q %t, want %q", got.Name, ok, tt.want)
			}
		})
	}
}

// TestEveryDateOnce: a daily slot comes once for each date of the calendar, in any zone, at any
// time of day, in order.
func TestEveryDateOnce(t *testing.T) {
	t.Parallel()

	zones := []string{
		"Europe/Berlin",
		"America/New_York",
		"Australia/Lord_Howe",
		"America/St_Johns",
		"Africa/Casablanca",
		"Pacific/Apia",
		"UTC",
	}

	rapid.Check(t, func(t *rapid.T) {
		zone := rapid.SampledFrom(zones).Draw(t, "zone")
		minute, hour := rapid.IntRange(0, 59).Draw(t, "minute"), rapid.IntRange(0, 23).Draw(t, "hour")
		s, err := jobs.ParseSchedule(time.Date(2026, 1, 1, hour, minute, 0, 0, time.UTC).Format("4 15")+" * * *", zone)
		if err != nil {
			t.Fatal(err)
		}
		loc, err := time.LoadLocation(zone)
		if err != nil {
			t.Fatal(err)
		}

		now := time.Date(2026, 1, 1, 0, 0, 0, 0, loc).Add(-time.Nanosecond)
		for day := range 365 {
			slot := s.Next(now)
			want := time.Date(2026, 1, 1+day, hour, minute, 0, 0, time.UTC).Format("2006-01-02T15:04")
			if slot.Name != want {
				t.Fatalf("day %d: got %s, want %s", day, slot.Name, want)
			}
			if newest, ok := s.Newest(now, slot.Due); !ok || newest.Name != slot.Name {
				t.Fatalf("newest at %s is %s", slot.Name, newest.Name)
			}
			now = slot.Due
		}
	})
}

// TestParseSchedule lists what is no schedule.
func TestParseSchedule(t *testing.T) {
	t.Parallel()

	for _, tt := range []struct{ name, spec, zone string }{
		{"empty", "", "UTC"},
		{"four fields", "0 6 * *", "UTC"},
		{"with seconds", "0 0 6 * * 1", "UTC"},
		{"hour 24", "0 24 * * *", "UTC"},
		{"a day that never comes", "0 6 30 2 *", "UTC"},
		{"zone in the specification", "TZ=UTC 0 6 * * 1", "UTC"},
		{"zone in the specification without more", "TZ=UTC", "UTC"},
		{"every so often", "@every 1h", "UTC"},
		{"unknown zone", "0 6 * * 1", "Europe/Nowhere"},
		{"no zone", "0 6 * * 1", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if _, err := jobs.ParseSchedule(tt.spec, tt.zone); err == nil {
				t.Error("accepted")
			}
		})
	}
}
