package api

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"regexp"
	"runtime/debug"
	"strings"
	"sync"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"stowkeeper/inventory"
)

const problemType = "application/problem+json"

// Problem is an error as the API answers it (RFC 9457). It never repeats a
// value that was sent, and tells nothing of what went wrong inside.
type Problem struct {
	Type   string              `json:"type" doc:"Always about:blank: status and kind say what sort it is"`
	Title  string              `json:"title" doc:"The status in words"`
	Status int                 `json:"status"`
	Kind   inventory.ErrorKind `json:"kind" enum:"invalid,not_found,conflict,stale,forbidden,signed_out,too_many,unavailable,internal" doc:"What sort of thing went wrong, as far as a caller can act on it"`
	Detail string              `json:"detail,omitempty" doc:"What went wrong, for people"`
	Errors []FieldProblem      `json:"errors,omitempty" doc:"One entry for each wrong field"`
}

// FieldProblem is one wrong field and what to do about it.
type FieldProblem struct {
	Location string `json:"location" doc:"Path of the field, such as body.lines[0].qty or query.as_of"`
	Message  string `json:"message" doc:"What to do about it"`
}

func (p *Problem) Error() string             { return p.Detail }
func (p *Problem) GetStatus() int            { return p.Status }
func (p *Problem) ContentType(string) string { return problemType }

// GetHeaders tells a caller who is not known how to sign in.
func (p *Problem) GetHeaders() http.Header {
	if p.Status != http.StatusUnauthorized {
		return nil
	}
	return http.Header{"Www-Authenticate": {`Bearer realm="stowkeeper"`}}
}

// statuses is the one table from kinds of error to HTTP.
var statuses = map[inventory.ErrorKind]int{
	inventory.Invalid:     http.StatusUnprocessableEntity,
	inventory.NotFound:    http.StatusNotFound,
	inventory.Conflict:    http.StatusConflict,
	inventory.Stale:       http.StatusConflict,
	inventory.Forbidden:   http.StatusForbidden,
	inventory.SignedOut:   http.StatusUnauthorized,
	inventory.TooMany:     http.StatusTooManyRequests,
	inventory.Unavailable: http.StatusServiceUnavailable,
	inventory.Internal:    http.StatusInternalServerError,
}

// kindOfStatus gives the kind of a problem that did not begin as one of ours.
func kindOfStatus(status int) inventory.ErrorKind {
	switch {
	case status == http.StatusNotFound:
		return inventory.NotFound
	case status == http.StatusServiceUnavailable:
		return inventory.Unavailable
	case status >= 500:
		return inventory.Internal
	}
	return inventory.Invalid
}

func newProblem(status int, detail string) *Problem {
	p := &Problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Kind: kindOfStatus(status)}
	if status < 500 {
		p.Detail = detail
	}
	return p
}

// problem turns an error of a use case into its answer. What is internal goes
// to the log and nowhere else.
func (s *server) problem(ctx context.Context, op huma.Operation, err error) *Problem {
	var p *Problem
	if errors.As(err, &p) {
		return p
	}
	kind := inventory.KindOf(err)
	status, known := statuses[kind]
	if !known {
		kind, status = inventory.Internal, http.StatusInternalServerError
	}
	if status >= 500 && ctx.Err() == nil {
		s.opt.Logger.ErrorContext(ctx, "request failed", "operation", op.OperationID, "kind", kind, "error", err.Error())
	}
	p = newProblem(status, "")
	p.Kind = kind
	var e *inventory.Error
	if status >= 500 && kind != inventory.Unavailable || !errors.As(err, &e) {
		return p
	}
	p.Detail = e.Message
	for _, f := range e.Fields {
		p.Errors = append(p.Errors, FieldProblem{location(f.Path), f.Fix})
	}
	return p
}

// location turns the path of a wrong field into where it stands in the request.
func location(path string) string {
	in, name, found := strings.Cut(path, ":")
	if found {
		return in + "." + name
	}
	if path == "Idempotency-Key" {
		return "header." + path
	}
	return "body." + path
}

