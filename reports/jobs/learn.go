package jobs

import (
	"context"
	"time"

	"github.com/riverqueue/river"
	"github.com/robfig/cron/v3"
)

// nightly is when the fleet's wear rates are learned anew, in the server's zone.
var nightly = must(five.Parse("10 3 * * *"))

func must(s cron.Schedule, err error) cron.Schedule {
	if err != nil {
		panic(err) // a constant above
	}
	return s
}

// learnGap is how old the last learning must be: a server that starts at noon
// makes up for a missed night, one that restarts does not learn again.
const learnGap = 20 * time.Hour

// learnArgs is the job of learning wear rates from the fleet's fitments.
type learnArgs struct{}

// Kind implements river.JobArgs.
func (learnArgs) Kind() string { return "learn_wear" }

func newLearn() (river.JobArgs, *river.InsertOpts) {
	_, once := newAssess()
	return learnArgs{}, once
}

type learnWorker struct {
	river.WorkerDefaults[learnArgs]
	r *Runner
}

// Work learns, unless that was done within learnGap.
func (w *learnWorker) Work(ctx context.Context, _ *river.Job[learnArgs]) error {
	last, err := w.r.cfg.Fleet.Learning(ctx, system)
	if err != nil || w.r.cfg.Now().Sub(last.At) < learnGap {
		return err
	}
	l, err := w.r.cfg.Fleet.LearnWear(ctx)
	if err == nil {
		w.r.cfg.Logger.Info("wear rates learned", "groups", len(l.Priors.Groups))
	}
	return err
}
