package fleet

import (
	"cmp"
	"context"
	"slices"

	"rimledger/models"
	"rimledger/models/units"
)

// Style returns how texts are written for a at depot d: in the person's own units,
// or else the depot's, and in the notation of a. What is said of the row of a sheet is
// in the units of the row.
func (a Actor) Style(d models.Depot) units.Style {
	set := units.Metric
	switch {
	case a.User.Units != nil:
		set = *a.User.Units
	case d.Units.Valid():
		set = d.Units
	}

	set.Distance = cmp.Or(a.wrote.Distance, set.Distance)
	set.Depth = cmp.Or(a.wrote.Depth, set.Depth)
	return units.Style{Set: set, Notation: a.Notation}
}

// asWritten returns a with the units in which an event of a sheet was written.
func (a Actor) asWritten(e models.Event) Actor {
	a.wrote = units.Set{Distance: units.DistanceUnit(e.Header().Odometer.Text)}
	if in, ok := e.(*models.Inspection); ok {
		for _, r := range in.Readings {
			if least, ok := r.Min(); ok {
				a.wrote.Depth = units.MM
				if units.In32Typed(least.Text) {
					a.wrote.Depth = units.In32
				}
			}
		}
	}

	return a
}

// localizeFindings puts what is marked in the texts of findings into words as a reads them.
// What is stored keeps its marks.
func localizeFindings(ctx context.Context, r models.Reader, a Actor, list []models.Finding) error {
	styles := map[models.DepotID]units.Style{}
	for i, f := range list {
		style, known := styles[f.DepotID]
		if !known {
			var err error
			if style, err = styleAt(ctx, r, a, f.DepotID); err != nil {
				return err
			}
			styles[f.DepotID] = style
		}

		renderFindings(style, list[i:i+1])
	}

	return nil
}

// styleAt returns the style of a at depot id, which it reads only if a does not have it.
func styleAt(ctx context.Context, r models.Reader, a Actor, id models.DepotID) (units.Style, error) {
	i := slices.IndexFunc(a.knows, func(d models.Depot) bool { return d.ID == id })
	switch {
	case a.User.Units != nil:
		return a.Style(models.Depot{}), nil
	case i >= 0:
		return a.Style(a.knows[i]), nil
	}
	d, err := r.Depot(ctx, id)
	return a.Style(d), err
}

// renderFindings writes the marked quantities and dates in lists in style s.
func renderFindings(s units.Style, lists ...[]models.Finding) {
	for _, list := range lists {
		for i := range list {
			renderFinding(s, &list[i])
		}
	}
}

func renderFinding(s units.Style, f *models.Finding) {
	for _, text := range []*string{&f.Title, &f.FirstJob, &f.Notice, &f.ClosedBy} {
		*text = s.Render(*text)
	}

	rendered := make([]models.Evidence, len(f.Evidence)) // the slice is shared with what is stored
	for i, e := range f.Evidence {
		e.Text, e.Source = s.Render(e.Text), s.Render(e.Source)
		rendered[i] = e
	}
	f.Evidence = rendered
}
