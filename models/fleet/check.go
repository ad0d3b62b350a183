package fleet

import (
	"cmp"
	"context"
	"fmt"
	"reflect"
	"slices"
	"time"

	"rimledger/models"
	"rimledger/models/units"
)

// checker gathers what is wrong with an event, and what is believable only if
// confirmed.
type checker struct {
	sc     *scene
	actor  Actor
	style  units.Style // of who records
	h      *models.Meta
	faults models.Faults
	held   []models.Field

	// What the event is compared with; see rewind.
	old    models.Event // that it supersedes; nil: none
	state  models.VehicleState
	places map[models.Position]*models.TireWithState
	later  *models.Meta // of the first odometer read after it; nil: none
}

// check fills in the tires at the positions of the event and returns an Invalid,
// Conflict or Held error if it cannot be recorded as it is. With confirm it notes
// held values as confirmed instead.
func (n *entry) check(ctx context.Context, tx models.Tx) error {
	c := &checker{sc: n.scene, actor: n.actor, style: n.actor.Style(n.scene.depot), h: n.event.Header(), old: n.old}
	if err := c.rewind(ctx, tx); err != nil {
		return err
	}

	// A late entry is placed as in an import, which knows no earlier use per day.
	use := c.sc.state
	if c.old != nil {
		use = c.state
	}
	locate(use, c.h)
	c.odometer()
	if err := c.checkContent(ctx, tx, n.event); err != nil {
		return err
	}
	if err := c.faults.Err(string(n.event.Kind())); err != nil {
		return err
	}
	if wordsOnly, err := changesWordsOnly(n.event, n.old); err != nil || wordsOnly {
		return err
	}
	if err := c.order(n.event, n.old); err != nil {
		return err
	}

	if n.confirm {
		c.confirmHeld()
	}
	return c.unconfirmed()
}

// confirmHeld notes the codes of all held values as confirmed.
func (c *checker) confirmHeld() {
	for _, f := range c.held {
		if !slices.Contains(c.h.Confirmed, f.Code) {
			c.h.Confirmed = append(c.h.Confirmed, f.Code)
		}
	}
}

// unconfirmed returns a Held error with the held values that nobody confirmed,
// nil if there are none.
func (c *checker) unconfirmed() error {
	var open []models.Field
	for _, f := range c.held {
		if !slices.Contains(c.h.Confirmed, f.Code) {
			open = append(open, f)
		}
	}

	if len(open) == 0 {
		return nil
	}
	return &models.Error{Kind: models.Held, Msg: "measure again or confirm", Fields: open}
}

// addHeld adds a value that is believable only if confirmed.
func (c *checker) addHeld(code, name, value, format string, args ...any) {
	c.held = append(c.held, models.Field{Name: name, Value: value, Code: code, Remedy: fmt.Sprintf(format, args...)})
}

// maxKMPerDay is the distance a day beyond which an odometer is asked about.
const maxKMPerDay = 1500 * units.Kilometre

// odometer asks about a counter that runs back or leaps, against what was read before
// and, for an entry that belongs earlier, after it.
func (c *checker) odometer() {
	now := c.h.Odometer
	if !now.Known || c.old != nil && sameMoment(c.h, c.old.Header()) {
		return
	}

	if st := c.state; st.Odometer.Known && !c.h.At.Before(st.OdometerAt) {
		c.stretch(st.Odometer.Value, now.Value, st.OdometerAt, c.h.At, st.Odometer.Value, st.OdometerAt)
	}
	if l := c.later; l != nil && len(c.held) == 0 {
		c.stretch(now.Value, l.Odometer.Value, c.h.At, l.At, l.Odometer.Value, l.At)
	}
}

