package jobs

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"

	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/reports/digest"
	"rimledger/reports/mail"
)

// digestArgs is the job of mailing one digest.
type digestArgs struct {
	Depot models.DepotID `json:"depot"`
	Slot  string         `json:"slot"`
}

// Kind implements river.JobArgs.
func (digestArgs) Kind() string { return "digest" }

// InsertOpts makes the job unique for its depot and slot.
func (digestArgs) InsertOpts() river.InsertOpts {
	return river.InsertOpts{MaxAttempts: mailTries, UniqueOpts: river.UniqueOpts{ByArgs: true}}
}

type digestWorker struct {
	river.WorkerDefaults[digestArgs]
	r *Runner
}

// Work sends the digest to those who have not had it.
func (w *digestWorker) Work(ctx context.Context, j *river.Job[digestArgs]) error {
	err := w.r.deliver(ctx, j.Args.Depot, j.Args.Slot)
	if errors.Is(err, models.NotFound) || errors.Is(err, models.Invalid) {
		err = river.JobCancel(err) // trying again would change nothing
	}

	if err != nil {
		w.r.cfg.Logger.Warn("digest not sent to everyone", "depot", j.Args.Depot, "slot", j.Args.Slot, "try", j.Attempt,
			"error", err)
	}

	return err
}

// NextRetry waits longer each time.
func (w *digestWorker) NextRetry(j *river.Job[digestArgs]) time.Time {
	return time.Now().Add(w.r.cfg.Backoff(j.Attempt))
}

// RunDigest asks for the digest of one slot, such as 2026-03-30T06:00, to be
// sent now by this server or another one on the same database. Asking again
// sends nothing twice. It returns Invalid for a slot that cannot be read or
// is not due yet and NotFound for an unknown depot. The Runner must have been started.
func (r *Runner) RunDigest(ctx context.Context, depot models.DepotID, slot string) error {
	d, err := r.cfg.Fleet.Depot(ctx, system, depot)
	if err != nil {
		return err
	}
	s, err := ParseSlot(slot, d.TimeZone)
	if err != nil {
		return &models.Error{Kind: models.Invalid, Msg: err.Error()}
	}

	if s.Due.After(r.cfg.Now()) {
		return models.Errorf(models.Invalid, "slot %s is not due yet", slot)
	}

	_, err = r.client.Insert(ctx, digestArgs{depot, slot}, nil)
	return err
}

// system acts for nobody in particular; the jobs only read and assess.
var system = fleet.System(models.FromCLI)

// sweep queues the newest due slot of each depot. One depot's bad schedule
// does not stop the others.
func (r *Runner) sweep(ctx context.Context) error {
	if r.cfg.Sender == nil {
		return nil
	}

	now := r.cfg.Now()
	depots, err := r.cfg.Fleet.Depots(ctx, system)
	if err != nil {
		return err
	}

	var faults []error
	for _, d := range depots {
		if d.DigestCron == "" || len(d.Recipients) == 0 {
			continue
		}
		if err := r.sweepDepot(ctx, d, now); err != nil {
			faults = append(faults, fmt.Errorf("depot %s: %w", d.Name, err))
		}
	}

	return errors.Join(faults...)
}

// NextDigest returns when the digest of a depot is due next after an instant,
// false if the depot has no schedule that can be read.
func NextDigest(d models.Depot, after time.Time) (time.Time, bool) {
	s, err := ParseSchedule(d.DigestCron, d.TimeZone)
	if err != nil {
		return time.Time{}, false
	}
	return s.Next(after).Due, true
}

func (r *Runner) sweepDepot(ctx context.Context, d models.Depot, now time.Time) error {
	s, err := ParseSchedule(d.DigestCron, d.TimeZone)
	if err != nil {
		return err
	}

	after := d.UpdatedAt // a schedule makes nothing due before it was set
	last, err := r.cfg.Fleet.DigestSlots(ctx, system, d.ID, 1)
	if err != nil {
		return err
	}
	if len(last) > 0 {
		after = last[0].DueAt
	}

	slot, due := s.Newest(after, now)
	if !due {
		return nil
	}
	_, err = r.client.Insert(ctx, digestArgs{d.ID, slot.Name}, nil)
	return err
}

