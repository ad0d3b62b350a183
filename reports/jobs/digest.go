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

// InsertOpts makes the job unique for its depot and slot, and limits its tries.
func (digestArgs) InsertOpts() river.InsertOpts {
	return river.InsertOpts{MaxAttempts: mailTries, UniqueOpts: river.UniqueOpts{ByArgs: true}}
}

// digestWorker runs the jobs of mailing digests.
type digestWorker struct {
	river.WorkerDefaults[digestArgs]
	r *Runner
}

// Work sends the digest to every recipient who has not had it.
func (w *digestWorker) Work(ctx context.Context, j *river.Job[digestArgs]) error {
	err := w.r.deliver(ctx, j.Args.Depot, j.Args.Slot)
	if errors.Is(err, models.NotFound) || errors.Is(err, models.Invalid) {
		err = river.JobCancel(err) // another try would fail the same way
	}
	if err != nil {
		w.r.cfg.Logger.Warn("digest not sent to everyone", "depot", j.Args.Depot, "slot", j.Args.Slot, "try", j.Attempt,
			"error", err)
	}
	return err
}

// NextRetry returns when a digest that was not sent to everyone is tried again.
func (w *digestWorker) NextRetry(j *river.Job[digestArgs]) time.Time {
	return time.Now().Add(w.r.cfg.Backoff(j.Attempt))
}

// RunDigest queues the digest of one slot, such as 2026-03-30T06:00, to be sent now by
// this server or another one on the same database. A second call for the same slot sends
// nothing again. It returns Invalid for a slot that cannot be read or is not due yet, and
// NotFound for an unknown depot. The Runner must have been started.
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

// system is the actor of the jobs, which only read and assess.
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

// sweepDepot queues the newest due slot of one depot. A job that is queued already stays
// as it is.
func (r *Runner) sweepDepot(ctx context.Context, d models.Depot, now time.Time) error {
	s, err := ParseSchedule(d.DigestCron, d.TimeZone)
	if err != nil {
		return err
	}

	// A new schedule makes no slot due that lies before it was set.
	after := d.UpdatedAt
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

// deliver sends the digest of a slot to every recipient who has not had it and was not
// refused for good. It returns the errors of the recipients for whom another try may
// succeed.
func (r *Runner) deliver(ctx context.Context, id models.DepotID, name string) error {
	depot, err := r.cfg.Fleet.Depot(ctx, system, id)
	if err != nil {
		return err
	}
	entry, err := r.claim(ctx, depot, name)
	if err != nil || entry.DoneAt != nil {
		return err
	}

	content, err := r.cfg.Fleet.DigestOf(ctx, system, id, entry.From, entry.To)
	if err != nil {
		return err
	}
	m, err := digest.Render(content, r.cfg.BaseURL)
	if err != nil {
		return err
	}

	entry.LastError = ""
	var faults []error
	for i := range entry.Deliveries {
		to := &entry.Deliveries[i]
		if to.SentAt != nil || to.Refused != "" {
			continue
		}

		if err := r.send(ctx, m, entry, to); err != nil {
			faults = append(faults, err)
			entry.LastError = errors.Join(faults...).Error()
		}

		// Each copy is noted before the next is sent: a later try must know of it.
		if err := r.save(ctx, entry); err != nil {
			return err
		}
		if ctx.Err() != nil {
			return errors.Join(append(faults, ctx.Err())...)
		}
	}

	if len(faults) > 0 {
		return errors.Join(faults...)
	}

	now := r.cfg.Now()
	entry.DoneAt = &now
	return r.save(ctx, entry)
}

// claim returns the ledger's entry of a slot, new or as an earlier try left it. A new one
// lists each recipient once; addresses that differ only in case are the same.
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

// send sends one copy and notes the outcome in to. A refusal for good is no error.
func (r *Runner) send(ctx context.Context, m digest.Mail, slot models.DigestSlot, to *models.Delivery) error {
	to.Tries++
	err := r.cfg.Sender.Send(ctx, mail.Message{
		From:    r.cfg.From,
		To:      to.To,
		Subject: m.Subject,
		Text:    m.Text,
		HTML:    m.HTML,
		List:    "digest." + string(slot.DepotID),
		Key:     string(slot.DepotID) + " " + slot.Slot,
	})

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

// save saves the ledger's entry even if ctx has just ended: what was sent must be noted.
func (r *Runner) save(ctx context.Context, slot models.DigestSlot) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 30*time.Second)
	defer cancel()
	return r.cfg.Fleet.PutDigestSlot(ctx, slot)
}

// assessArgs is the job of assessing what time alone has changed.
type assessArgs struct{}

// Kind implements river.JobArgs.
func (assessArgs) Kind() string { return "assess" }

// newAssess returns the job and its options: one at a time, whichever server queues it.
func newAssess() (river.JobArgs, *river.InsertOpts) {
	return assessArgs{}, &river.InsertOpts{
		MaxAttempts: 3,
		UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: []rivertype.JobState{
			rivertype.JobStateAvailable,
			rivertype.JobStatePending,
			rivertype.JobStateRetryable,
			rivertype.JobStateRunning,
			rivertype.JobStateScheduled,
		}},
	}
}

// assessWorker runs the jobs of assessing vehicles.
type assessWorker struct {
	river.WorkerDefaults[assessArgs]
	r *Runner
}

// Work assesses the vehicles whose next check is due.
func (w *assessWorker) Work(ctx context.Context, _ *river.Job[assessArgs]) error {
	n, err := w.r.cfg.Fleet.AssessDue(ctx)
	if n > 0 {
		w.r.cfg.Logger.Info("assessed by time", "vehicles", n)
	}
	return err
}
