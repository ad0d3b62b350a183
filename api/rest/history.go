package rest

import (
	"context"
	"net/http"
	"reflect"

	"github.com/danielgtaylor/huma/v2"

	"rimledger/api/problem"
	"rimledger/models"
	"rimledger/models/fleet"
)

// Recorded is the answer to a recorded event of kind W.
type Recorded[W any] struct {
	Event    W         `json:"event"`
	Opened   []Finding `json:"opened"   doc:"Findings that this opened."`
	Closed   []Finding `json:"closed"   doc:"Findings that this closed."`
	Open     []Finding `json:"open"     doc:"All open findings of the vehicle, most urgent first."`
	Repeated bool      `json:"repeated" doc:"It had been recorded before, with the same content."`
}

type recordedOut[W any] struct {
	Status int
	Body   Recorded[W]
}

const eventTag = "Events"

// registerEvent adds the operation that records one kind of event.
func registerEvent[W any](
	s *server,
	path, summary, description string,
	model func(*W) models.Event,
	wire func(models.Event) W,
) {
	if description != "" {
		description += " "
	}

	o := post(
		path,
		eventTag,
		summary,
		description+"The same id and content again gives the first answer with status 200 and repeated. "+
			"A correction names the event that it supersedes and a reason.",
	)

	answer := func(description, mediaType string, t reflect.Type) *huma.Response {
		return &huma.Response{Description: description, Content: map[string]*huma.MediaType{
			mediaType: {Schema: s.OpenAPI().Components.Schemas.Schema(t, true, "")}}}
	}
	o.Responses = map[string]*huma.Response{
		"200":     answer("Recorded before", "application/json", reflect.TypeFor[Recorded[W]]()),
		"default": answer("Error", "application/problem+json", reflect.TypeFor[problem.Problem]()),
	}

	register(s, o, func(ctx context.Context, a fleet.Actor, in *bodyIn[W]) (*recordedOut[W], error) {
		r, err := s.Fleet.Record(ctx, a, model(&in.Body))
		if err != nil {
			return nil, err
		}
		out := &recordedOut[W]{http.StatusCreated, Recorded[W]{Event: wire(r.Event), Opened: items(r.Opened, findingOf),
			Closed: items(r.Closed, findingOf), Open: items(r.Open, findingOf), Repeated: r.Repeated}}

		if r.Repeated {
			out.Status = http.StatusOK
		}
		return out, nil
	})
}

// eventsIn narrows a list of events.
type eventsIn struct {
	ID string `path:"id" format:"uuid"`
	Paging
	Kind       []string `                        query:"kind"       maxItems:"20" doc:"One or more kinds, separated by commas."`
	Superseded bool     `                        query:"superseded"               doc:"Also events that were corrected."`
	Sort       string   `                        query:"sort"                                                                   enum:"newest,oldest" default:"newest"`
}

func (in eventsIn) model() models.EventFilter {
	return models.EventFilter{Kinds: list(in.Kind, func(k string) models.EventKind { return models.EventKind(k) }),
		Superseded: in.Superseded, Ascending: in.Sort == "oldest"}
}

// JobView is a balance job with what it came to when it was done.
type JobView struct {
	Job    Event         `json:"job"`
	Record BalanceRecord `json:"record"`
	Tire   string        `json:"tire_number"`
}

func jobViewOf(m fleet.JobView) JobView {
	return JobView{eventOf(m.Job), balanceRecordOf(m.Record), m.Tire.Number}
}

func (s *server) registerHistory() {
	events := func(ctx context.Context, a fleet.Actor, f models.EventFilter, p Paging) (*pageOut[Event], error) {
		found, next, err := s.Fleet.Events(ctx, a, f, p.model())
		return paged(found, next, err, eventOf)
	}

	register(s, get("/vehicles/{id}/events", eventTag, "List what happened to a vehicle", ""),
		func(ctx context.Context, a fleet.Actor, in *eventsIn) (*pageOut[Event], error) {
			f := in.model()
			f.VehicleID = models.VehicleID(in.ID)
			return events(ctx, a, f, in.Paging)
		})

	register(s, get("/tires/{id}/events", eventTag, "List what happened to a tire", "On every vehicle it was on."),
		func(ctx context.Context, a fleet.Actor, in *eventsIn) (*pageOut[Event], error) {
			f := in.model()
			f.TireID = models.TireID(in.ID)
			return events(ctx, a, f, in.Paging)
		})

	jobs := func(path, what string, f func(id string) fleet.JobFilter) {
		register(
			s,
			get(
				path+"/{id}/balance-jobs",
				eventTag,
				"List the balance jobs of a "+what,
				"Newest first, each with what it came to when it was done and how that had changed since the job "+
					"before of the same mounting.",
			),
			func(ctx context.Context, a fleet.Actor, in *struct {
				ID string `path:"id" format:"uuid"`
				Paging
			}) (*pageOut[JobView], error) {
				found, next, err := s.Fleet.BalanceJobs(ctx, a, f(in.ID), in.Paging.model())
				return paged(found, next, err, jobViewOf)
			},
		)
	}

	jobs("/tires", "tire", func(id string) fleet.JobFilter { return fleet.JobFilter{TireID: models.TireID(id)} })
	jobs("/wheels", "wheel", func(id string) fleet.JobFilter { return fleet.JobFilter{WheelID: models.WheelID(id)} })

	register(s, get("/events/{id}", eventTag, "Get an event", "Also one that was corrected."),
		func(ctx context.Context, a fleet.Actor, in *ByID) (*bodyOut[Event], error) {
			e, err := s.Fleet.Event(ctx, a, models.EventID(in.ID))
			if err != nil {
				return nil, err
			}
			return bodyOrError(eventOf(e), nil)
		})
}
