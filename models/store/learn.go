package store

import (
	"context"

	"rimledger/models"
	"rimledger/models/history"
	"rimledger/models/wear"
)

// learningRecord is the one row with what was learned last.
type learningRecord struct{ ID, Doc string }

func (learningRecord) TableName() string { return "learnings" }

const wearLearning = "wear"

func (v *view) Learning(ctx context.Context) (models.Learning, error) {
	return entity[models.Learning](ctx, v, "learning", "learnings WHERE id = ?", wearLearning)
}

func (t *tx) PutLearning(ctx context.Context, l models.Learning) error {
	text, err := encode(l)
	if err != nil {
		return err
	}
	return upsert(ctx, t, "what was learned", []string{"id"}, learningRecord{wearLearning, text})
}

// EachWear reads row by row: one vehicle is in memory at a time.
func (v *view) EachWear(ctx context.Context, yield func(wear.Summary) error) error {
	err := v.each(ctx, func(row []string) error {
		f, err := decode[models.Fitment](row[0])
		if err != nil || f.Wear == nil {
			return err
		}
		return yield(*f.Wear)
	}, "SELECT doc FROM fitments WHERE to_at IS NOT NULL ORDER BY id")
	if err != nil {
		return err
	}

	var of string

	var vehicle models.Vehicle
	return v.each(ctx, func(row []string) error {
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
	}, `SELECT t.doc, t.state, t.vehicle_id, v.doc FROM tires t JOIN vehicles v ON v.id = t.vehicle_id
		WHERE t.vehicle_id IS NOT NULL ORDER BY t.vehicle_id, t.position`)
}
