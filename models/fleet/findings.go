package fleet

import (
	"context"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/access"
)

// Finding returns one finding, open or closed.
func (s *Service) Finding(ctx context.Context, a Actor, id models.FindingID) (models.Finding, error) {
	return readAs(ctx, s, a, access.View, references(id), func(r models.Reader) (models.Finding, error) {
		f, err := r.Finding(ctx, id)
		if err != nil {
			return f, err
		}
		one := []models.Finding{f}
		err = localizeFindings(ctx, r, a, one)
		return one[0], err
	})
}

// Findings lists findings of the depots that a sees.
func (s *Service) Findings(
	ctx context.Context,
	a Actor,
	f models.FindingFilter,
	p models.Page,
) ([]models.Finding, string, error) {
	var none bool
	if f.Depots, none = a.depots(f.Depots); none {
		return nil, "", nil
	}
	l, err := readAs(ctx, s, a, access.View, nil, func(r models.Reader) (listed[models.Finding], error) {
		items, next, err := r.Findings(ctx, f, p)
		if err != nil {
			return listed[models.Finding]{}, err
		}
		return listed[models.Finding]{items, next}, localizeFindings(ctx, r, a, items)
	})
	return l.items, l.next, err
}

// openBatch is how many vehicles EachOpen keeps in memory at once.
const openBatch = 200

// EachOpen calls yield for every vehicle with open findings, and stops at its error.
// It looks at the depots that a sees, or at those of them that are wanted. It reads
// openBatch vehicles at a time, whatever the size of the fleet, so a change in
// between may be seen or not.
func (s *Service) EachOpen(
	ctx context.Context,
	a Actor,
	want []models.DepotID,
	yield func(models.Vehicle, []models.Finding) error,
) error {
	depots, none := a.depots(want)
	if none {
		return nil
	}

	p := models.Page{Limit: openBatch}
	for {
		page, err := readAs(ctx, s, a, access.View, nil, func(r models.Reader) (openPage, error) {
			return readOpen(ctx, r, a, depots, p)
		})
		if err != nil {
			return err
		}

		for _, row := range page.rows {
			if err := yield(row.Vehicle, page.open[row.Vehicle.ID]); err != nil {
				return err
			}
		}

		if p.After = page.next; page.next == "" {
			return nil
		}
	}
}

// openPage is a page of vehicles with what is open on each.
type openPage struct {
	rows []models.VehicleRow
	open map[models.VehicleID][]models.Finding
	next string // cursor of the next page, empty on the last
}

func readOpen(
	ctx context.Context, r models.Reader, a Actor, depots []models.DepotID, p models.Page) (out openPage, err error) {
	out.rows, out.next, err = r.Vehicles(ctx, models.VehicleFilter{Depots: depots, Attention: true}, p)
	if err != nil {
		return out, err
	}

	ids := make([]models.VehicleID, len(out.rows))
	for i, row := range out.rows {
		ids[i] = row.Vehicle.ID
	}

	open, err := r.OpenFindings(ctx, ids...)
	if err != nil {
		return out, err
	}
	if err := localizeFindings(ctx, r, a, open); err != nil {
		return out, err
	}

	out.open = byVehicle(open)
	return out, nil
}

// byVehicle sorts findings by their vehicle; those of each keep their order.
func byVehicle(list []models.Finding) map[models.VehicleID][]models.Finding {
	out := map[models.VehicleID][]models.Finding{}
	for _, f := range list {
		out[f.VehicleID] = append(out[f.VehicleID], f)
	}
	return out
}

// Counts counts the open findings of the depots that a sees.
func (s *Service) Counts(ctx context.Context, a Actor) ([]models.UrgencyCount, error) {
	depots, _ := a.depots(nil)
	return readAs(
		ctx,
		s,
		a,
		access.View,
		nil,
		func(r models.Reader) ([]models.UrgencyCount, error) { return r.CountOpen(ctx, depots) },
	)
}

// Changed counts what changed since a time in the depots that a sees, or in
// those of them that are wanted.
func (s *Service) Changed(
	ctx context.Context,
	a Actor,
	want []models.DepotID,
	since time.Time,
) (models.ChangedCount, error) {
	depots, none := a.depots(want)
	if none {
		return models.ChangedCount{}, nil
	}
	return readAs(
		ctx,
		s,
		a,
		access.View,
		nil,
		func(r models.Reader) (models.ChangedCount, error) { return r.CountChanged(ctx, depots, since) },
	)
}

// maxAck is the longest time for which a finding can be set aside.
const maxAck = 180 * 24 * time.Hour