// deliver sends the digest of a slot to every recipient who has not had it and
// was not refused for good. It returns what went wrong for the others; they
// are worth another try.
func (r *Runner) deliver(ctx context.Context, id models.DepotID, name string) error {
	depot, err := r.cfg.Fleet.Depot(ctx, system, id)
	if err != nil {
		return err
	}
	ledger, err := r.claim(ctx, depot, name)
	if err != nil || ledger.DoneAt != nil {
		return err
	}

	content, err := r.cfg.Fleet.DigestOf(ctx, system, id, ledger.From, ledger.To)
	if err != nil {
		return err
	}
	m, err := digest.Render(content, r.cfg.BaseURL)
	if err != nil {
		return err
	}

	ledger.LastError = ""

	var faults []error
	for i := range ledger.Deliveries {
		to := &ledger.Deliveries[i]
		if to.SentAt != nil || to.Refused != "" {
			continue
		}
		if err := r.send(ctx, m, ledger, to); err != nil {
			faults = append(faults, err)
			ledger.LastError = errors.Join(faults...).Error()
		}

		if err := r.save(ctx, ledger); err != nil {
			return err // without its notes, sending on could send twice
		}
		if ctx.Err() != nil {
			return errors.Join(append(faults, ctx.Err())...)
		}
	}

	if len(faults) > 0 {
		return errors.Join(faults...)
	}

	now := r.cfg.Now()
	ledger.DoneAt = &now
	return r.save(ctx, ledger)
}

// claim returns the ledger's entry of a slot, new or as an earlier try left it.
func (r *Runner) claim(ctx context.Context, d models.Depot, name string) (models.DigestSlot, error) {
	slot, err := ParseSlot(name, d.TimeZone)
	if err != nil {
		return models.DigestSlot{}, &models.Error{Kind: models.Invalid, Msg: err.Error()}
	}
	entry := models.DigestSlot{DepotID: d.ID, Slot: name, DueAt: slot.Due, From: slot.From, To: slot.To}

	known := map[string]bool{}
	for _, to := range d.Recipients {
		if key := strings.ToLower(to); !known[key] {
			known[key] = true
			entry.Deliveries = append(entry.Deliveries, models.Delivery{To: to})
		}
	}

	if _, err := r.cfg.Fleet.ClaimDigestSlot(ctx, entry); err != nil {
		return entry, err
	}
	return r.cfg.Fleet.DigestSlot(ctx, d.ID, name)
}

// send hands over one copy and notes in to what became of it.
func (r *Runner) send(ctx context.Context, m digest.Mail, slot models.DigestSlot, to *models.Delivery) error {
	to.Tries++
	err := r.cfg.Sender.Send(ctx,
		mail.Message{From: r.cfg.From, To: to.To, Subject: m.Subject, Text: m.Text, HTML: m.HTML,
			Key: string(slot.DepotID) + " " + slot.Slot})

	switch {
	case err == nil:
		now := r.cfg.Now()
		to.SentAt = &now
	case errors.Is(err, mail.ErrRefused):
		to.Refused = err.Error()
		r.cfg.Logger.Warn("digest refused for good", "depot", slot.DepotID, "slot", slot.Slot, "error", err)
		err = nil
	}

	return err
}

// save keeps the notes also when the job has just been told to stop.
func (r *Runner) save(ctx context.Context, slot models.DigestSlot) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 30*time.Second)
	defer cancel()
	return r.cfg.Fleet.PutDigestSlot(ctx, slot)
}

// assessArgs is the job of assessing what time alone has changed.
type assessArgs struct{}

// Kind implements river.JobArgs.
func (assessArgs) Kind() string { return "assess" }

func newAssess() (river.JobArgs, *river.InsertOpts) {
	return assessArgs{}, &river.InsertOpts{
		MaxAttempts: 3,
		UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: []rivertype.JobState{
			rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRetryable, rivertype.JobStateRunning, rivertype.JobStateScheduled}},
	}
}

type assessWorker struct {
	river.WorkerDefaults[assessArgs]
	r *Runner
}

// Work assesses the vehicles whose next check has come.
func (w *assessWorker) Work(ctx context.Context, _ *river.Job[assessArgs]) error {
	n, err := w.r.cfg.Fleet.AssessDue(ctx)
	if n > 0 {
		w.r.cfg.Logger.Info("assessed by time", "vehicles", n)
	}
	return err
}
