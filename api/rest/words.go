package rest

import (
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"rimledger/models"
)

// Words of a fixed set. Their schema lists them, so that a wrong one is named
// before anything else happens.
type (
	// ObservationCode names what hand and eye find.
	ObservationCode models.ObservationCode
	// RemovalReason says why a tire came off.
	RemovalReason models.RemovalReason
	// Class is a class of vehicles.
	Class models.Class
	// Role is what a person may do.
	Role models.Role
	// Urgency is one of the four steps of urgency, in words.
	Urgency string
)

func enumSchema[T ~string](description string, lists ...[]T) *huma.Schema {
	s := &huma.Schema{Type: huma.TypeString, Description: description}
	for _, l := range lists {
		for _, w := range l {
			s.Enum = append(s.Enum, string(w))
		}
	}
	return s
}

// Schema lists the codes.
func (ObservationCode) Schema(huma.Registry) *huma.Schema {
	return enumSchema("What hand and eye find at a place or on the vehicle.", models.PositionCodes, models.VehicleCodes)
}

// Schema lists the reasons.
func (RemovalReason) Schema(huma.Registry) *huma.Schema {
	return enumSchema("Why a tire comes off.", models.RemovalReasons)
}

// Schema lists the classes.
func (Class) Schema(huma.Registry) *huma.Schema {
	return enumSchema("Class of vehicle.", models.Classes)
}

// Schema lists the roles.
func (Role) Schema(huma.Registry) *huma.Schema {
	return enumSchema("What a person may do: viewers read, technicians record, managers do everything.", models.Roles)
}

// Schema lists the steps.
func (Urgency) Schema(huma.Registry) *huma.Schema {
	return enumSchema(
		"How soon it wants work.",
		[]string{models.OffTheRoad.String(), models.DoNow.String(), models.Plan.String(), models.Watch.String()},
	)
}

func (u Urgency) model() models.Urgency {
	m, _ := models.ParseUrgency(string(u)) // empty, or checked by the schema
	return m
}

// list converts each of from; it is nil for nothing, which is left out.
func list[A, B any](from []A, convert func(A) B) []B {
	if len(from) == 0 {
		return nil
	}
	return items(from, convert)
}

// items converts each of from; it is never nil.
func items[A, B any](from []A, convert func(A) B) []B {
	out := make([]B, 0, len(from))
	for _, a := range from {
		out = append(out, convert(a))
	}
	return out
}

// idOrNew returns id, or a new one if it was left out.
func idOrNew(id string) string {
	if id != "" {
		return id
	}
	return uuid.Must(uuid.NewV7()).String()
}

// moment returns t, nil for the zero time.
func moment(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

// utc returns t as the record keeps times.
func utc(t *time.Time) *time.Time {
	if t == nil {
		return nil
	}
	u := t.UTC().Truncate(time.Microsecond)
	return &u
}

// text is any word as plain text.
func text[S ~string](s S) string { return string(s) }
