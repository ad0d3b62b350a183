package fleet

import (
	"context"
	"errors"
	"maps"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// batch records the events of an import one after another in one transaction.
// It keeps the states of their vehicles, and the events and receipts that are
// not yet written, in memory until it is flushed.
type batch struct {
	service *Service
	tx      models.Tx
	actor   Actor
	now     time.Time
	confirm bool // held values are confirmed by whoever started the import

	scenes   map[models.VehicleID]*scene
	known    map[string]models.Fingerprint // receipts of all ids of the batch, so far
	events   []models.Event
	receipts []models.Receipt
}

// record adds e, which names its vehicle and supersedes nothing, as Record does,
// and reports whether it was recorded before with the same content. The vehicle
// is saved and assessed when the batch is flushed.
func (b *batch) record(ctx context.Context, e models.Event) (repeated bool, err error) {
	n := &entry{actor: b.actor, event: e, now: b.now, confirm: b.confirm}
	if err := b.service.prepare(n); err != nil {
		return false, err
	}
	if repeated, err = checkReceipt(b.known, n.receipt); err != nil || repeated {
		return repeated, err
	}

	// A fit reads its tires from the store, and the batch may have moved them.
	if _, fits := e.(*models.Fit); fits {
		if err := b.flush(ctx); err != nil {
			return false, err
		}
	}

	if n.scene, err = b.scene(ctx, e.Header().VehicleID); err != nil {
		return false, err
	}
	if err := n.complete(ctx, b.tx); err != nil {
		return false, err
	}
	b.add(n)

	if !n.needsReplay() {
		return false, n.apply(ctx, b.tx)
	}

	// A replay reads every event and state from the store.
	if err := b.flush(ctx); err != nil {
		return false, err
	}
	_, err = b.service.replay(ctx, b.tx, n)
	return false, err
}

func (b *batch) add(n *entry) {
	b.events, b.receipts = append(b.events, n.event), append(b.receipts, n.receipt)
	b.known[n.receipt.ID] = n.receipt.Fingerprint
}

// scene returns what is in memory of a vehicle, loading it the first time.
func (b *batch) scene(ctx context.Context, id models.VehicleID) (*scene, error) {
	if sc := b.scenes[id]; sc != nil {
		return sc, nil
	}

	sc, err := loadScene(ctx, b.tx, id)
	if err != nil {
		return nil, err
	}
	b.scenes[id] = sc
	return sc, nil
}

// flush writes the events, saves and assesses the vehicles, and empties the batch.
func (b *batch) flush(ctx context.Context) error {
	if err := errors.Join(b.tx.AddReceipts(ctx, b.receipts...), b.tx.AddEvents(ctx, b.events...)); err != nil {
		return err
	}
	b.receipts, b.events = nil, nil

	cause := "import of " + units.MarkDay(b.now)
	for _, id := range slices.Sorted(maps.Keys(b.scenes)) {
		sc := b.scenes[id]
		if err := sc.save(ctx, b.tx); err != nil {
			return err
		}
		if _, err := b.service.assessAndSave(ctx, b.tx, sc, cause, b.now); err != nil {
			return err
		}
	}

	clear(b.scenes)
	return nil
}