// Acknowledge notes that a finding is known until a time and why; a zero until
// withdraws that. What is off the road stays off the road: it can be
// acknowledged for at most a week, and stays listed. The same again changes nothing.
func (s *Service) Acknowledge(
	ctx context.Context,
	a Actor,
	id models.FindingID,
	until time.Time,
	why string,
) (models.Finding, error) {
	var f models.Finding
	err := s.writeAs(ctx, a, access.Manage, references(id), func(tx models.Tx, now time.Time) error {
		var err error
		if f, err = tx.Finding(ctx, id); err != nil {
			return err
		}
		if f.ClosedAt != nil {
			return models.Errorf(models.Conflict, "this finding closed on %s", f.ClosedAt.Format(time.DateOnly))
		}
		before := f

		if until.IsZero() {
			f.Ack = nil
		} else {
			if err := checkAck(f, until, why, now); err != nil {
				return err
			}
			f.Ack = &models.Ack{
				By:    a.User.ID,
				At:    now,
				Until: until.UTC().Truncate(time.Microsecond),
				Why:   strings.TrimSpace(why),
			}
		}

		// A form that is sent twice must not write a second line of the audit trail.
		if sameAck(before.Ack, f.Ack) {
			f = before
			return nil
		}
		if err := tx.PutFindings(ctx, []models.Finding{f}); err != nil {
			return err
		}
		if err := s.audit(ctx, tx, a, now, findingChange(f, "acknowledged"), before.Ack, f.Ack); err != nil {
			return err
		}

		// An acknowledgement changes the place of the vehicle in the lists.
		_, err = s.reassess(ctx, tx, f.VehicleID, "assessed again", now)
		return err
	})

	if err != nil {
		return f, err
	}
	return s.Finding(ctx, a, id)
}

// sameAck reports whether b says what a says: it was sent twice.
func sameAck(a, b *models.Ack) bool {
	if a == nil || b == nil {
		return a == b
	}
	return a.By == b.By && a.Until.Equal(b.Until) && a.Why == b.Why && a.Booked == b.Booked
}

func checkAck(f models.Finding, until time.Time, why string, now time.Time) error {
	var faults models.Faults
	longest := maxAck
	if f.Urgency == models.OffTheRoad {
		longest = 7 * 24 * time.Hour
	}

	if !until.After(now) || until.After(now.Add(longest)) {
		faults.Add(
			"until",
			until.Format(time.RFC3339),
			"must be after now and at most %d days ahead for what is %q",
			int(longest.Hours()/24),
			f.Urgency,
		)
	}

	if strings.TrimSpace(why) == "" || len(why) > 500 || models.CleanText(why) != "" {
		faults.Add("why", why, "must say why, in at most 500 characters")
	}
	return faults.Err("acknowledgement")
}

// findingChange is a line of the audit trail about f.
func findingChange(f models.Finding, what string) models.Change {
	return models.Change{Entity: "finding", ID: string(f.ID), What: what, Depots: []models.DepotID{f.DepotID}}
}

// ClaimCopy notes that a person asks for a copy of a depot's digest under an id made
// by the sender, and says whether that was asked for under it before: then it
// is not mailed again.
func (s *Service) ClaimCopy(ctx context.Context, a Actor, id string, d models.DepotID) (before bool, err error) {
	if !models.ValidID(id) {
		return false, models.Errorf(
			models.Invalid,
			"the form has no number of its own; open the digest again and press once more",
		)
	}
	err = s.writeAs(ctx, a, access.View, references(d), func(tx models.Tx, now time.Time) error {
		before, err = s.claimID(ctx, tx, id, []string{"copy of a digest", string(a.User.ID), string(d)}, now)
		return err
	})
	return before, err
}

// ClaimDigestSlot notes that a digest is being made, and says whether this call
// was the first for its depot and slot.
func (s *Service) ClaimDigestSlot(ctx context.Context, slot models.DigestSlot) (bool, error) {
	var first bool
	err := s.write(ctx, func(tx models.Tx, now time.Time) error {
		var err error
		slot.ClaimedAt = now
		first, err = tx.ClaimDigestSlot(ctx, slot)
		return err
	})
	return first, err
}

// PutDigestSlot saves how far a digest got.
func (s *Service) PutDigestSlot(ctx context.Context, slot models.DigestSlot) error {
	return s.write(ctx, func(tx models.Tx, _ time.Time) error { return tx.PutDigestSlot(ctx, slot) })
}

// DigestSlot returns one due digest.
func (s *Service) DigestSlot(ctx context.Context, d models.DepotID, slot string) (models.DigestSlot, error) {
	return read(ctx, s, func(r models.Reader) (models.DigestSlot, error) { return r.DigestSlot(ctx, d, slot) })
}

// DigestSlots lists the digests of a depot, newest first.
func (s *Service) DigestSlots(ctx context.Context, a Actor, d models.DepotID, limit int) ([]models.DigestSlot, error) {
	return readAs(
		ctx,
		s,
		a,
		access.View,
		references(d),
		func(r models.Reader) ([]models.DigestSlot, error) { return r.DigestSlots(ctx, d, limit) },
	)
}
