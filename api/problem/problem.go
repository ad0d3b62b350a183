// Package problem turns every error into the one shape in which the API says
// what went wrong: a problem document (RFC 9457) that names each bad field, the
// value that was given and what would be right. The text of an error that is a
// fault of the server stays in the log; the answer has the number of the request
// by which it is found there.
package problem

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"rimledger/models"
)

// ContentType is the media type of a problem document.
const ContentType = "application/problem+json"

// Problem is a problem document. It is itself an error, so that a handler can
// return it.
type Problem struct {
	Type     string  `json:"type"              doc:"Always about:blank: kind says what sort of problem it is."                                                                                   example:"about:blank"`
	Title    string  `json:"title"             doc:"The status in words."                                                                                                                        example:"Unprocessable Entity"`
	Status   int     `json:"status"            doc:"The HTTP status."                                                                                                                            example:"422"`
	Kind     string  `json:"kind"              doc:"The sort of problem: invalid, not found, conflict, stale, held, unauthenticated, forbidden, too large, rate limited, unavailable, internal." example:"held"`
	Detail   string  `json:"detail"            doc:"What went wrong, for the person who caused it."                                                                                              example:"some values need a second look"`
	Request  string  `json:"request,omitempty" doc:"Number of this request, also in the header X-Request-Id; quote it to whoever runs the server."`
	Recorded string  `json:"recorded,omitempty" doc:"On a held inspection: the entry by which what takes a tire off the road was recorded at once, without the held values."`
	Errors   []Field `json:"errors,omitempty"  doc:"Every bad field at once."                                                                                                                                                             nullable:"false"`
	Current  any     `json:"current,omitempty" doc:"On a stale edit: what is there now."`
	header   http.Header
	cause    error
}

// Field is one bad field of a problem.
type Field struct {
	Field  string `json:"field"           doc:"Where it is in what was sent."                                          example:"readings[2].depths[0][1]"`
	Value  string `json:"value,omitempty" doc:"What was given, shortened; left out for secrets."                       example:"7/32"`
	Remedy string `json:"remedy"          doc:"What is wrong and what would be right."                                 example:"deeper than the 4/32 in read on 2 March; measure again, or confirm"`
	Code   string `json:"code,omitempty"  doc:"On a held value: put this code into confirmed and send the same again." example:"depth_rise:1L"`
}

// statuses give each kind of error its HTTP status, for the API and for the pages.
// RFC 9110, section 15, says what each means. A stale edit is 409: a form names the
// version it started from in its body. Who names it in If-Match is answered with 412
// (section 13.1.1), by StaleIfMatch. 422 keeps a value that is read but not accepted
// apart from 400.
var statuses = map[models.Kind]int{
	models.Invalid:         http.StatusUnprocessableEntity,
	models.Held:            http.StatusUnprocessableEntity,
	models.NotFound:        http.StatusNotFound,
	models.Conflict:        http.StatusConflict,
	models.Stale:           http.StatusConflict,
	models.Unauthenticated: http.StatusUnauthorized,
	models.Forbidden:       http.StatusForbidden,
	models.TooLarge:        http.StatusRequestEntityTooLarge,
	models.RateLimited:     http.StatusTooManyRequests,
	models.Unavailable:     http.StatusServiceUnavailable,
	models.Internal:        http.StatusInternalServerError,
}

// Status returns the HTTP status of a kind of error, 500 for a kind that is not known.
func Status(kind models.Kind) int {
	if status, known := statuses[kind]; known {
		return status
	}
	return http.StatusInternalServerError
}

// kindOfStatus gives the kind of a status that a library chose.
func kindOfStatus(status int) models.Kind {
	// Held and Stale share their status with a more general kind.
	for kind, s := range statuses {
		if s == status && kind != models.Held && kind != models.Stale {
			return kind
		}
	}
	if status >= 500 {
		return models.Internal
	}
	return models.Invalid
}

// fixed are the only texts that are sent for faults of the server, except those
// that say how long to wait, which are written for the person.
var fixed = map[models.Kind]string{
	models.Internal: "something broke on our side; nothing was half done. Try again, and if it happens again " +
		"quote the number of this request to whoever runs the server",
	models.Unavailable: "the record cannot be reached just now; nothing was half done. Try the same again in a minute",
}

// New returns a problem of a kind with its usual status.
func New(kind models.Kind, detail string, fields ...Field) *Problem {
	return WithStatus(Status(kind), kind, detail, fields...)
}

// StaleIfMatch returns the problem of an edit whose If-Match no longer matches;
// current is what is there now.
func StaleIfMatch(detail string, current any) *Problem {
	p := WithStatus(http.StatusPreconditionFailed, models.Stale, detail)
	p.Current = current
	return p
}

// WithStatus returns a problem of a kind with a status of its own.
func WithStatus(status int, kind models.Kind, detail string, fields ...Field) *Problem {
	p := &Problem{
		Type:   "about:blank",
		Title:  http.StatusText(status),
		Status: status,
		Kind:   string(kind),
		Detail: detail,
		Errors: fields,
	}

	if text, ours := fixed[kind]; ours {
		p.Detail, p.Errors = text, nil
	}

	switch kind {
	case models.Unauthenticated:
		p.header = http.Header{"Www-Authenticate": {`Bearer realm="rimledger"`}}
	case models.RateLimited, models.Unavailable:
		p.header = http.Header{"Retry-After": {RetryAfter(kind)}}
	}

	return p
}