// invalid makes the error of one wrong query or header field.
func invalid(in, name, fix string) error { return inventory.Invalidf(in+":"+name, "%s", fix) }

// useProblems makes huma answer its own errors as ours. huma keeps these hooks
// in package variables.
var useProblems = sync.OnceFunc(func() {
	huma.DefaultArrayNullable = false
	huma.NewError = fromHuma
	huma.NewErrorWithContext = func(_ huma.Context, status int, detail string, errs ...error) huma.StatusError {
		return fromHuma(status, detail, errs...)
	}
})

// details are our words for what huma finds wrong with a request as a whole.
var details = map[int]string{
	http.StatusBadRequest:            "the body cannot be read",
	http.StatusRequestTimeout:        "the body took too long to arrive",
	http.StatusRequestEntityTooLarge: "send at most 1 MiB",
	http.StatusUnsupportedMediaType:  "send application/json",
	http.StatusUnprocessableEntity:   "some fields need mending",
}

// fromHuma turns an error that huma found into a problem. Its values are left
// out: huma puts the offending value there, and for a missing or unknown
// member the whole body. So are errors that are not about a field, since
// their text may quote a header.
func fromHuma(status int, detail string, errs ...error) huma.StatusError {
	if ours, ok := details[status]; ok {
		detail = ours
	}
	p := newProblem(status, detail)
	if status >= 500 || status == http.StatusUnsupportedMediaType {
		return p
	}
	for _, err := range errs {
		d, ok := err.(huma.ErrorDetailer)
		if !ok {
			continue
		}
		e := d.ErrorDetail()
		if at, message, found := strings.Cut(e.Message, atPath); found && e.Location == "body" && strings.HasPrefix(at, "body") {
			return fieldProblem(safeLocation(at), message)
		}
		p.Errors = append(p.Errors, FieldProblem{safeLocation(e.Location), e.Message})
	}
	return p
}

func fieldProblem(location, message string) *Problem {
	p := newProblem(http.StatusUnprocessableEntity, details[http.StatusUnprocessableEntity])
	p.Errors = []FieldProblem{{location, message}}
	return p
}

// plainLocation is a path that can be answered: the name of an unknown member
// or parameter is the caller's own text.
var plainLocation = regexp.MustCompile(`^[A-Za-z0-9_.\[\]-]{1,80}$`)

func safeLocation(path string) string {
	if plainLocation.MatchString(path) {
		return path
	}
	for _, in := range []string{"body", "query", "path", "header"} {
		if strings.HasPrefix(path, in) {
			return in
		}
	}
	return "request"
}

// NoRoute answers an unknown path under /api/ and leaves all others alone.
func NoRoute(c *gin.Context) {
	under(c, newProblem(http.StatusNotFound, "there is nothing at this path"))
}

// NoMethod answers a method that a path under /api/ does not know, and leaves
// all other paths alone.
func NoMethod(c *gin.Context) {
	under(c, newProblem(http.StatusMethodNotAllowed, "this path does not know the method"))
}

func under(c *gin.Context, p *Problem) {
	if strings.HasPrefix(c.Request.URL.Path, "/api/") {
		writeProblem(c, p)
	}
}

func writeProblem(c *gin.Context, p *Problem) {
	b, err := json.Marshal(p)
	if err != nil { // a problem holds only texts and numbers
		c.AbortWithStatus(http.StatusInternalServerError)
		return
	}
	c.Data(p.Status, problemType, b)
	c.Abort()
}

// rescue turns a panic of a handler into a problem document.
func (s *server) rescue(c *gin.Context) {
	defer func() {
		v := recover()
		if v == nil {
			return
		}
		if v == http.ErrAbortHandler { //nolint:errorlint // recovered values are compared as they are
			panic(v)
		}
		s.opt.Logger.ErrorContext(c.Request.Context(), "handler panicked", "path", c.FullPath(), "panic", v, "stack", string(debug.Stack()))
		if c.Writer.Written() {
			c.Abort()
			return
		}
		writeProblem(c, newProblem(http.StatusInternalServerError, ""))
	}()
	c.Next()
}
