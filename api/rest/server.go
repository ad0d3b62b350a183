// Package rest is the HTTP API: operations under /api/v1, described by an
// OpenAPI 3.1 document that is made from the same code. It gives and takes
// JSON with snake_case names, checks the shape of what comes in, converts it to
// the domain and back, and writes every error as a problem document. What is
// allowed and believed is decided by package fleet.
//
// Units: quantities are text with a unit, as typed; beside them are numbers
// whose name ends in their unit (_mm, _kpa, _km, _g). Times are RFC 3339.
// Angles are degrees clockwise from the valve seen from outside the vehicle.
//
// # REST writes as the reader's country only in a session (2026-11-26)
//
// Context: the yard's scripts show texts of the API to a person; programs read them.
// Choice: a request with a session gets the notation of the person's country, one with a
// token gets ISO dates and decimal points (identify).
package rest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humaecho"
	"github.com/labstack/echo/v4"

	"rimledger/api/auth"
	"rimledger/api/calc"
	"rimledger/api/problem"
	"rimledger/models"
	"rimledger/models/fleet"
	"rimledger/models/notation"
)

// Prefix is where the API lives.
const Prefix = "/api/v1"

// Deps is what the API needs.
type Deps struct {
	Fleet       *fleet.Service
	Auth        *auth.Auth
	Log         *slog.Logger
	Now         func() time.Time
	Version     string
	Calculators []calc.Calculator
}

// server is the API while its operations are registered.
type server struct {
	Deps
	huma.API
}

func init() {
	// The library keeps these for the whole program.
	huma.DefaultArrayNullable = false
	huma.ValidateStrictCasing = true
	huma.NewError = refusal
	huma.NewErrorWithContext = func(ctx huma.Context, status int, msg string, errs ...error) huma.StatusError {
		p := refusal(status, msg, errs...).(*problem.Problem)
		p.Request = problem.RequestID(ctx.Context())
		return p
	}
}

// Mount adds the API, its document and its reference page to e.
func Mount(e *echo.Echo, d Deps) error {
	g := e.Group(Prefix)
	api := d.operations(e, g)
	refuseOtherMethods(g, api.OpenAPI())
	return mountDocument(g, api.OpenAPI())
}

// operations registers every operation of the API in group g of e.
func (d Deps) operations(e *echo.Echo, g *echo.Group) huma.API {
	api := humaecho.NewWithGroup(e, g, config(d.Version))
	api.UseMiddleware(d.checked)

	s := &server{Deps: d, API: api}
	for _, k := range eventKinds {
		k.register(s)
	}

	s.registerHistory()
	s.registerDepots()
	s.registerVehicles()
	s.registerOutlooks()
	s.registerSchedule()
	s.registerTires()
	s.registerFindings()

	s.registerPhotos()
	s.registerPeople()
	s.registerRules()
	s.registerSheets()
	s.registerCalculators()
	return api
}

// refuseOtherMethods answers a method that an address does not take, which
// otherwise looks like an unknown address.
func refuseOtherMethods(g *echo.Group, doc *huma.OpenAPI) {
	for path, item := range doc.Paths {
		taken := map[string]bool{
			http.MethodGet:    item.Get != nil,
			http.MethodPost:   item.Post != nil,
			http.MethodPut:    item.Put != nil,
			http.MethodPatch:  item.Patch != nil,
			http.MethodDelete: item.Delete != nil,
		}

		var allow []string
		for method, is := range taken {
			if is {
				allow = append(allow, method)
			}
		}

		slices.Sort(allow)

		route := strings.NewReplacer("{", ":", "}", "").Replace(path)
		for method, is := range taken {
			if !is {
				g.Add(method, route, func(c echo.Context) error {
					c.Response().Header().Set(echo.HeaderAllow, strings.Join(allow, ", "))
					return echo.ErrMethodNotAllowed
				})
			}
		}
	}
}

func config(version string) huma.Config {
	if version == "" {
		version = "dev"
	}
	c := huma.DefaultConfig("Rimledger", version)
	c.CreateHooks = nil // no $schema in answers
	c.OpenAPIPath, c.DocsPath, c.SchemasPath = "", "", ""

	c.RejectUnknownQueryParameters = true
	c.Info.Description = "The record of a fleet's tires and wheels: what was measured and done goes in, what to do " +
		"first comes out. " +
		"Every write names its own id, so that sending it again is harmless; what was answered is on disk. " +
		"Errors are problem documents (RFC 9457) that name each bad field, its value and what would be right. " +
		"The tool advises: the rule in force where the vehicle runs, and a licensed inspector, decide."

	c.Servers = []*huma.Server{{URL: Prefix}}
	c.Components.SecuritySchemes = map[string]*huma.SecurityScheme{
		"token":   {Type: "http", Scheme: "bearer", Description: "An API token, made under tokens and shown once."},
		"session": {Type: "apiKey", In: "cookie", Name: "rimledger", Description: "The session of a signed-in person."},
	}
	c.Security = []map[string][]string{{"token": {}}, {"session": {}}}

	return c
}

// checked looks at the shape of a request and who sends it before its operation
// does. It is no middleware of the group, under which the router would call an
// unknown method an unknown address.
func (d Deps) checked(ctx huma.Context, next func(huma.Context)) {
	c := humaecho.Unwrap(ctx)
	err := d.identify(c)
	if err == nil {
		err = checkShape(c)
	}
	if err != nil {
		problem.Write(c.Response(), c.Request(), d.Log, err)
		return
	}
	next(ctx)
}

