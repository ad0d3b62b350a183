package store

import (
	"context"
	"strings"

	"rimledger/models"
)

// figuresRecord is how one depot stood on one day.
type figuresRecord struct{ Day, DepotID, Doc string }

func (figuresRecord) TableName() string { return "figures" }

func (v *view) Figures(ctx context.Context, f models.FiguresFilter) ([]models.Figures, error) {
	var conditions []string
	var args []any
	add := func(condition string, values ...any) {
		conditions, args = append(conditions, condition), append(args, values...)
	}

	if f.From != "" {
		add("day >= ?", f.From)
	}
	if f.To != "" {
		add("day <= ?", f.To)
	}
	if len(f.Depots) > 0 {
		add("depot_id IN ?", texts(f.Depots))
	}

	from := "figures"
	if len(conditions) > 0 {
		from += " WHERE " + strings.Join(conditions, " AND ")
	}
	return entities[models.Figures](ctx, v, from+" ORDER BY day, depot_id", args...)
}

func (t *tx) PutFigures(ctx context.Context, all ...models.Figures) error {
	for _, f := range all {
		text, err := encode(f)
		if err != nil {
			return err
		}
		record := figuresRecord{f.Day, string(f.DepotID), text}
		if err := upsert(ctx, t, "figures", []string{"day", "depot_id"}, record); err != nil {
			return err
		}
	}
	return nil
}
