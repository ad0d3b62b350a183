package assess_test

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/units"
)

// lines returns a schedule as lines that tests compare.
func lines(list []assess.Due) []string {
	var out []string
	for _, d := range list {
		s := d.At.Format(time.DateOnly) + " " + d.What
		if d.Limit > 0 {
			s += " " + units.FormatLength(d.Limit, units.In32)
		}
		if d.Years > 0 {
			s += fmt.Sprintf(" %d", d.Years)
		}

		for _, p := range d.Positions {
			s += " " + string(p)
		}

		if d.Odometer != nil {
			s += fmt.Sprintf(" at %.0f km", d.Odometer.Kilometres())
		}

		for word, is := range map[string]bool{" overdue": d.Overdue, " estimated": d.Estimated} {
			if is {
				s += word
			}
		}

		out = append(out, s)
	}

	return out
}

// Dates by hand, from a calendar. Now is 15 June 2026, noon; the vehicle covers
// 100 km a day and stood at 103,800 km when the wheels were off, at the begin of 14
// June. By the policy below:
//   - inspected and pressures taken on 13 June, every 30 and every 7 days: 13 July, 20 June.
//   - balanced on 26 May at 102,000 km, every 10,000 km: at 112,000 km, 8,200 km or
//     82 days past 14 June: 16 to the end of June, 31 and 31 make 78, so 4 September.
//   - rotated at the same point, every 12,000 km or 90 days: 114,000 km would be 102
//     days past 14 June; 90 days past 26 May are sooner: 5 + 30 + 31 make 66, 24 August.
//   - aligned on 26 May 2026, every 365 days: 26 May 2027.
//   - nuts within 160 km, 1.6 days: 15 June, 14:24.
//   - tires of the 10th week of 2017, 10 years: at the earliest the 64th day of the
//     year, 5 March, of 2027 (49 CFR 574.5 for the code; weeks counted on the safe side).
func TestSchedule(t *testing.T) {
	t.Parallel()
	s := tractor()
	s.Policy.RebalanceKM, s.Policy.AlignKM = 10_000, 0
	s.Policy.RotateKM, s.Policy.RotateDays = 12_000, 90
	aligned := models.Point{At: ago(20 * day), Odometer: km(102_000)}
	s.State.LastAlignment = &aligned
	off := models.Point{At: ago(36 * time.Hour), Odometer: km(103_800)}
	s.State.RetorqueFrom = &off
	s.State.OdometerAt = off.At
	s.State.Use.Day = float64(s.State.OdometerAt.Unix()) / 86400
	s.at("1L").Tire.TIN = "DOT A1B2 C3D4 1017"
	s.at("1R").Tire.TIN = "DOT A1B2 C3D4 1017"
	got := lines(assess.Schedule(s.Snapshot))

	places := " 1L 1R 2LO 2LI 2RI 2RO 3LO 3LI 3RI 3RO"
	want := []string{
		"2026-06-15 re-torque of the wheel nuts at 103960 km estimated",
		"2026-06-20 pressure check",
		"2026-07-13 inspection",
		"2026-08-24 rotation",
		"2026-09-04 balance" + places + " at 112000 km estimated",
		"2027-03-05 age limit 10 1L 1R",
		"2027-05-26 alignment",
	}

	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("schedule (-want +got):\n%s", diff)
	}

	s.Vehicle.Retired = true
	if got := assess.Schedule(s.Snapshot); len(got) != 0 {
		t.Errorf("a retired vehicle: %v", got)
	}
}

// By hand: 0.1 mm per 1000 km and 300 km a day take 0.03 mm a day, so 0.6 mm above
// the pull point of a steer axle last some 20 days and 6,000 km from 103,800 km. The
// tolerance is a fifth, since the estimate also counts on the usual rate. The list has
// the date whether or not it is near enough for a finding. A tire at its pull point is
// overdue since it was read; a vehicle that was never read is overdue since it is in the
// record.
func TestScheduleOfWear(t *testing.T) {
	t.Parallel()
	pull := 6 * in32
	s := tractor()
	s.State.OdometerAt, s.State.Use.Day = now, float64(now.Unix())/86400
	s.State.Use.KMPerDay = 300
	worn(t, s, "1L", pull+units.LengthFromMillimetres(0.6), 0.1)
	s.at("3RO").State.Last.Reading.Depths = grid(4*in32, 3, 1)

	of := func(p models.Position) assess.Due {
		t.Helper()
		for _, d := range assess.Schedule(s.Snapshot) {
			if d.What == "pull point" && slices.Contains(d.Positions, p) {
				return d
			}
		}
		t.Fatalf("no pull point at %s", p)
		return assess.Due{}
	}

	d := of("1L")
	if days := d.At.Sub(now).Hours() / 24; math.Abs(days-20) > 4 || !d.Estimated || d.Overdue || d.Limit != pull ||
		d.Odometer == nil ||
		math.Abs(d.Odometer.Kilometres()-109_800) > 1_200 {
		t.Errorf("in %.1f days: %v; want about 20, at about 109,800 km, estimated", days, lines([]assess.Due{d}))
	}

	if d := of("3RO"); !d.At.Equal(ago(2*day)) || !d.Overdue || d.Estimated {
		t.Errorf("at its pull point: %v; want overdue since it was read on 13 June", lines([]assess.Due{d}))
	}

	s.State.LastInspection = nil
	if got := lines(assess.Schedule(s.Snapshot)); !slices.Contains(got,
		ago(400*day).Format(time.DateOnly)+" first inspection overdue") {
		t.Errorf("never inspected: %v", got)
	}
}