// stretch asks about the odometer of the entry if the vehicle would have run back, or
// farther than any does, between two readings, of which the other was one on a day.
func (c *checker) stretch(from, to units.Distance, begin, end time.Time, other units.Distance, day time.Time) {
	shown, against := c.style.WriteDistance(c.h.Odometer.Value), c.style.WriteDistance(other)
	date := c.style.WriteDate(day)

	side := "above"
	if !end.Equal(c.h.At) {
		side = "below"
	}

	switch days := max(end.Sub(begin).Hours()/24, 1); {
	case to < from && end.Equal(c.h.At):
		c.addHeld("odometer_back", "odometer", c.h.Odometer.Text,
			"%s is less than the %s of %s; read it again, or confirm a changed counter", shown, against, date)
	case to < from:
		c.addHeld("odometer_ahead", "odometer", c.h.Odometer.Text,
			"%s is more than the %s that was read later, on %s; read it again, or confirm a changed counter",
			shown, against, date)
	case float64(to-from) > days*float64(maxKMPerDay):
		c.addHeld("odometer_leap", "odometer", c.h.Odometer.Text,
			"%s is more than %s a day %s the %s of %s; read it again, or confirm",
			shown, c.style.WriteDistance(maxKMPerDay), side, against, date)
	}
}

// order refuses moves of tires that would change what later entries mean.
func (c *checker) order(e, old models.Event) error {
	moving := func(e models.Event) bool {
		switch e.(type) {
		case *models.Fit, *models.Removal, *models.Rotation, *models.TireMove:
			return true
		}
		return false
	}

	since := c.h.At
	var ids []models.TireID
	if moving(e) {
		ids = e.TireIDs()
	}

	if old != nil && moving(old) {
		ids = append(ids, old.TireIDs()...)
		if oh := old.Header(); oh.At.Before(since) {
			since = oh.At
		}
	}

	if m, ok := old.(*models.TireMove); ok && len(m.NewDepths) > 0 {
		return models.Errorf(
			models.Conflict,
			"that entry gave the tire a new tread; put right what was wrong of it by editing the tire",
		)
	}

	for _, id := range ids {
		t := c.sc.tires[id]
		if !c.actor.User.Sees(t.Tire.DepotID) && t.State.VehicleID != c.sc.vehicle.ID {
			return models.Errorf(
				models.Conflict,
				"the tires of the entry to correct have moved on to another depot; it stays as it is",
			)
		}

		if t.State.LastEventAt.After(since) {
			return models.Errorf(
				models.Conflict,
				"%s has later entries, the last of %s; a move between them would change what they mean: withdraw "+
					"those first",
				c.nameOf(t),
				t.State.LastEventAt.Format(time.RFC3339),
			)
		}
	}

	return c.roomToReturn(e, old)
}

// roomToReturn refuses to supersede a removal where another tire came into the place since:
// the removed one would stand there too. A correction that removes it no later is no return.
func (c *checker) roomToReturn(e, old models.Event) error {
	was, ok := old.(*models.Removal)
	if !ok {
		return nil
	}

	again, corrects := e.(*models.Removal)
	for _, r := range was.Removed {
		same := func(n models.Removed) bool { return n.TireID == r.TireID && n.Position == r.Position }
		if corrects && !c.h.At.After(was.At) && slices.ContainsFunc(again.Removed, same) {
			continue
		}

		if there := c.sc.at(r.Position); there != nil && there.Tire.ID != r.TireID {
			return models.Errorf(
				models.Conflict,
				"%s is at %s now, where the removed one would return; take it off, or withdraw its fit, first",
				c.nameOf(there),
				r.Position,
			)
		}
	}

	return nil
}

// tireAt returns the tire at position p of field name, or adds a fault.
func (c *checker) tireAt(name string, p models.Position) *models.TireWithState {
	if !c.sc.vehicle.Has(p) {
		c.faults.Add(
			name,
			string(p),
			"is not a position of vehicle %s; its positions are %v",
			c.sc.vehicle.Number,
			c.sc.vehicle.Positions(),
		)
		return nil
	}

	t := c.places[p]
	if t == nil {
		c.faults.Add(
			name,
			string(p),
			"has no tire in the record; fit one first, or record the tire that is there as found",
		)
	}

	return t
}

// nameOf names a tire in a refusal. One that was on the vehicle may belong to
// a depot since that the person does not see.
func (c *checker) nameOf(t *models.TireWithState) string {
	if c.actor.User.Sees(t.Tire.DepotID) || t.State.VehicleID != "" && t.State.VehicleID == c.sc.vehicle.ID {
		return "tire " + t.Tire.Number
	}
	return "a tire that belongs to another depot now"
}

