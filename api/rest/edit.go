package rest

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"rimledger/api/problem"
	"rimledger/models"
	"rimledger/models/fleet"
)

// Stamp says who made and last changed a thing. Its version is also the ETag.
type Stamp struct {
	Version   int64      `json:"version,omitempty"    readOnly:"true" doc:"Which edit this is; also the ETag."`
	CreatedAt *time.Time `json:"created_at,omitempty" readOnly:"true"`
	CreatedBy string     `json:"created_by,omitempty" readOnly:"true"`
	UpdatedAt *time.Time `json:"updated_at,omitempty" readOnly:"true"`
	UpdatedBy string     `json:"updated_by,omitempty" readOnly:"true"`
}

func stampOf(s models.Stamp) Stamp {
	return Stamp{s.Version, moment(s.CreatedAt), string(s.CreatedBy), moment(s.UpdatedAt), string(s.UpdatedBy)}
}

// tagged is an answer with the ETag of the edit it shows.
type tagged[T any] struct {
	ETag string `header:"ETag" doc:"Send it as If-Match to edit."`
	Body T
}

func withTag[T any](version int64, body T) *tagged[T] {
	return &tagged[T]{strconv.Quote(strconv.FormatInt(version, 10)), body}
}

// resource is how one kind of thing is created and edited: W on the wire, M in
// the domain.
type resource[W, M any] struct {
	path, tag, name string
	wire            func(M) W
	model           func(w W, id string, version int64) M
	id              func(W) string
	version         func(M) int64
	create, edit    func(context.Context, fleet.Actor, M) (M, error)
	get             func(ctx context.Context, a fleet.Actor, id string) (M, error)
}

type bodyIn[W any] struct{ Body W }

type editIn[W any] struct {
	ID      string `path:"id" format:"uuid"`
	IfMatch string `                        header:"If-Match" doc:"The ETag of what you started from; needed."`
	Body    W
}

// register adds the operations that create and edit the thing.
func (t resource[W, M]) register(s *server) {
	register(
		s,
		post(
			t.path,
			t.tag,
			"Add a "+t.name,
			"The same id and content again gives the first answer; another content under the same id is a conflict.",
		),
		func(ctx context.Context, a fleet.Actor, in *bodyIn[W]) (*tagged[W], error) {
			m, err := t.create(ctx, a, t.model(in.Body, idOrNew(t.id(in.Body)), 0))
			if err != nil {
				return nil, err
			}
			return withTag(t.version(m), t.wire(m)), nil
		},
	)

	t.registerEdit(s)
}

func (t resource[W, M]) registerEdit(s *server) {
	register(
		s,
		put(
			t.path+"/{id}",
			t.tag,
			"Edit a "+t.name,
			"Sends the whole "+t.name+". If-Match names the edit it started from; if someone saved in the meantime "+
				"the answer is 412 with both values.",
		),
		func(ctx context.Context, a fleet.Actor, in *editIn[W]) (*tagged[W], error) {
			version, err := ifMatch(in.IfMatch)
			if err != nil {
				return nil, err
			}

			if id := t.id(in.Body); id != "" && id != in.ID {
				return nil, problem.New(
					models.Invalid,
					"the body is about another "+t.name,
					problem.Field{
						Field:  "id",
						Value:  id,
						Remedy: "must be " + in.ID + " as in the address, or left out",
					},
				)
			}

			mine := t.model(in.Body, in.ID, version)
			m, err := t.edit(ctx, a, mine)
			if errors.Is(err, models.Stale) {
				if now, found := t.get(ctx, a, in.ID); found == nil {
					return nil, stale(t.wire(mine), t.wire(now), t.version(now))
				}
			}

			if err != nil {
				return nil, err
			}
			return withTag(t.version(m), t.wire(m)), nil
		},
	)
}

// ifMatch reads the version that an edit starts from.
func ifMatch(header string) (int64, error) {
	if header == "" {
		return 0, problem.WithStatus(
			http.StatusPreconditionRequired,
			models.Invalid,
			"an edit must say what it started from",
			problem.Field{Field: "If-Match", Remedy: `send the ETag of what you read, such as "3"`},
		)
	}

	v, err := strconv.ParseInt(strings.Trim(strings.TrimPrefix(header, "W/"), `"`), 10, 64)
	if err != nil || v < 0 {
		return 0, problem.New(
			models.Invalid,
			"If-Match cannot be read",
			problem.Field{
				Field:  "If-Match",
				Value:  shortened(header),
				Remedy: `must be the ETag of what you read, such as "3"`,
			},
		)
	}

	return v, nil
}

// stale says what differs between an edit and what someone else saved in the
// meantime.
func stale(mine, now any, version int64) error {
	tag := strconv.Quote(strconv.FormatInt(version, 10))
	p := problem.StaleIfMatch("someone saved this in the meantime; current is what is there now", now)

	stamp := fieldsOf(
		Stamp{Version: 1, CreatedAt: new(time.Time), CreatedBy: "x", UpdatedAt: new(time.Time), UpdatedBy: "x"},
	)

	sent, there := fieldsOf(mine), fieldsOf(now)
	names := make([]string, 0, len(sent)+len(there))
	for name := range there {
		names = append(names, name)
	}

	for name := range sent {
		names = append(names, name)
	}

	slices.Sort(names)

	for _, name := range slices.Compact(names) {
		if _, ok := stamp[name]; ok || bytes.Equal(sent[name], there[name]) {
			continue
		}

		is := string(there[name])
		if is == "" {
			is = "not set"
		}
		p.Errors = append(p.Errors, problem.Field{Field: name, Value: shortened(string(sent[name])),
			Remedy: "is now " + shortened(is) + "; keep that, or send yours with If-Match " + tag})
	}

	if len(p.Errors) == 0 {
		p.Errors = []problem.Field{{Field: "If-Match", Remedy: "is now " + tag + "; the content is what you sent"}}
	}
	return p
}

func fieldsOf(v any) map[string]json.RawMessage {
	b, _ := json.Marshal(v)
	var m map[string]json.RawMessage
	_ = json.Unmarshal(b, &m)
	return m
}
