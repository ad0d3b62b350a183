package fleet

import (
	"context"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/notation"
	"rimledger/models/units"
)

// Digest is what a depot's weekly mail says. Every count is exact, however many
// findings there are.
type Digest struct {
	Depot         models.Depot
	Style         units.Style // in which it is written: the depot's units and notation
	From, To      time.Time   // the week it covers
	At            time.Time   // when it was put together
	OffRoad       DigestPart
	DoNow         DigestPart
	DueSoon       DigestPart // due within 14 days, most urgent first
	Suspects      DigestPart // wear that points to imbalance
	NeverMeasured DigestPart
	Counts        []models.UrgencyCount
	OpenedSince   int // in the week, those closed since included
	ClosedSince   int // in the week
}

// DigestPart is the findings under one heading.
type DigestPart struct {
	Lines []DigestLine // the first of them, at most DigestListed
	Count int          // of all
}

// DigestListed bounds the findings that are listed under one heading.
const DigestListed = 40

// DigestLine is one finding with the vehicle it is about.
type DigestLine struct {
	Finding       models.Finding
	VehicleNumber string
	Class         models.Class
	Row           string
}

// DigestOf puts together the digest of a depot for a week. It reads the findings
// page by page and keeps in memory only those that are listed.
func (s *Service) DigestOf(ctx context.Context, a Actor, id models.DepotID, from, to time.Time) (Digest, error) {
	now := s.now()
	return readAs(ctx, s, a, access.View, references(id), func(r models.Reader) (Digest, error) {
		depot, err := r.Depot(ctx, id)
		if err != nil {
			return Digest{}, err
		}
		d := Digest{
			Depot: depot,
			Style: units.Style{Set: depot.Units, Notation: notation.OfPlace(depot.Jurisdiction)},
			From:  from,
			To:    to,
			At:    now,
		}

		if d.Counts, err = r.CountOpen(ctx, []models.DepotID{id}); err != nil {
			return d, err
		}
		if err := d.listOpen(ctx, r); err != nil {
			return d, err
		}
		return d, d.countClosed(ctx, r)
	})
}

// listOpen lists the open findings under their headings, each under the first
// that fits, and counts those that opened in the week.
func (d *Digest) listOpen(ctx context.Context, r models.Reader) error {
	vehicles := map[models.VehicleID]models.Vehicle{} // of what is listed
	return eachFinding(ctx, r, models.FindingFilter{Depots: []models.DepotID{d.Depot.ID}}, func(f models.Finding) error {
		if d.covers(f.OpenedAt) {
			d.OpenedSince++
		}

		part := d.part(f)
		if part == nil {
			return nil
		}
		part.Count++
		if part.Count > DigestListed {
			return nil
		}

		v, known := vehicles[f.VehicleID]
		if !known {
			var err error
			if v, _, err = r.Vehicle(ctx, f.VehicleID); err != nil {
				return err
			}
			vehicles[f.VehicleID] = v
		}

		renderFinding(d.Style, &f)
		part.Lines = append(part.Lines, DigestLine{f, v.Number, v.Class, v.ParkingRow})
		return nil
	})
}

// countClosed counts the findings that closed in the week, and those of them that
// opened in it.
func (d *Digest) countClosed(ctx context.Context, r models.Reader) error {
	closed := models.FindingFilter{Depots: []models.DepotID{d.Depot.ID}, Closed: true, ChangedSince: d.From}
	return eachFinding(ctx, r, closed, func(f models.Finding) error {
		if d.covers(f.OpenedAt) {
			d.OpenedSince++
		}
		if d.covers(*f.ClosedAt) {
			d.ClosedSince++
		}
		return nil
	})
}

// covers reports whether t lies in the digest's week.
func (d *Digest) covers(t time.Time) bool { return !t.Before(d.From) && t.Before(d.To) }

// part returns the first heading that fits an open finding, nil if none does.
func (d *Digest) part(f models.Finding) *DigestPart {
	switch {
	case f.Code == models.NeverInspected:
		return &d.NeverMeasured
	case f.Urgency == models.OffTheRoad:
		return &d.OffRoad
	case f.Quiet(d.At):
		return nil
	case f.Code == models.SuspectImbalance:
		return &d.Suspects
	case f.Urgency == models.DoNow:
		return &d.DoNow
	case f.DueAt != nil && f.DueAt.Before(d.At.AddDate(0, 0, 14)):
		return &d.DueSoon
	}

	return nil
}

// eachFinding reads findings page by page.
func eachFinding(ctx context.Context, r models.Reader, f models.FindingFilter, do func(models.Finding) error) error {
	page := models.Page{Limit: 500}
	for {
		list, next, err := r.Findings(ctx, f, page)
		if err != nil {
			return err
		}

		for _, x := range list {
			if err := do(x); err != nil {
				return err
			}
		}

		if next == "" {
			return nil
		}

		page.After = next
	}
}
