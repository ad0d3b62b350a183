package rest

import (
	"context"
	"time"

	"rimledger/models"
	"rimledger/models/assess"
	"rimledger/models/fleet"
)

// Due is work of one kind that comes due on a vehicle, or a limit that its tires reach.
type Due struct {
	Code       string    `json:"code"                  doc:"Of the finding that it becomes in time."                          example:"rotation_overdue"`
	What       string    `json:"what"                                                                                         example:"rotation"`
	Positions  []string  `json:"positions,omitempty"   doc:"Left out: the whole vehicle."                                                                nullable:"false"`
	At         time.Time `json:"at"                    doc:"The first of distance and time."`
	OdometerKM *float64  `json:"odometer_km,omitempty" doc:"Where it is due, if a distance decides and an odometer is known."`
	LimitMM    *float64  `json:"limit_mm,omitempty"    doc:"Depth that is reached."`
	Years      int       `json:"years,omitempty"       doc:"Age that is reached."`
	Overdue    bool      `json:"overdue"`
	Estimated  bool      `json:"estimated"             doc:"Rests on use per day, on wear or on an estimated odometer."`
	Why        string    `json:"why"                   doc:"The interval, or what the date rests on."`
}

func dueOf(m assess.Due) Due {
	d := Due{
		Code:      string(m.Code),
		What:      m.What,
		Positions: list(m.Positions, func(p models.Position) string { return string(p) }),
		At:        m.At,
		Years:     m.Years,
		Overdue:   m.Overdue,
		Estimated: m.Estimated,
		Why:       m.Why,
	}

	if m.Odometer != nil {
		km := m.Odometer.Kilometres()
		d.OdometerKM = &km
	}
	if m.Limit > 0 {
		mm := m.Limit.Millimetres()
		d.LimitMM = &mm
	}

	return d
}

func (s *server) registerSchedule() {
	register(
		s,
		get(
			"/vehicles/{id}/due",
			"Vehicles",
			"List what comes due on a vehicle",
			"However far ahead, earliest first: intervals of its policy, wear to the pull point or the legal "+
				"minimum, and age.",
		),
		func(ctx context.Context, a fleet.Actor, in *ByID) (*pageOut[Due], error) {
			all, err := s.Fleet.VehicleDue(ctx, a, models.VehicleID(in.ID))
			return paged(all, "", err, dueOf)
		},
	)
}
