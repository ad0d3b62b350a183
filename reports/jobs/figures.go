package jobs

import (
	"context"

	"github.com/riverqueue/river"

	"rimledger/models"
)

// hourly is when the figures of depots are kept: each depot's last hour has one such time.
var hourly = must(models.ParseCron("50 * * * *"))

// figuresArgs is the job of keeping how depots stand.
type figuresArgs struct{}

// Kind implements river.JobArgs.
func (figuresArgs) Kind() string { return "keep_figures" }

// newFigures returns the job with the options of newAssess: one at a time.
func newFigures() (river.JobArgs, *river.InsertOpts) {
	_, options := newAssess()
	return figuresArgs{}, options
}

// figuresWorker runs the jobs of keeping figures.
type figuresWorker struct {
	river.WorkerDefaults[figuresArgs]
	r *Runner
}

// Work keeps the figures that are due.
func (w *figuresWorker) Work(ctx context.Context, _ *river.Job[figuresArgs]) error {
	n, err := w.r.cfg.Fleet.KeepFigures(ctx)
	if n > 0 {
		w.r.cfg.Logger.Info("figures kept", "depots", n)
	}
	return err
}
