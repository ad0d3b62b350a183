package fleet

import (
	"context"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/history"
)

// JobView is a balance job with what it came to when it was done.
type JobView struct {
	Job    *models.BalanceJob
	Record models.BalanceRecord
	Tire   models.Tire
}

// JobFilter says whose balance jobs are listed: those of a tire or of a wheel.
type JobFilter struct {
	TireID  models.TireID
	WheelID models.WheelID
}

// BalanceJobs lists the balance jobs of a tire or a wheel that count, newest first,
// each with its drift since the job before of the same assembly.
func (s *Service) BalanceJobs(ctx context.Context, a Actor, f JobFilter, p models.Page) ([]JobView, string, error) {
	if (f.TireID == "") == (f.WheelID == "") {
		return nil, "", models.Errorf(models.Invalid, "name the tire or the wheel whose balance jobs to list")
	}

	l, err := readAs(
		ctx,
		s,
		a,
		access.View,
		references(f.TireID, f.WheelID),
		func(r models.Reader) (listed[JobView], error) {
			events, next, err := r.Events(
				ctx,
				models.EventFilter{TireID: f.TireID, WheelID: f.WheelID, Kinds: []models.EventKind{models.KindBalance}},
				p,
			)
			if err != nil {
				return listed[JobView]{}, err
			}

			jobs, err := jobViews(ctx, r, events)
			return listed[JobView]{jobs, next}, err
		},
	)

	return l.items, l.next, err
}

// JobRecord returns what a balance job came to when it was done; the zero
// BalanceRecord if it was withdrawn.
func (s *Service) JobRecord(ctx context.Context, a Actor, job *models.BalanceJob) (models.BalanceRecord, error) {
	views, err := readAs(ctx, s, a, access.View, references(job.TireID), func(r models.Reader) ([]JobView, error) {
		return jobViews(ctx, r, []models.Event{job})
	})
	if err != nil {
		return models.BalanceRecord{}, err
	}
	return views[0].Record, nil
}

// jobViews folds the life of each tire that jobs were done on.
func jobViews(ctx context.Context, r models.Reader, jobs []models.Event) ([]JobView, error) {
	type tireJobs struct {
		tire models.Tire
		jobs map[models.EventID]models.BalanceRecord
	}

	byTire := map[models.TireID]tireJobs{}

	var out []JobView
	for _, e := range jobs {
		job, ok := e.(*models.BalanceJob)
		if !ok {
			continue
		}

		of, known := byTire[job.TireID]
		if !known {
			life, err := loadLife(ctx, r, job.TireID)
			if err != nil {
				return nil, err
			}
			of = tireJobs{life.tire, history.Jobs(life.tire, life.vehicles, life.events)}
			byTire[job.TireID] = of
		}

		out = append(out, JobView{job, of.jobs[job.ID], of.tire})
	}

	return out, nil
}
