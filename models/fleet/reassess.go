package fleet

import (
	"context"
	"reflect"
	"runtime"
	"sync"
	"time"

	"rimledger/models"
	"rimledger/models/assess"
)

// reassess loads and assesses one vehicle and saves what that changes.
func (s *Service) reassess(
	ctx context.Context, tx models.Tx, id models.VehicleID, cause string, now time.Time) (assessment, error) {
	sc, err := loadScene(ctx, tx, id)
	if err != nil {
		return assessment{}, err
	}
	return s.assessAndSave(ctx, tx, sc, cause, now)
}

// reassessAll assesses vehicles whose own state did not change: they are read
// together, assessed in parallel, and only what changed is written.
func (s *Service) reassessAll(
	ctx context.Context,
	tx models.Tx,
	rows []models.VehicleRow,
	cause string,
	now time.Time,
) error {
	if len(rows) == 0 {
		return nil
	}

	scenes, err := loadScenes(ctx, tx, rows)
	if err != nil {
		return err
	}

	var ids []models.VehicleID
	for _, row := range rows {
		ids = append(ids, row.Vehicle.ID)
	}

	// One query for all vehicles instead of one each.
	open, err := tx.OpenFindings(ctx, ids...)
	if err != nil {
		return err
	}

	before := byVehicle(open)

	var changed []models.Finding
	for i, result := range assessAll(scenes, now) {
		v := rows[i].Vehicle.ID
		out, some := s.compare(before[v], result.Findings, cause, now)
		changed = append(changed, some...)

		// Most vehicles do not change from one sweep to the next.
		if st := standing(out.open, now, result); !reflect.DeepEqual(st, rows[i].Standing) {
			if err := tx.PutVehicleState(ctx, v, rows[i].State, st); err != nil {
				return err
			}
		}
	}

	return tx.PutFindings(ctx, changed)
}

// assessAll assesses scenes on all processors, in their order.
func assessAll(scenes []*scene, now time.Time) []assess.Result {
	out := make([]assess.Result, len(scenes))
	workers := runtime.GOMAXPROCS(0)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for i := w; i < len(scenes); i += workers {
				out[i] = scenes[i].assess(now)
			}
		})
	}
	wg.Wait()
	return out
}

// reassessDepot assesses the vehicles of a depot, of one class if c is given.
func (s *Service) reassessDepot(
	ctx context.Context,
	tx models.Tx,
	d models.DepotID,
	c models.Class,
	now time.Time,
) error {
	page := models.Page{Limit: assessBatch}
	for {
		rows, next, err := tx.Vehicles(ctx, models.VehicleFilter{Depots: []models.DepotID{d}, Class: c}, page)
		if err != nil {
			return err
		}
		if err := s.reassessAll(ctx, tx, rows, "rules changed", now); err != nil {
			return err
		}
		if next == "" {
			return nil
		}

		page.After = next
	}
}

// assessBatch is how many vehicles are assessed in one transaction.
const assessBatch = 100

// AssessDue assesses the vehicles for which time alone changes what is found.
func (s *Service) AssessDue(ctx context.Context) (checked int, err error) {
	for {
		n := 0
		err := s.write(ctx, func(tx models.Tx, now time.Time) error {
			ids, err := tx.VehiclesToCheck(ctx, now, assessBatch)
			if err != nil {
				return err
			}
			n = len(ids)

			for _, id := range ids {
				if _, err := s.reassess(ctx, tx, id, "time passed", now); err != nil {
					return err
				}
			}

			return nil
		})

		checked += n
		if err != nil || n < assessBatch {
			return checked, err
		}
	}
}

// AssessAll assesses every vehicle, in batches, so that it can be stopped at any
// point and started again. progress may be nil.
func (s *Service) AssessAll(ctx context.Context, progress func(done int)) (checked int, err error) {
	page := models.Page{Limit: assessBatch}
	for {
		if err := ctx.Err(); err != nil {
			return checked, err
		}

		var next string

		n := 0
		err := s.write(ctx, func(tx models.Tx, now time.Time) error {
			rows, after, err := tx.Vehicles(ctx, models.VehicleFilter{}, page)
			if err != nil {
				return err
			}
			next, n = after, len(rows)
			return s.reassessAll(ctx, tx, rows, "assessed again", now)
		})
		if err != nil {
			return checked, err
		}

		checked += n
		if progress != nil {
			progress(checked)
		}
		if next == "" {
			return checked, nil
		}

		page.After = next
	}
}
