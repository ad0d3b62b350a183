package fleet

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/access"
)

// Booking takes vehicles into the shop on one day.
type Booking struct {
	ID       string // made by the sender: the same booking twice is one
	Vehicles []models.VehicleID
	Day      string // civil date at each vehicle's depot, such as 2026-12-03
	Note     string // what is to be done or who was informed; may be empty
}

// BookedIn is what a booking came to.
type BookedIn struct {
	Vehicles, Findings int
	Repeated           bool
}

// maxBooked is how many vehicles one booking may take.
const maxBooked = 200

// BookIn notes on everything that is open on the vehicles that the shop takes
// them in on a day, and who said so: all of them or none. What is off the road
// stays off the road and can be booked in for a week ahead at most.
func (s *Service) BookIn(ctx context.Context, a Actor, b Booking) (BookedIn, error) {
	var out BookedIn
	refs := references(b) // with their paths in what was sent

	// Sorted and without repeats, the same booking has the same fingerprint.
	slices.Sort(b.Vehicles)
	b.Vehicles, b.Note = slices.Compact(b.Vehicles), strings.TrimSpace(b.Note)
	if err := a.mayWrite(access.Manage); err != nil {
		return out, err
	}
	if err := checkBooking(b); err != nil {
		return out, err
	}

	err := s.writeAs(ctx, a, access.Manage, refs, func(tx models.Tx, now time.Time) error {
		before, err := s.claimID(ctx, tx, b.ID, b, now)
		if err != nil {
			return err
		}
		out = BookedIn{Vehicles: len(b.Vehicles), Repeated: before}
		if before {
			return nil
		}

		// All vehicles are tried, so that every one that cannot be booked in is named.
		var faults models.Faults
		for _, id := range b.Vehicles {
			n, err := s.bookOne(ctx, tx, a, b, id, &faults, now)
			if err != nil {
				return err
			}
			out.Findings += n
		}

		return faults.Err("booking")
	})

	return out, err
}

func checkBooking(b Booking) error {
	var f models.Faults
	if !models.ValidID(b.ID) {
		f.Add("id", b.ID, "must be a UUID in lower-case text")
	}
	if len(b.Vehicles) < 1 || len(b.Vehicles) > maxBooked {
		f.Add("vehicles", fmt.Sprint(len(b.Vehicles)), "choose 1 to %d vehicles", maxBooked)
	}
	if _, err := time.Parse(time.DateOnly, b.Day); err != nil {
		f.Add("day", b.Day, "must be a day such as 2026-12-03")
	}

	if len(b.Note) > 400 || models.CleanText(b.Note) != "" {
		f.Add("note", b.Note, "must be text of at most 400 characters")
	}
	return f.Err("booking")
}

// bookOne notes a booking on everything that is open on one vehicle, and
// returns how much that is. Why it cannot be booked in is added to faults.
func (s *Service) bookOne(
	ctx context.Context,
	tx models.Tx,
	a Actor,
	b Booking,
	id models.VehicleID,
	faults *models.Faults,
	now time.Time,
) (int, error) {
	v, _, err := tx.Vehicle(ctx, id)
	if err != nil {
		return 0, err
	}

	// A day of the booking is one on the clock of the depot.
	depot, err := tx.Depot(ctx, v.DepotID)
	if err != nil {
		return 0, err
	}

	zone, err := depot.Zone()
	if err != nil {
		return 0, err
	}
	day, err := time.ParseInLocation(time.DateOnly, b.Day, zone)
	if err != nil {
		return 0, err
	}

	until := day.AddDate(0, 0, 1).Add(-time.Microsecond).UTC() // to the end of that day
	open, err := tx.OpenFindings(ctx, id)
	if err != nil {
		return 0, err
	}
	if len(open) == 0 {
		faults.Add("vehicles", v.Number, "has nothing open any more; take it off the selection")
		return 0, nil
	}

	// An acknowledgement needs a reason, and a booking is one by itself.
	why := b.Note
	if why == "" {
		why = "work in the shop"
	}

	// A booking is an acknowledgement of each finding, with a day.
	for i, f := range open {
		if err := checkAck(f, until, why, now); err != nil {
			last := now.In(zone).AddDate(0, 0, 6)
			if f.Urgency != models.OffTheRoad {
				last = now.In(zone).Add(maxAck).AddDate(0, 0, -1)
			}

			faults.Add(
				"day",
				b.Day,
				"vehicle %s (%s) can be booked in from today up to %s",
				v.Number,
				f.Urgency,
				last.Format(time.DateOnly),
			)

			return 0, nil
		}

		open[i].Ack = &models.Ack{
			By:     a.User.ID,
			At:     now,
			Until:  until.Truncate(time.Microsecond),
			Why:    why,
			Booked: b.Day,
		}

		if err := s.audit(ctx, tx, a, now, findingChange(f, "booked in"), f.Ack, open[i].Ack); err != nil {
			return 0, err
		}
	}

	if err := tx.PutFindings(ctx, open); err != nil {
		return 0, err
	}

	_, err = s.reassess(ctx, tx, id, "assessed again", now)
	return len(open), err
}
