package assess_test

import (
	"strings"
	"testing"
	"time"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/units"
)

// TestEstimatedBelowLegal: 0.1 mm per 1000 km and 300 km a day take 0.03 mm a day. A steer
// tire of the tractor, legal minimum 4/32 in, was read 20 days ago at so many days' wear
// above it; the estimator holds it two days' wear deeper and 5 % slower.
func TestEstimatedBelowLegal(t *testing.T) {
	t.Parallel()

	for _, tc := range []struct {
		days float64
		want bool
	}{{12, true}, {15, true}, {20, false}, {40, false}} {
		s := pullAhead(t, 0)
		s.Policy.ForecastDays = 0
		worn(t, s, "1L", 4*in32+units.LengthFromMillimetres(tc.days*0.03), 0.1)
		s.State.Use.Day = float64(now.Unix())/86400 - 20
		s.State.Use.XKM = s.State.Odometer.Value.Kilometres()
		s.State.Use.Known = true

		if tc.want {
			f := one(t, s, models.EstimatedBelow)
			isSaid := strings.Contains(f.Title, "by estimate below the legal minimum") &&
				strings.Contains(f.Title, "measure before the next trip")
			if f.Urgency != models.DoNow || f.Position != "1L" || !isSaid {
				t.Errorf("%s: %s", f.Urgency, f.Title)
			}
			continue
		}

		r := assess.Assess(s.Snapshot)
		for _, f := range r.Findings {
			if f.Code == models.EstimatedBelow {
				t.Errorf("%g days above the minimum: %s", tc.days, f.Title)
			}
		}
		if next := r.NextCheck; next == nil || next.After(now.AddDate(0, 0, int(tc.days)-12)) {
			t.Errorf("%g days above the minimum: assessed again at %v", tc.days, next)
		}
	}
}

// TestBookingDoesNotQuietAnEstimateBelowLegal: only a person's word does, and only for
// what is not booked.
func TestBookingDoesNotQuietAnEstimateBelowLegal(t *testing.T) {
	t.Parallel()
	until := now.Add(24 * time.Hour)
	for _, tc := range []struct {
		code   models.FindingCode
		booked string
		want   bool
	}{
		{models.EstimatedBelow, "2026-12-03", false}, {models.EstimatedBelow, "", true},
		{models.PullForecast, "2026-12-03", true},
	} {
		f := models.Finding{Code: tc.code, Ack: &models.Ack{Until: until, Booked: tc.booked}}
		if got := f.Quiet(now); got != tc.want {
			t.Errorf("%s booked %q: quiet %t", tc.code, tc.booked, got)
		}
		if f.Quiet(until) {
			t.Errorf("%s is quiet after its time", tc.code)
		}
	}
}
