package jobs

import (
	"fmt"
	"time"

	"github.com/robfig/cron/v3"

	"rimledger/models"
)

// slotLayout is the form of a slot's name: civil date and time in the depot's zone.
const slotLayout = "2006-01-02T15:04"

// Slot is one time at which something is due.
type Slot struct {
	Name     string    // civil date and time in the schedule's zone, such as 2026-03-30T06:00
	Due      time.Time // the instant of Name
	From, To time.Time // the week it covers: the same wall time seven days before, up to Due
}

// Schedule is a cron specification in a time zone.
//
// It is read on the calendar, not on the clock. A civil time is one slot even
// where clocks show it twice: the first of the two counts. A civil
// time that the clocks skip is due at the moment they jump; several in one jump
// are one slot. So a change to or from daylight saving time neither doubles nor
// skips a slot. (The manual page cron(8) of Debian's cron promises the same for changes
// below three hours.)
type Schedule struct {
	spec cron.Schedule
	zone *time.Location
}

// ParseSchedule reads five cron fields (minute, hour, day of month, month, day
// of week) and an IANA zone. It returns an error if either cannot be read or
// the fields name no day that ever comes.
func ParseSchedule(spec, zone string) (Schedule, error) {
	loc, err := models.ParseZone(zone)
	if err != nil {
		return Schedule{}, err
	}
	s, err := models.ParseCron(spec)
	return Schedule{s, loc}, err
}

// Next returns the first slot that is due after an instant.
func (s Schedule) Next(after time.Time) Slot {
	// A later civil time is never an earlier instant, so a civil time that the clocks
	// have shown by now is not due later.
	for civil := civilTime(after, s.zone); ; {
		civil = s.spec.Next(civil)
		if slot := slotAt(civil, s.zone); slot.Due.After(after) {
			return slot
		}
	}
}

// Newest returns the latest slot due after one instant and not after now,
// false if there is none.
func (s Schedule) Newest(after, now time.Time) (Slot, bool) {
	// A schedule can only be stepped forward. Starting a short way back and further only
	// if there is no slot keeps the steps few, whether it is due each minute or each leap
	// year.
	const day = 24 * time.Hour
	for _, back := range []time.Duration{time.Hour, day, 32 * day, 367 * day, 6 * 366 * day} {
		start := now.Add(-back)
		if start.Before(after) {
			start = after
		}

		slot := s.Next(start)
		if !slot.Due.After(now) {
			for next := s.Next(slot.Due); !next.Due.After(now); next = s.Next(slot.Due) {
				slot = next
			}
			return slot, true
		}

		if start.Equal(after) {
			break
		}
	}

	return Slot{}, false
}

// ParseSlot returns the slot of a name in a zone. It returns an error if either cannot be
// read. The slot need not be one of any schedule.
func ParseSlot(name, zone string) (Slot, error) {
	loc, err := models.ParseZone(zone)
	if err != nil {
		return Slot{}, err
	}
	civil, err := time.Parse(slotLayout, name)
	if err != nil {
		return Slot{}, fmt.Errorf("slot %q must be a date and time such as 2026-03-30T06:00", name)
	}
	return slotAt(civil, loc), nil
}

// slotAt returns the slot of a civil time.
func slotAt(civil time.Time, zone *time.Location) Slot {
	due := instant(civil, zone)
	return Slot{Name: civil.Format(slotLayout), Due: due, From: instant(civil.AddDate(0, 0, -7), zone), To: due}
}

// civilTime returns the civil time that the clocks of zone show at t, written as a UTC time.
func civilTime(t time.Time, zone *time.Location) time.Time {
	_, offset := t.In(zone).Zone()
	return t.UTC().Add(time.Duration(offset) * time.Second)
}

// instant returns when the clocks of zone first show civil (written as a UTC time), or,
// where they skip it, when they jump over it.
func instant(civil time.Time, zone *time.Location) time.Time {
	// Offsets reach from -12 to +14 hours, so 26 hours away is surely on the other side of
	// a change. Two changes within these 52 hours are not expected.
	_, before := civil.Add(-26 * time.Hour).In(zone).Zone()
	_, after := civil.Add(26 * time.Hour).In(zone).Zone()
	first := civil.Add(-time.Duration(max(before, after)) * time.Second)
	second := civil.Add(-time.Duration(min(before, after)) * time.Second)

	if civilTime(first, zone).Equal(civil) {
		return first
	}
	if civilTime(second, zone).Equal(civil) {
		return second
	}

	jump, _ := second.In(zone).ZoneBounds() // second is just behind the gap
	return jump.UTC()
}
