package fleet

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/access"
	"rimledger/models/assess"
	"rimledger/models/history"
	"rimledger/models/tiresize"
	"rimledger/models/units"
	"rimledger/models/wear"
)

func (s *Service) vehicleEntity() entity[models.Vehicle] {
	return entity[models.Vehicle]{
		name: "vehicle", permission: access.Manage,
		id:    func(v models.Vehicle) string { return string(v.ID) },
		depot: func(v models.Vehicle) models.DepotID { return v.DepotID },
		stamp: func(v *models.Vehicle) *models.Stamp { return &v.Stamp },
		get: func(ctx context.Context, r models.Reader, v models.Vehicle) (models.Vehicle, error) {
			v, _, err := r.Vehicle(ctx, v.ID)
			return v, err
		},
		put:   func(ctx context.Context, tx models.Tx, v models.Vehicle) error { return tx.PutVehicle(ctx, v) },
		check: checkVehicle,
		after: func(ctx context.Context, tx models.Tx, v models.Vehicle, now time.Time) error {
			_, err := s.reassess(ctx, tx, v.ID, "vehicle edited", now)
			return err
		},
	}
}

func checkVehicle(ctx context.Context, tx models.Tx, v *models.Vehicle, old *models.Vehicle) error {
	if err := v.Validate(); err != nil {
		return err
	}

	var f models.Faults
	v.Patch.Check(&f)
	if err := f.Err("policy of vehicle " + v.Number); err != nil {
		return err
	}
	if old == nil {
		return nil
	}

	mounted, err := tx.TiresOn(ctx, v.ID)
	if err != nil {
		return err
	}

	for _, t := range mounted {
		if !v.Has(t.State.Position) {
			f.Add(
				"axles",
				"",
				"would remove %s, where tire %s is mounted; take it off first",
				t.State.Position,
				t.Tire.Number,
			)
		}
	}

	if v.Retired && len(mounted) > 0 {
		f.Add(
			"retired",
			"true",
			"%d tires are still mounted; take them off first, or record them as sold with the vehicle",
			len(mounted),
		)
	}

	return f.Err("vehicle " + v.Number)
}

// CreateVehicle adds a vehicle. Repeating the same content returns the first answer.
func (s *Service) CreateVehicle(ctx context.Context, a Actor, v models.Vehicle) (models.Vehicle, error) {
	return s.vehicleEntity().create(ctx, s, a, v)
}

// EditVehicle saves v over the version it started from.
func (s *Service) EditVehicle(ctx context.Context, a Actor, v models.Vehicle) (models.Vehicle, error) {
	return s.vehicleEntity().edit(ctx, s, a, v)
}

// VehicleView is a vehicle with everything that its page shows.
type VehicleView struct {
	Vehicle      models.Vehicle
	State        models.VehicleState
	Standing     models.Standing
	Depot        models.Depot
	Policy       models.Policy
	Tires        []models.TireWithState           // mounted, in the order of Positions
	Findings     []models.Finding                 // open, most urgent first
	LegalMinimum map[models.Position]units.Length // strictest number in force; 0 if there is none
	Ask          map[models.Position][]string     // what to measure or count by hand before anything else
	Use          wear.Use
	Expected     map[models.Position]history.Expectation // of the next reading; by these it is held
}

// Hold is the table of figures by which readings are held, for a phone that judges while
// the gauge is in the hand.
func Hold() wear.Holding { return wear.Hold }

// view describes the vehicle of sc to its pages and phones; without its findings.
func (sc *scene) view(standing models.Standing, found assess.Result) VehicleView {
	v := VehicleView{
		Vehicle:      sc.vehicle,
		State:        sc.state,
		Standing:     standing,
		Depot:        sc.depot,
		Policy:       sc.policy,
		Tires:        sc.mounted(),
		LegalMinimum: found.LegalMinimum,
		Ask:          found.Ask,
		Use:          history.UseOf(sc.vehicle, sc.state),
		Expected:     map[models.Position]history.Expectation{},
	}
	for _, t := range v.Tires {
		v.Expected[t.State.Position] = history.Expect(t.Tire, sc.vehicle, t.State)
	}
	return v
}