// fillTireID fills *id with the tire at a position, or adds a fault if it names another.
func (c *checker) fillTireID(name string, id *models.TireID, t *models.TireWithState) {
	if t == nil {
		return
	}
	if *id != "" && *id != t.Tire.ID {
		c.faults.Add(name, string(*id), "is not the tire there; the record has %s", c.nameOf(t))
	}
	*id = t.Tire.ID
}

//revive:disable-next-line:cyclomatic
func (c *checker) checkContent(ctx context.Context, tx models.Tx, e models.Event) error {
	switch e := e.(type) {
	case *models.Inspection:
		c.inspection(e)
		return c.photos(ctx, tx, e)
	case *models.OdometerEntry:
		if !e.Odometer.Known {
			c.faults.Add("odometer", "unknown", "must be given: that is all an odometer entry says")
		}
	case *models.Fit:
		return c.fit(ctx, tx, e)
	case *models.Removal:
		c.removal(e)
	case *models.Rotation:
		c.rotation(e)
	case *models.BalanceJob:
		return c.balance(ctx, tx, e)
	case *models.Repair:
		return c.repair(ctx, tx, e)
	case *models.Alignment:
		c.axles("axles", e.Axles)
	case *models.Retorque:
		for i, p := range e.Positions {
			if !c.sc.vehicle.Has(p) {
				c.tireAt(fmt.Sprintf("positions[%d]", i), p)
			}
		}
		c.torque(e.TorqueNM)
	case *models.Service:
		c.axles("axle", []int{max(e.Axle, 1)})
		oneOf(&c.faults, "what", e.What, "dampers", "bearings", "steering", "brakes", "other")
	case *models.Vibration:
		c.vibration(e)
	case *models.Clearance:
		c.clearance(e)
	case *models.WheelCheck:
		return c.wheelCheck(ctx, tx, e)
	case *models.TireMove:
		return c.tireMove(ctx, tx, e)
	}

	return nil
}

func (c *checker) axles(name string, axles []int) {
	for _, n := range axles {
		if n < 1 || n > len(c.sc.vehicle.Axles) {
			c.faults.Add(name, fmt.Sprint(n), "must be 1 to %d, counted from the front", len(c.sc.vehicle.Axles))
		}
	}
}

func (c *checker) torque(nm float64) {
	if !(nm >= 0 && nm <= 2000) {
		c.faults.Add("torque_nm", fmt.Sprint(nm), "must be 0 (not recorded) to 2000 N·m")
	}
}

func oneOf[T ~string](f *models.Faults, name, value string, allowed ...T) {
	if !slices.Contains(allowed, T(value)) {
		f.Add(name, value, "must be one of %q", allowed)
	}
}

// maxShakeKMH is faster than any vehicle of a fleet drives: chosen by us.
const maxShakeKMH = 250

func (c *checker) vibration(e *models.Vibration) {
	c.shakeSpeeds(e)
	c.shakePlaces(e)

	answers := *e
	answers.Meta = models.Meta{}
	if len(e.Bands) == 0 {
		answers.Bands = nil
	}
	if len(e.Places) == 0 {
		answers.Places = nil
	}

	if reflect.ValueOf(answers).IsZero() && e.Note == "" {
		c.faults.Add(
			"worst_kmh",
			"",
			"a report says at least one thing: a speed, where it is felt, what changes it, or a note",
		)
	}

	for name, v := range map[string]string{"braking": e.Braking, "throttle": e.Throttle, "neutral": e.Neutral} {
		oneOf(&c.faults, name, v, "", "worse", "better", "same", "only")
	}

	oneOf(&c.faults, "since", e.Since, "", "fit", "rotation", "pothole", "repair", "parked", "gradual")
	if e.Settles != "" &&
		!slices.ContainsFunc(c.state.Complaints, func(o models.Complaint) bool { return o.Is(e.Settles) }) {
		c.faults.Add("settles", string(e.Settles), "is not an open vibration report of vehicle %s", c.sc.vehicle.Number)
	}
}