// identify puts who sends the request into its context, or refuses a stranger.
func (d Deps) identify(c echo.Context) error {
	a, err := d.Auth.Who(c.Request())
	if err != nil {
		return err
	}
	if a.Source == models.FromPage { // what a page's script asks is shown to a person
		a.Notation = notation.OfReader(a.User.Notation, c.Request().Header.Get("Accept-Language"))
	}
	c.SetRequest(c.Request().WithContext(auth.WithActor(c.Request().Context(), a)))
	return nil
}

// register adds one operation. run is given who acts; what it returns as an
// error becomes a problem. No operation has a read timeout of its own: checkShape
// has read the body by then, under the read timeout of the server.
func register[I, O any](s *server, o huma.Operation, run func(context.Context, fleet.Actor, *I) (*O, error)) {
	if o.OperationID == "" {
		o.OperationID = huma.GenerateOperationID(o.Method, o.Path, (*O)(nil))
	}

	// The library's read timeout stays on the connection after the body is read. It would cancel a write that takes
	// longer, and every later request of the connection.
	o.BodyReadTimeout = -1

	huma.Register(s.API, o, func(ctx context.Context, in *I) (*O, error) {
		out, err := run(ctx, auth.ActorOf(ctx), in)
		if err != nil {
			p := problem.Of(ctx, err)
			problem.Log(ctx, s.Log, p)
			return nil, p
		}
		return out, nil
	})
}

func get(path, tag, summary, description string) huma.Operation {
	return huma.Operation{
		Method:      http.MethodGet,
		Path:        path,
		Tags:        []string{tag},
		Summary:     summary,
		Description: description,
	}
}

func post(path, tag, summary, description string) huma.Operation {
	return huma.Operation{
		Method:        http.MethodPost,
		Path:          path,
		Tags:          []string{tag},
		Summary:       summary,
		Description:   description,
		DefaultStatus: http.StatusCreated,
	}
}

func put(path, tag, summary, description string) huma.Operation {
	return huma.Operation{
		Method:      http.MethodPut,
		Path:        path,
		Tags:        []string{tag},
		Summary:     summary,
		Description: description,
	}
}

// secretNames are the fields whose values are never repeated.
var secretNames = []string{"password", "secret", "token", "authorization", "cookie"}

// refusal is how the library's own errors are written.
func refusal(status int, msg string, errs ...error) huma.StatusError {
	if status >= 500 {
		return problem.OfStatus(status, "")
	}

	var fields []problem.Field
	for _, err := range errs {
		if err != nil {
			fields = append(fields, field(err))
		}
	}

	if status == http.StatusUnprocessableEntity && msg == "validation failed" {
		msg = "some fields are not as they must be; errors names each"
	}
	return problem.OfStatus(status, msg, fields...)
}

// field describes one error of the library.
func field(err error) problem.Field {
	var detail *huma.ErrorDetail

	var mistyped *json.UnmarshalTypeError
	switch {
	case errors.As(err, &detail):
	case errors.As(err, &mistyped):
		return problem.Field{
			Field:  mistyped.Field,
			Value:  mistyped.Value,
			Remedy: "does not fit here; see the reference for what does",
		}
	default:
		return problem.Field{Field: "body", Remedy: "cannot be read as JSON of the kind that the reference describes"}
	}

	f := problem.Field{Field: strings.TrimPrefix(detail.Location, "body."), Remedy: detail.Message}
	if detail.Location == "body" || detail.Value == nil {
		return f // the value would be the whole body
	}

	for _, name := range secretNames {
		if strings.Contains(strings.ToLower(detail.Location), name) {
			return f
		}
	}

	switch v := detail.Value.(type) {
	case map[string]any, []any:
	case string:
		f.Value = shortened(v)
	default:
		f.Value = shortened(fmt.Sprint(v))
	}

	return f
}

func shortened(s string) string {
	const readable = 80
	if r := []rune(s); len(r) > readable {
		return string(r[:readable]) + "..."
	}
	return s
}

// maxBody is the most JSON that is taken at once, in bytes.
const maxBody = 1 << 20

// ByID names one thing.
type ByID struct {
	ID string `path:"id" format:"uuid"`
}

// Paging asks for part of a list.
type Paging struct {
	After string `query:"after" maxLength:"1000" doc:"The next of the page before."`
	Limit int    `query:"limit"                                                     minimum:"1" maximum:"500" default:"100"`
}

func (p Paging) model() models.Page { return models.Page{After: p.After, Limit: p.Limit} }

// Page is part of a list.
type Page[T any] struct {
	Items []T    `json:"items"`
	Next  string `json:"next,omitempty" doc:"Send it as after for the next page; left out on the last one."`
}

type pageOut[T any] struct{ Body Page[T] }

func paged[M, W any](list []M, next string, err error, wire func(M) W) (*pageOut[W], error) {
	if err != nil {
		return nil, err
	}
	return &pageOut[W]{Page[W]{items(list, wire), next}}, nil
}

// bodyOut is an answer that is one thing.
type bodyOut[T any] struct{ Body T }

func bodyOrError[T any](v T, err error) (*bodyOut[T], error) {
	if err != nil {
		return nil, err
	}
	return &bodyOut[T]{v}, nil
}

// textFilter is text to look for; both spellings of the trade's main word find
// the same.
type textFilter string

func (t textFilter) model() string {
	low := strings.ToLower(string(t))
	return strings.ReplaceAll(low, "tyre", "tire")
}