// Vehicle returns one vehicle with its tires and open findings.
func (s *Service) Vehicle(ctx context.Context, a Actor, id models.VehicleID) (VehicleView, error) {
	now := s.now()
	return readAs(ctx, s, a, access.View, references(id), func(r models.Reader) (VehicleView, error) {
		sc, err := loadScene(ctx, r, id)
		if err != nil {
			return VehicleView{}, err
		}

		open, err := r.OpenFindings(ctx, id)
		if err != nil {
			return VehicleView{}, err
		}
		slices.SortStableFunc(open, byUrgency)
		renderFindings(a.Style(sc.depot), open)

		result := sc.assess(now)
		v := sc.view(standing(open, now, result), result)
		v.Findings = open
		return v, nil
	})
}

// VehicleByNumber returns the vehicle with this unit number in a depot.
func (s *Service) VehicleByNumber(
	ctx context.Context,
	a Actor,
	d models.DepotID,
	number string,
) (models.Vehicle, error) {
	return readAs(
		ctx,
		s,
		a,
		access.View,
		references(d),
		func(r models.Reader) (models.Vehicle, error) { return r.VehicleByNumber(ctx, d, number) },
	)
}

// listed is one page of a list.
type listed[T any] struct {
	items []T
	next  string
}

// Vehicles lists the vehicles that a sees; with f.Attention, those that need work.
func (s *Service) Vehicles(
	ctx context.Context,
	a Actor,
	f models.VehicleFilter,
	p models.Page,
) ([]models.VehicleRow, string, error) {
	var none bool
	if f.Depots, none = a.depots(f.Depots); none {
		return nil, "", nil
	}
	l, err := readAs(ctx, s, a, access.View, nil, func(r models.Reader) (listed[models.VehicleRow], error) {
		rows, next, err := r.Vehicles(ctx, f, p)
		return listed[models.VehicleRow]{rows, next}, err
	})
	return l.items, l.next, err
}

// CountVehicles counts the vehicles that Vehicles lists, and stops counting at most.
func (s *Service) CountVehicles(ctx context.Context, a Actor, f models.VehicleFilter, most int) (int, error) {
	var none bool
	if f.Depots, none = a.depots(f.Depots); none {
		return 0, nil
	}
	return readAs(
		ctx,
		s,
		a,
		access.View,
		nil,
		func(r models.Reader) (int, error) { return r.CountVehicles(ctx, f, most) },
	)
}

func (s *Service) tireEntity() entity[models.Tire] {
	return entity[models.Tire]{
		name: "tire", permission: access.Manage,
		id:    func(t models.Tire) string { return string(t.ID) },
		depot: func(t models.Tire) models.DepotID { return t.DepotID },
		stamp: func(t *models.Tire) *models.Stamp { return &t.Stamp },
		get: func(ctx context.Context, r models.Reader, t models.Tire) (models.Tire, error) {
			t, _, err := r.Tire(ctx, t.ID)
			return t, err
		},
		put:   func(ctx context.Context, tx models.Tx, t models.Tire) error { return tx.PutTire(ctx, t) },
		check: func(_ context.Context, _ models.Tx, t, _ *models.Tire) error { return checkTire(t, s.now()) },
		after: func(ctx context.Context, tx models.Tx, t models.Tire, now time.Time) error {
			_, st, err := tx.Tire(ctx, t.ID)
			if err != nil || st.VehicleID == "" {
				return err
			}
			_, err = s.reassess(ctx, tx, st.VehicleID, "tire edited", now)
			return err
		},
	}
}

// checkTire writes the size as on the sidewall and validates t as of now.
func checkTire(t *models.Tire, now time.Time) error {
	var f models.Faults
	size, err := tiresize.Parse(t.Size)
	if err != nil {
		f.Add("size", t.Size, "%v", err)
	} else {
		t.Size = size.String()
	}

	if t.TIN != "" {
		if _, err := tiresize.ParseTIN(t.TIN, now); err != nil {
			f.Add("tin", t.TIN, "%v", err)
		}
	}

	if err := t.Validate(); err != nil {
		var e *models.Error
		if errors.As(err, &e) {
			f = append(f, e.Fields...)
		}
	}

	return f.Err("tire " + t.Number)
}

// CreateTire adds a tire in stock. Repeating the same content returns the first answer.
func (s *Service) CreateTire(ctx context.Context, a Actor, t models.Tire) (models.Tire, error) {
	return s.tireEntity().create(ctx, s, a, t)
}

// EditTire saves t over the version it started from.
func (s *Service) EditTire(ctx context.Context, a Actor, t models.Tire) (models.Tire, error) {
	return s.tireEntity().edit(ctx, s, a, t)
}

// TireView is a tire with its life across vehicles and positions.
type TireView struct {
	Tire     models.Tire
	State    models.TireState
	Fitments []models.Fitment
	Readings []models.Measured // oldest first
}