// shakeSpeeds checks the bands of speed: in one form only, each within reason and rising,
// none over another.
func (c *checker) shakeSpeeds(e *models.Vibration) {
	one := models.SpeedBand{FromKMH: e.StartsKMH, WorstKMH: e.WorstKMH, ToKMH: e.FadesKMH}
	c.speedBand(one, [3]string{"starts_kmh", "worst_kmh", "fades_kmh"})

	if len(e.Bands) > 0 && one != (models.SpeedBand{}) {
		c.faults.Add("bands", fmt.Sprint(len(e.Bands)),
			"must not be given together with starts_kmh, worst_kmh or fades_kmh; "+
				"give the speeds in one form, best as bands")
		return
	}
	if len(e.Bands) > models.MaxSpeedBands {
		c.faults.Add("bands", fmt.Sprint(len(e.Bands)), "must be at most %d", models.MaxSpeedBands)
		return
	}

	for i, b := range e.Bands {
		at := fmt.Sprintf("bands[%d]", i)
		c.speedBand(b, [3]string{at + ".from_kmh", at + ".worst_kmh", at + ".to_kmh"})

		if b.Highest() == 0 {
			c.faults.Add(at+".from_kmh", "", "a band has a speed where it starts, is worst or ends")
		}
		if b.Strength != "" {
			oneOf(&c.faults, at+".strength", b.Strength, models.ShakeStrengths...)
		}
	}

	c.bandsApart(e.Bands)
}

// speedBand checks the speeds of one band; fields names them.
func (c *checker) speedBand(b models.SpeedBand, fields [3]string) {
	for i, kmh := range []float64{b.FromKMH, b.WorstKMH, b.ToKMH} {
		if !(kmh >= 0 && kmh <= maxShakeKMH) {
			c.faults.Add(fields[i], fmt.Sprint(kmh), "must be 0 (not known) to %d km/h", maxShakeKMH)
		}
	}

	if b.WorstKMH > 0 && b.WorstKMH < b.FromKMH {
		c.faults.Add(fields[1], fmt.Sprint(b.WorstKMH), "is below where it starts, %s", c.style.WriteSpeed(b.FromKMH))
	}
	if b.ToKMH > 0 && b.ToKMH < max(b.FromKMH, b.WorstKMH) {
		c.faults.Add(fields[2], fmt.Sprint(b.ToKMH), "is below where it starts or is worst, %s",
			c.style.WriteSpeed(max(b.FromKMH, b.WorstKMH)))
	}
}

// bandsApart checks that no band begins below the end of the one before it in speed.
func (c *checker) bandsApart(bands []models.SpeedBand) {
	order := make([]int, len(bands))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(bands[a].Lowest(), bands[b].Lowest()) })

	for i := 1; i < len(order); i++ {
		below, band := bands[order[i-1]], bands[order[i]]
		if band.Lowest() < below.Highest() {
			c.faults.Add(fmt.Sprintf("bands[%d].from_kmh", order[i]), fmt.Sprint(band.Lowest()),
				"overlaps another band, which ends at %s; bands lie apart", c.style.WriteSpeed(below.Highest()))
		}
	}
}

// shakePlaces checks where the shake is felt: in one form only, each place once.
func (c *checker) shakePlaces(e *models.Vibration) {
	if e.FeltAt != "" {
		oneOf(&c.faults, "felt_at", e.FeltAt, models.ShakePlaces...)
	}
	if e.FeltAt != "" && len(e.Places) > 0 {
		c.faults.Add("places", fmt.Sprint(len(e.Places)),
			"must not be given together with felt_at; give them in one form, best as places")
	}

	for i, place := range e.Places {
		at := fmt.Sprintf("places[%d]", i)
		oneOf(&c.faults, at, place, models.ShakePlaces...)
		if slices.Contains(e.Places[:i], place) {
			c.faults.Add(at, place, "is named twice")
		}
	}
}

func (c *checker) clearance(e *models.Clearance) {
	t := c.tireAt("position", e.Position)
	c.fillTireID("tire_id", &e.TireID, t)
	if len(e.Codes) == 0 {
		c.faults.Add("codes", "", "must name what is cleared")
	}
	if e.Reason == "" && e.Note == "" {
		c.faults.Add("note", "", "must say what was done or found; a clearance puts the tire back on the road")
	}
	if t == nil {
		return
	}

	for i, code := range e.Codes {
		if !slices.ContainsFunc(
			t.State.Damage,
			func(d models.ActiveDamage) bool { return d.Observation.Code == code },
		) {
			c.faults.Add(fmt.Sprintf("codes[%d]", i), string(code), "is not open on %s", c.nameOf(t))
		}
	}
}
