package fleet

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/wear"
)

// LearnWear learns from all running and ended fitments how fast tires wear by
// vehicle class, axle role and tread design, and keeps it for the fitments that
// begin from now on. Those that run keep what they began with. The fitments
// stream by: memory does not grow with the fleet.
func (s *Service) LearnWear(ctx context.Context) (models.Learning, error) {
	l := models.Learning{At: s.now()}
	err := s.store.Read(ctx, func(r models.Reader) error {
		var err error
		l.Priors, err = wear.Learn(func(yield func(wear.Summary) error) error { return r.EachWear(ctx, yield) })
		return err
	})
	if err != nil {
		return l, err
	}
	return l, s.write(ctx, func(tx models.Tx, _ time.Time) error { return tx.PutLearning(ctx, l) })
}

// Learning returns what was learned last, the zero Learning if nothing was.
func (s *Service) Learning(ctx context.Context, a Actor) (models.Learning, error) {
	return readAs(
		ctx,
		s,
		a,
		access.View,
		nil,
		func(r models.Reader) (models.Learning, error) { return learning(ctx, r) },
	)
}

func learning(ctx context.Context, r models.Reader) (models.Learning, error) {
	l, err := r.Learning(ctx)
	if errors.Is(err, models.NotFound) {
		return models.Learning{}, nil
	}
	return l, err
}

// stampPriors notes on e what the fleet has taught of the places where e begins
// a wear estimate. A correction begins as the event it corrects did.
func (sc *scene) stampPriors(ctx context.Context, r models.Reader, e, old models.Event) error {
	begun := sc.begins(e)
	if len(begun) == 0 {
		return nil
	}

	h := e.Header()

	// A correction keeps the priors of the event that it corrects.
	var before map[models.Position]models.TireID
	if old != nil {
		before = sc.begins(old)
		for _, p := range old.Header().Priors {
			if _, again := begun[p.Position]; again {
				h.Priors = append(h.Priors, p)
			}
		}
	}

	// Only the places that begin an estimate anew learn from today's fleet.
	l, err := learning(ctx, r)
	if err != nil {
		return err
	}

	for p, id := range begun {
		if _, was := before[p]; was {
			continue
		}

		t, err := sc.tire(ctx, r, id)
		if err != nil {
			return err
		}
		if known, ok := l.Priors.Of(string(sc.vehicle.Class), string(sc.vehicle.AxleAt(p).Role()), t.Tire.Design); ok {
			h.Priors = append(h.Priors, models.PlacePrior{Position: p, Learned: known})
		}
	}

	// In a fixed order the same event has the same content.
	slices.SortFunc(
		h.Priors,
		func(a, b models.PlacePrior) int { return strings.Compare(string(a.Position), string(b.Position)) },
	)

	return nil
}

// begins lists the tires whose wear estimate e may begin, by their place.
func (sc *scene) begins(e models.Event) map[models.Position]models.TireID {
	out := map[models.Position]models.TireID{}
	switch e := e.(type) {
	case *models.Fit:
		for _, f := range e.Fittings {
			out[f.Position] = f.TireID
		}
	case *models.Rotation:
		for _, m := range e.Moves {
			out[m.To] = m.TireID
		}
	case *models.Inspection:
		for _, r := range e.Readings {
			if t := sc.tires[r.TireID]; t != nil && t.State.MinWear == nil {
				out[r.Position] = r.TireID
			}
		}
	}

	return out
}