// Tire returns one tire with its whole life.
func (s *Service) Tire(ctx context.Context, a Actor, id models.TireID) (TireView, error) {
	return readAs(ctx, s, a, access.View, references(id), func(r models.Reader) (TireView, error) {
		var v TireView
		var err error
		if v.Tire, v.State, err = r.Tire(ctx, id); err != nil {
			return v, err
		}
		if v.Fitments, err = r.Fitments(ctx, models.FitmentFilter{TireID: id}); err != nil {
			return v, err
		}

		events, _, err := r.Events(
			ctx,
			models.EventFilter{TireID: id, Kinds: []models.EventKind{models.KindInspection}, Ascending: true},
			models.Page{},
		)

		for _, e := range events {
			in, ok := e.(*models.Inspection)
			if !ok {
				return v, fmt.Errorf("event %s is no inspection", e.Header().ID)
			}

			for _, rd := range in.Readings {
				if rd.TireID == id {
					v.Readings = append(
						v.Readings,
						models.Measured{Point: models.Point{EventID: in.ID, At: in.At, Odometer: in.Odometer},
							VehicleID: in.VehicleID, Person: in.Person, Gauge: in.Gauge, Reading: rd},
					)
				}
			}
		}

		return v, err
	})
}

// Tires lists the tires that a sees, by number.
func (s *Service) Tires(
	ctx context.Context,
	a Actor,
	f models.TireFilter,
	p models.Page,
) ([]models.TireWithState, string, error) {
	var none bool
	if f.Depots, none = a.depots(f.Depots); none {
		return nil, "", nil
	}
	l, err := readAs(ctx, s, a, access.View, nil, func(r models.Reader) (listed[models.TireWithState], error) {
		rows, next, err := r.Tires(ctx, f, p)
		return listed[models.TireWithState]{rows, next}, err
	})
	return l.items, l.next, err
}

func (s *Service) wheelEntity() entity[models.Wheel] {
	return entity[models.Wheel]{
		name: "wheel", permission: access.Manage,
		id:    func(w models.Wheel) string { return string(w.ID) },
		depot: func(w models.Wheel) models.DepotID { return w.DepotID },
		stamp: func(w *models.Wheel) *models.Stamp { return &w.Stamp },
		get: func(ctx context.Context, r models.Reader, w models.Wheel) (models.Wheel, error) {
			return r.Wheel(ctx, w.ID)
		},
		put: func(ctx context.Context, tx models.Tx, w models.Wheel) error { return tx.PutWheel(ctx, w) },
		check: func(_ context.Context, _ models.Tx, w, old *models.Wheel) error {
			w.MeasuredAt, w.MeasuredBy, w.RunOut = time.Time{}, "", nil
			if old != nil {
				w.RunOut = old.RunOut
			}

			switch {
			case old != nil && same(old.WheelGeometry, w.WheelGeometry):
				w.MeasuredAt, w.MeasuredBy = old.MeasuredAt, old.MeasuredBy
			case old != nil:
				w.MeasuredAt = s.now()
			}

			return w.Validate()
		},
		after: func(context.Context, models.Tx, models.Wheel, time.Time) error { return nil },
	}
}

// CreateWheel adds a wheel. Repeating the same content returns the first answer.
func (s *Service) CreateWheel(ctx context.Context, a Actor, w models.Wheel) (models.Wheel, error) {
	return s.wheelEntity().create(ctx, s, a, w)
}

// EditWheel saves w over the version it started from.
func (s *Service) EditWheel(ctx context.Context, a Actor, w models.Wheel) (models.Wheel, error) {
	return s.wheelEntity().edit(ctx, s, a, w)
}

// Wheel returns one wheel.
func (s *Service) Wheel(ctx context.Context, a Actor, id models.WheelID) (models.Wheel, error) {
	return readAs(
		ctx,
		s,
		a,
		access.View,
		references(id),
		func(r models.Reader) (models.Wheel, error) { return r.Wheel(ctx, id) },
	)
}

// Wheels lists the wheels of a depot.
func (s *Service) Wheels(
	ctx context.Context,
	a Actor,
	d models.DepotID,
	p models.Page,
) ([]models.Wheel, string, error) {
	l, err := readAs(ctx, s, a, access.View, references(d), func(r models.Reader) (listed[models.Wheel], error) {
		rows, next, err := r.Wheels(ctx, d, p)
		return listed[models.Wheel]{rows, next}, err
	})
	return l.items, l.next, err
}