// RetryAfter returns the header of that name for an error of kind RateLimited or
// Unavailable: the seconds to wait that it names, or 60 if it names none; "" for
// any other error.
func RetryAfter(err error) string {
	wait := models.WaitOf(err)
	if wait == 0 {
		wait = time.Minute
	}

	switch models.KindOf(err) {
	case models.RateLimited, models.Unavailable:
		return strconv.Itoa(int(wait.Seconds()))
	}
	return ""
}

// Of returns err as a problem of the request of ctx.
func Of(ctx context.Context, err error) *Problem {
	p := of(err)
	p.Request = RequestID(ctx)
	return p
}

func of(err error) *Problem {
	var (
		done    *Problem
		tooBig  *http.MaxBytesError
		routing *echo.HTTPError
	)

	switch {
	case errors.As(err, &done):
		return done
	case errors.As(err, &tooBig):
		return New(
			models.TooLarge,
			fmt.Sprintf(
				"the body has more than the %d bytes that are taken at once; send less at a time",
				tooBig.Limit,
			),
		)
	case errors.As(err, &routing):
		return ofRouting(routing)
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		p := New(models.Unavailable, "")
		p.cause = err
		return p
	}

	kind := models.KindOf(err)
	p := New(kind, "")
	p.cause = err
	if after := RetryAfter(err); after != "" {
		p.header.Set("Retry-After", after)
	}
	if _, ours := fixed[kind]; ours && models.WaitOf(err) == 0 {
		return p
	}

	p.Detail, p.Errors = texts(err)
	var held *models.Error
	if errors.As(err, &held) {
		p.Recorded = string(held.Recorded)
	}
	return p
}

// texts collects what the domain says in err, which may be several joined errors.
func texts(err error) (detail string, fields []Field) {
	var walk func(error)
	walk = func(err error) {
		if e, ok := err.(*models.Error); ok {
			if detail == "" {
				detail = e.Msg
			}
			for _, f := range e.Fields {
				fields = append(fields, Field{f.Name, f.Value, f.Remedy, f.Code})
			}
			return
		}

		switch u := err.(type) {
		case interface{ Unwrap() error }:
			walk(u.Unwrap())
		case interface{ Unwrap() []error }:
			for _, e := range u.Unwrap() {
				walk(e)
			}
		}
	}

	walk(err)
	if detail == "" {
		detail = models.KindOf(err).Error()
	}

	return detail, fields
}

// ofRouting describes a refusal of the router: there is no such path or method.
func ofRouting(e *echo.HTTPError) *Problem {
	var p *Problem
	switch e.Code {
	case http.StatusNotFound:
		p = New(models.NotFound, "there is nothing at this address; /api/v1/docs lists what there is")
	case http.StatusMethodNotAllowed:
		p = WithStatus(
			e.Code,
			models.Invalid,
			"this address does not take this method; /api/v1/docs lists what it takes",
		)
	default:
		p = WithStatus(e.Code, kindOfStatus(e.Code), http.StatusText(e.Code))
	}

	p.cause = e
	return p
}

// OfStatus returns a problem for a status that a library chose.
func OfStatus(status int, detail string, fields ...Field) *Problem {
	return WithStatus(status, kindOfStatus(status), detail, fields...)
}

// Error returns the detail.
func (p *Problem) Error() string { return p.Detail }

// Unwrap returns the kind and the cause, which is for the log only.
func (p *Problem) Unwrap() []error {
	if p.cause == nil {
		return []error{models.Kind(p.Kind)}
	}
	return []error{models.Kind(p.Kind), p.cause}
}

// GetStatus returns the HTTP status.
func (p *Problem) GetStatus() int { return p.Status }

// GetHeaders returns the headers that go with the problem.
func (p *Problem) GetHeaders() http.Header { return p.header }

// ContentType returns the media type of a problem document for any JSON.
func (p *Problem) ContentType(string) string { return ContentType }

// Write answers a request with err and logs the cause if it is a fault of the server.
func Write(w http.ResponseWriter, r *http.Request, log *slog.Logger, err error) {
	p := Of(r.Context(), err)
	Log(r.Context(), log, p)
	b, err := json.Marshal(p)
	if err != nil { // Current cannot be written
		p.Current = nil
		b, _ = json.Marshal(p)
	}

	h := w.Header()
	for name, values := range p.header {
		h[name] = values
	}

	h.Set("Content-Type", ContentType)
	w.WriteHeader(p.Status)
	if r.Method != http.MethodHead {
		_, _ = w.Write(append(b, '\n'))
	}
}

// Log writes the cause of a problem that is a fault of the server. That a client went away
// before it was answered is none.
func Log(ctx context.Context, log *slog.Logger, p *Problem) {
	if p.Status < 500 || log == nil {
		return
	}

	level := slog.LevelError
	if errors.Is(ctx.Err(), context.Canceled) {
		level = slog.LevelInfo
	}
	log.Log(ctx, level, "request failed", "request", p.Request, "status", p.Status, "cause", p.cause)
}

// requestKey is where a context keeps the number of its request.
type requestKey struct{}

// WithRequestID returns ctx with the number of its request.
func WithRequestID(ctx context.Context, id string) context.Context {
	return context.WithValue(ctx, requestKey{}, id)
}

// RequestID returns the number of the request of ctx, or "".
func RequestID(ctx context.Context) string {
	id, _ := ctx.Value(requestKey{}).(string)
	return id
}
