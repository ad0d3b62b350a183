package record

import (
	"time"

	"rimledger/api/web/say"
	"rimledger/api/web/site"
	"rimledger/models"
	"rimledger/models/units"
)

// timelineEntry is one event of a timeline.
type timelineEntry struct {
	ID         models.EventID
	Kind       models.EventKind
	At         time.Time
	RecordedAt time.Time
	Odometer   string
	Person     string
	Summary    string // of many lines, which are folded away
	Photos     []shownPhoto
	Lines      []string
	Card       string // address of a balance job's card
	Withdraw   string // address of the form that withdraws it; empty if the person may not, or it is done
	Note       string
	Reason     string // of a correction
	Gone       string // when, by whom and why it was withdrawn or replaced; empty if it counts
	Source     models.Source
	Zone       say.Clock
}

// timeline describes events; with a tire, only what of them is about that tire.
func timeline(r *site.Request, events []models.Event, u units.Style, z say.Clock, tire models.TireID) []timelineEntry {
	var out []timelineEntry
	for _, e := range events {
		h := e.Header()
		t := timelineEntry{
			ID:         h.ID,
			Kind:       e.Kind(),
			At:         h.At,
			RecordedAt: h.RecordedAt,
			Person:     h.Person,
			Note:       h.Note,
			Reason:     h.Reason,
			Source:     h.Source,
			Zone:       z,
		}

		if i, ok := e.(*models.Inspection); ok {
			t.Summary, t.Lines = say.DescribeInspection(i, tire, u)
			t.Photos = photosOf(i, tire)
		} else {
			t.Lines = say.DescribeEvent(e, u)
		}

		if t.Kind == models.KindBalance {
			t.Card = "/balance-jobs/" + string(h.ID)
		}

		// An unknown odometer is left out.
		switch {
		case h.Odometer.Known && h.Odometer.Estimated:
			t.Odometer = u.WriteTypedDistance(h.Odometer.Value, h.Odometer.Text) + " (judged)"
		case h.Odometer.Known:
			t.Odometer = u.WriteTypedDistance(h.Odometer.Value, h.Odometer.Text)
		}

		t.Withdraw, t.Gone = r.WithdrawAddress(e), r.GoneText(e, events, z)
		out = append(out, t)
	}

	return out
}

// shownPhoto is a photo of one place.
type shownPhoto struct {
	ID       models.PhotoID
	Position models.Position
}

// photosOf lists the photos of an inspection; of one tire only, if that is named.
func photosOf(e *models.Inspection, tire models.TireID) []shownPhoto {
	var out []shownPhoto
	for _, r := range e.Readings {
		for _, id := range r.Photos {
			if tire == "" || r.TireID == tire {
				out = append(out, shownPhoto{id, r.Position})
			}
		}
	}
	return out
}
