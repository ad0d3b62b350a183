package jobs

import (
	"context"
	"time"

	"github.com/riverqueue/river"
	"github.com/robfig/cron/v3"

	"rimledger/models"
)

// nightly is when the fleet's wear rates are learned anew, in the server's zone.
var nightly = must(models.ParseCron("10 3 * * *"))

// must returns the schedule of a constant specification.
func must(s cron.Schedule, err error) cron.Schedule {
	if err != nil {
		panic(err) // the constant is wrong
	}
	return s
}

// learnGap is the least time between two learnings: a server that starts at noon makes up
// for a missed night, one that restarts does not learn again (chosen by us).
const learnGap = 20 * time.Hour

// learnArgs is the job of learning wear rates from the fleet's fitments.
type learnArgs struct{}

// Kind implements river.JobArgs.
func (learnArgs) Kind() string { return "learn_wear" }

// newLearn returns the job with the options of newAssess: one at a time.
func newLearn() (river.JobArgs, *river.InsertOpts) {
	_, options := newAssess()
	return learnArgs{}, options
}

// learnWorker runs the jobs of learning.
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
