package jobs

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"

	"rimledger/models/fleet"
	"rimledger/reports/mail"
)

// Config has what a Runner works with.
type Config struct {
	Fleet   *fleet.Service
	DB      *sql.DB     // the record's own database
	Dialect string      // sqlite or postgres
	Sender  mail.Sender // nil: no digests are queued or sent
	From    string      // sender of the digests
	BaseURL string      // for links; may be empty
	Now     func() time.Time
	Logger  *slog.Logger
	// Backoff returns how long a digest that could not be sent to everyone waits
	// after a number of tries; nil doubles from one minute up to four hours.
	Backoff func(tries int) time.Duration
}

// Intervals and limits, chosen by us.
const (
	sweepEvery  = 30 * time.Second // latest delay of a digest behind its slot
	assessEvery = 15 * time.Minute
	pollEvery   = time.Second      // of the queue; not more often, since on SQLite it shares the one writer
	jobTimeout  = 10 * time.Minute // of one try
	rescueAfter = 15 * time.Minute // for a job whose server died; above jobTimeout, so never while it runs
	mailTries   = 16               // with the usual back-off more than a day
)

// Runner runs the jobs between Start and Stop.
type Runner struct {
	cfg    Config
	driver riverdriver.Driver[*sql.Tx]
	client *river.Client[*sql.Tx]

	mu   sync.Mutex
	stop context.CancelFunc // of the sweep; nil unless started
	done chan struct{}
}

// New returns a Runner, or an error for an unknown Dialect. It does not use the database
// yet.
func New(cfg Config) (*Runner, error) {
	r := &Runner{cfg: cfg}
	if r.cfg.Now == nil {
		r.cfg.Now = time.Now
	}
	if r.cfg.Logger == nil {
		r.cfg.Logger = slog.New(slog.DiscardHandler)
	}
	if r.cfg.Backoff == nil {
		r.cfg.Backoff = backoff
	}

	switch cfg.Dialect {
	case "sqlite":
		r.driver = riversqlite.New(cfg.DB)
	case "postgres":
		r.driver = riverdatabasesql.New(cfg.DB)
	default:
		return nil, fmt.Errorf("no job queue for database %q; only sqlite and postgres", cfg.Dialect)
	}

	// A server without mail takes no digest jobs, so that one with mail gets them.
	workers := river.NewWorkers()
	if err := river.AddWorkerSafely(workers, &assessWorker{r: r}); err != nil {
		return nil, err
	}
	if err := river.AddWorkerSafely(workers, &learnWorker{r: r}); err != nil {
		return nil, err
	}
	if err := river.AddWorkerSafely(workers, &figuresWorker{r: r}); err != nil {
		return nil, err
	}
	if cfg.Sender != nil {
		if err := river.AddWorkerSafely(workers, &digestWorker{r: r}); err != nil {
			return nil, err
		}
	}

	// The queue polls, since SQLite has no notifications.
	var err error
	r.client, err = river.NewClient(r.driver, &river.Config{
		Queues:              map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: 2}},
		Workers:             workers,
		FetchOnlyKnownKinds: true, // without a Sender, digests are left to a server that has one
		PeriodicJobs: []*river.PeriodicJob{
			river.NewPeriodicJob(river.PeriodicInterval(assessEvery), newAssess,
				&river.PeriodicJobOpts{RunOnStart: true}),
			river.NewPeriodicJob(nightly, newLearn, &river.PeriodicJobOpts{RunOnStart: true}),
			river.NewPeriodicJob(hourly, newFigures, &river.PeriodicJobOpts{RunOnStart: true}),
		},
		PollOnly:             true,
		FetchPollInterval:    pollEvery,
		JobTimeout:           jobTimeout,
		RescueStuckJobsAfter: rescueAfter,
		Logger:               slog.New(warnings{r.cfg.Logger.Handler()}),
	})

	return r, err
}

// Start prepares the queue's tables and begins to work; ctx bounds only that.
// Missed slots are queued at once. The work continues until Stop. Start returns an error
// if the jobs are running already or the tables cannot be prepared.
func (r *Runner) Start(ctx context.Context) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.stop != nil {
		return errors.New("the jobs are running already")
	}
	if err := r.migrate(ctx); err != nil {
		return fmt.Errorf("prepare the job queue: %w", err)
	}

	// The end of ctx must not cut off a message that is being sent: only Stop ends the work.
	lasting := context.WithoutCancel(ctx)
	if err := r.client.Start(lasting); err != nil {
		return fmt.Errorf("start the job queue: %w", err)
	}

	sweeping, stop := context.WithCancel(lasting)
	r.stop, r.done = stop, make(chan struct{})
	go func() {
		defer close(r.done)
		every(sweeping, sweepEvery, func() {
			if err := r.sweep(sweeping); err != nil && sweeping.Err() == nil {
				r.cfg.Logger.Error("look for due digests", "error", err)
			}
		})
	}()

	return nil
}

// Stop starts no more jobs and waits for those that run. If ctx ends first, it cancels
// their contexts; the queue runs them again later. Stop does nothing if the jobs are not
// running.
func (r *Runner) Stop(ctx context.Context) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.stop == nil {
		return nil
	}

	r.stop()
	<-r.done
	r.stop = nil

	err := r.client.Stop(ctx)
	if err != nil {
		short, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
		defer cancel()
		err = r.client.StopAndCancel(short)
	}
	return err
}

// every calls fn at once and then each interval, until ctx ends.
func every(ctx context.Context, interval time.Duration, fn func()) {
	tick := time.NewTicker(interval)
	defer tick.Stop()
	for {
		fn()
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// migrate updates River's own tables. Two servers that start at once may
// collide: one of them fails, waits, and finds the tables made when it tries again.
func (r *Runner) migrate(ctx context.Context) error {
	m, err := rivermigrate.New(r.driver, &rivermigrate.Config{Logger: slog.New(warnings{r.cfg.Logger.Handler()})})
	if err != nil {
		return err
	}

	for wait := 50 * time.Millisecond; ; wait *= 2 {
		if _, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil); err == nil || wait > 2*time.Second {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(wait):
		}
	}
}

// backoff returns 1, 2, 4, ... minutes, at most four hours.
func backoff(tries int) time.Duration {
	return min(time.Minute<<min(max(tries-1, 0), 10), 4*time.Hour)
}

// warnings passes only a library's warnings and errors to the log.
type warnings struct{ slog.Handler }

// Enabled implements slog.Handler.
func (h warnings) Enabled(ctx context.Context, l slog.Level) bool {
	return l >= slog.LevelWarn && h.Handler.Enabled(ctx, l)
}

// WithAttrs implements slog.Handler.
func (h warnings) WithAttrs(a []slog.Attr) slog.Handler { return warnings{h.Handler.WithAttrs(a)} }

// WithGroup implements slog.Handler.
func (h warnings) WithGroup(name string) slog.Handler { return warnings{h.Handler.WithGroup(name)} }
