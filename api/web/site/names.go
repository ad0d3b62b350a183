package site

import (
	"errors"
	"strings"

	"rimledger/api/web/say"
	"rimledger/models"
)

// PeopleNames gives people their names where the person may know them. Users answers
// managers only; others see no name.
func (s *Site) PeopleNames(r *Request) map[models.UserID]string {
	out := map[models.UserID]string{r.Actor.User.ID: r.Actor.User.Name, "system": "Rimledger"}
	people, err := s.Fleet.Users(r.Ctx(), r.Actor)
	if err != nil {
		return out
	}
	for _, u := range people {
		out[u.ID] = u.Name
	}
	return out
}

// BaseURL returns the address under which people reach the pages: as it was set,
// else as the request was sent.
func (r *Request) BaseURL() string {
	if r.Site.PublicURL != "" {
		return strings.TrimSuffix(r.Site.PublicURL, "/")
	}
	return r.Scheme() + "://" + r.Request().Host
}

// NextDigest says when the next digest of a depot goes out, and why none does.
func (s *Site) NextDigest(r *Request, d models.Depot) string {
	next, ok := s.DigestNext(d, r.Now)
	switch {
	case !ok:
		return ""
	case len(d.Recipients) == 0:
		return "None goes out until somebody is named to send it to."
	case s.DigestToMe == nil:
		return "This server has no mail server yet, so digests wait."
	}

	return "The next one goes out on " + next.In(say.Zone(d)).
		Format("Monday, ") +
		r.Clock(d).
			Moment(next) +
		", " + d.TimeZone + "."
}

// VehicleNumber returns a vehicle's number, or "" if the person does not see it.
func (s *Site) VehicleNumber(
	r *Request,
	id models.VehicleID,
	known map[models.VehicleID]models.Vehicle,
) (string, error) {
	v, err := s.VisibleVehicle(r, id, known)
	return v.Number, err
}

// VisibleVehicle returns a vehicle, or none if the person does not see it.
func (s *Site) VisibleVehicle(
	r *Request,
	id models.VehicleID,
	known map[models.VehicleID]models.Vehicle,
) (models.Vehicle, error) {
	if id == "" {
		return models.Vehicle{}, nil
	}
	if v, ok := known[id]; ok {
		return v, nil
	}
	v, err := s.Fleet.Vehicle(r.Ctx(), r.Actor, id)
	if errors.Is(err, models.NotFound) {
		err = nil
	}
	known[id] = v.Vehicle
	return v.Vehicle, err
}

// WorkLink names a kind of work and its form.
type WorkLink struct{ Kind, Title string }
