package api

import (
	"context"
	"errors"
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humagin"

	"stowkeeper/inventory"
)

const problemType = "application/problem+json"

// Problem is an error as the API answers it (RFC 9457). It never repeats a
// value that was sent, and tells nothing of what went wrong inside.
type Problem struct {
	Type   string              `json:"type" doc:"Always about:blank: status and kind tell"`
	Title  string              `json:"title" doc:"The status in words"`
	Status int                 `json:"status"`
	Kind   inventory.ErrorKind `json:"kind" doc:"The kind of error, as far as a caller can act on it"`
	Detail string              `json:"detail,omitempty" doc:"What went wrong, for people"`
	Errors []FieldProblem      `json:"errors,omitempty" doc:"One entry for each wrong field"`

	RequestID string `json:"request_id,omitempty" doc:"As in the header X-Request-Id and in the service's log"`
}

// FieldProblem is one wrong field and what to do about it.
type FieldProblem struct {
	Location string `json:"location" doc:"Path of the field, such as body.lines[0].qty or query.as_of"`
	Message  string `json:"message" doc:"What to do about it"`
}

func (p *Problem) Error() string             { return p.Detail }
func (p *Problem) GetStatus() int            { return p.Status }
func (p *Problem) ContentType(string) string { return problemType }

// GetHeaders tells a caller who is not known how to sign in, and one who came at a bad moment when to come again.
func (p *Problem) GetHeaders() http.Header {
	switch p.Status {
	case http.StatusUnauthorized:
		return http.Header{"Www-Authenticate": {`Bearer realm="stowkeeper"`}}
	case http.StatusServiceUnavailable:
		return http.Header{"Retry-After": {"5"}}
	}
	return nil
}

// identify puts the id of the request, which the program has set a header to, into a problem.
func identify(ctx huma.Context, _ string, v any) (any, error) {
	if p, ok := v.(*Problem); ok {
		p.RequestID = humagin.Unwrap(ctx).Writer.Header().Get("X-Request-Id")
	}
	return v, nil
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
	inventory.InDoubt:     http.StatusServiceUnavailable,
	inventory.StorageFull: http.StatusInsufficientStorage,
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

// problem turns an error of a use case into its answer. What is internal goes to the log and nowhere else.
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
	s.noteRefusal(ctx, op, kind)
	p = newProblem(status, "")
	p.Kind = kind
	var e *inventory.Error
	if kind == inventory.Internal || !errors.As(err, &e) {
		return p
	}
	p.Detail = e.Message.String() + nearest(e.Near)
	if kind == inventory.InDoubt {
		p.Detail += ": repeat with the same Idempotency-Key"
	}
	for _, f := range e.Fields {
		p.Errors = append(p.Errors, FieldProblem{location(f.Path), f.Fix.String()})
	}
	return p
}

// noteRefusal logs that somebody tried what they may not, or came with a token or session that is worth nothing, with
// who and from where (OWASP ASVS 5.0.0, 16.3.1 and 16.3.2): never what they sent.
func (s *server) noteRefusal(ctx context.Context, op huma.Operation, kind inventory.ErrorKind) {
	switch kind {
	case inventory.Forbidden, inventory.SignedOut, inventory.TooMany:
		c := callerOf(ctx)
		s.opt.Logger.WarnContext(ctx, "refused", "cause", kind, "operation", op.OperationID, "by", c.actor.Name, "from",
			c.actor.From, "address", c.address)
	}
}

// nearest names what there is with nearly the code that was asked for.
func nearest(near []inventory.Suggestion) string {
	var found []string
	for _, n := range near {
		found = append(found, n.Code)
	}
	if len(found) == 0 {
		return ""
	}
	return "; the nearest: " + strings.Join(found, ", ")
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
func invalid(in, name, fix string) error { return inventory.InvalidField(in+":"+name, "{1}", fix) }
