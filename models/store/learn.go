package store

import (
	"context"
	"errors"

	"rimledger/models"
	"rimledger/models/history"
	"rimledger/models/wear"
)

// learningRecord is the one row that holds what was learned last.
type learningRecord struct{ ID, Doc string }

func (learningRecord) TableName() string { return "learnings" }

const wearLearning = "wear"

func (v *view) Learning(ctx context.Context) (models.Learning, error) {
	r, err := first[learningRecord](ctx, v, "learning", "id = ?", wearLearning)
	if err != nil {
		return models.Learning{}, err
	}
	return decode[models.Learning](r.Doc)
}

func (t *tx) PutLearning(ctx context.Context, l models.Learning) error {
	text, err := doc(l)
	if err != nil {
		return err
	}
	return upsert(ctx, t, "what was learned", []string{"id"}, learningRecord{wearLearning, text})
}

// EachWear reads row by row: one vehicle is in memory at a time.
func (v *view) EachWear(ctx context.Context, yield func(wear.Summary) error) error {
	err := v.each(ctx, "SELECT doc FROM fitments WHERE to_at IS NOT NULL ORDER BY id", func(row []string) error {
		f, err := decode[models.Fitment](row[0])
		if err != nil || f.Wear == nil {
			return err
		}
		return yield(*f.Wear)
	})
	if err != nil {
		return err
	}
	var of string
	var vehicle models.Vehicle
	return v.each(ctx, `SELECT t.doc, t.state, t.vehicle_id, v.doc FROM tires t JOIN vehicles v ON v.id = t.vehicle_id
		WHERE t.vehicle_id IS NOT NULL ORDER BY t.vehicle_id, t.position`, func(row []string) error {
		t, err := decodeTire(tireRecord{Doc: row[0], State: row[1]})
		if err != nil {
			return err
		}
		if row[2] != of {
			if vehicle, err = decode[models.Vehicle](row[3]); err != nil {
				return err
			}
			of = row[2]
		}
		if s := history.Wear(t.Tire, vehicle, t.State); s != nil {
			return yield(*s)
		}
		return nil
	})
}

// each brings the rows of a query of texts to fn, one after another.
func (v *view) each(ctx context.Context, query string, fn func(row []string) error, args ...any) (err error) {
	rows, err := v.g.WithContext(ctx).Raw(query, args...).Rows()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	names, err := rows.Columns()
	if err != nil {
		return err
	}
	row, to := make([]string, len(names)), make([]any, len(names))
	for i := range row {
		to[i] = &row[i]
	}
	for rows.Next() {
		if err := rows.Scan(to...); err != nil {
			return err
		}
		if err := fn(row); err != nil {
			return err
		}
	}
	return rows.Err()
}
