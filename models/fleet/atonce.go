package fleet

import (
	"context"
	"errors"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"rimledger/models"
)

// A typo must not hide damage. Where an inspection is held for some of its numbers, and
// the rest of it takes a tire off the road, the rest is recorded at once, as an entry of
// its own under an id that follows from that of the inspection. The inspection takes the
// place of that entry when it is recorded in the end; its numbers are compared with what
// stood before both.

// atOnceSpace is the name space of the ids of such entries.
var atOnceSpace = uuid.MustParse("8a3f3c57-1d5e-4b0f-8f39-7b9f6f0b2c11")

func atOnceID(of models.EventID) models.EventID {
	return models.EventID(uuid.NewSHA1(atOnceSpace, []byte(of)).String())
}

// atOnceReason stands on the inspection that takes the place of such an entry.
const atOnceReason = "the whole visit, after doubtful numbers were measured again or confirmed"

// errNothingUrgent ends the recording of a rest that takes nothing off the road.
var errNothingUrgent = errors.New("nothing is off the road")

// recordAtOnce records what of a held inspection is not in doubt, if that takes a tire off
// the road, and returns held with what was recorded. Else it returns held as it is: the
// whole visit waits.
func (s *Service) recordAtOnce(ctx context.Context, a Actor, e models.Event, held *models.Error) error {
	visit, ok := e.(*models.Inspection)
	if !ok || visit.Supersedes != "" {
		return held
	}
	rest := undoubted(visit, held.Fields)
	if len(rest.Readings) == 0 {
		return held
	}

	var urgent []string
	_, err := s.record(ctx, a, rest, func(done Recorded) error {
		for _, f := range done.Open {
			isRead := func(r models.Reading) bool { return r.Position == f.Position }
			if f.Urgency == models.OffTheRoad && slices.ContainsFunc(rest.Readings, isRead) {
				urgent = append(urgent, f.Title)
			}
		}
		if len(urgent) == 0 {
			return errNothingUrgent
		}
		return nil
	})

	// A rest that cannot be recorded by itself waits with the visit.
	if err != nil {
		return held
	}
	with := *held
	with.Recorded = rest.ID
	with.Msg = "off the road, recorded at once: " + strings.Join(urgent, "; ") + ". " +
		"Only the doubtful numbers wait: measure again or confirm"
	return &with
}

// heldField finds the reading that a held value is of.
var heldField = regexp.MustCompile(`^readings\[(\d+)\]\.(depths|pressure)`)

// undoubted returns a visit without the values of doubted, and without readings that hold
// nothing else.
func undoubted(visit *models.Inspection, doubted []models.Field) *models.Inspection {
	rest := *visit
	rest.Meta = models.Meta{VehicleID: visit.VehicleID, At: visit.At, Odometer: visit.Odometer, Person: visit.Person,
		Note: visit.Note}
	rest.ID = atOnceID(visit.ID)
	rest.Readings = slices.Clone(visit.Readings)

	for _, f := range doubted {
		m := heldField.FindStringSubmatch(f.Name)
		switch {
		case f.Name == "odometer":
			rest.Odometer = models.Odometer{}
		case f.Name == "readings": // as many wheels as last time: none of the depths is sure
			for i := range rest.Readings {
				rest.Readings[i].Depths = nil
			}
		case m != nil:
			i, _ := strconv.Atoi(m[1])
			if m[2] == "depths" {
				rest.Readings[i].Depths = nil
			} else {
				rest.Readings[i].Pressure = nil
			}
		}
	}

	rest.Readings = slices.DeleteFunc(rest.Readings, models.Reading.Empty)
	return &rest
}

// followAtOnce has an inspection take the place of what was recorded at once of it.
func (n *entry) followAtOnce(ctx context.Context, tx models.Tx) error {
	h := n.event.Header()
	if _, ok := n.event.(*models.Inspection); !ok || h.Supersedes != "" {
		return nil
	}

	before, err := tx.Event(ctx, atOnceID(h.ID))
	if errors.Is(err, models.NotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	if was := before.Header(); was.SupersededBy == "" && was.VehicleID == h.VehicleID {
		h.Supersedes, h.Reason = was.ID, atOnceReason
	}
	return nil
}
