package fleet

import (
	"cmp"
	"context"
	"slices"
	"time"

	"rimledger/models"
)

// moment is where an entry stands among others: by when it happened; of those of one
// moment, by when it was recorded. A correction that keeps the moment keeps the place of
// what it corrects: else a removal whose note is put right would follow the fit of the
// same minute.
type moment struct {
	at, recorded time.Time
	id           models.EventID
}

func (m moment) compare(o moment) int {
	return cmp.Or(m.at.Compare(o.at), m.recorded.Compare(o.recorded), cmp.Compare(m.id, o.id))
}

// momentOf returns where a recorded entry stands.
func momentOf(ctx context.Context, r models.Reader, e models.Event) (moment, error) {
	h := e.Header()
	m := moment{h.At, h.RecordedAt, h.ID}
	for id := h.Supersedes; id != ""; {
		was, err := r.Event(ctx, id)
		if err != nil {
			return m, err
		}
		first := was.Header()
		if !first.At.Equal(h.At) {
			break
		}
		m.recorded, m.id, id = first.RecordedAt, first.ID, first.Supersedes
	}
	return m, nil
}

// eventsInOrder returns all events of f that stand, each at its moment.
func eventsInOrder(ctx context.Context, r models.Reader, f models.EventFilter) ([]models.Event, error) {
	f.Ascending = true
	events, _, err := r.Events(ctx, f, models.Page{})
	if err != nil {
		return nil, err
	}

	moments := map[models.EventID]moment{}
	for _, e := range events {
		if moments[e.Header().ID], err = momentOf(ctx, r, e); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(events, func(a, b models.Event) int {
		return moments[a.Header().ID].compare(moments[b.Header().ID])
	})
	return events, nil
}
