package api

import (
	"net/http"
	"regexp"
	"strings"
	"sync"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/validation"
)

// useProblems makes huma answer its own errors as ours. huma keeps these hooks in package variables.
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
	http.StatusUnprocessableEntity:   "check the fields marked below",
}

// bodyBroken is what huma says, with a 500, where a body ends before its time: the sender's doing.
const bodyBroken = "cannot read request body"

// fromHuma turns an error that huma found into a problem. Its values are left out: huma puts the offending value
// there, and for a missing or unknown member the whole body. So are errors that are not about a field, since their
// text may quote a header.
func fromHuma(status int, detail string, errs ...error) huma.StatusError {
	if detail == bodyBroken {
		status = http.StatusBadRequest
	}
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
		if at, message, found := strings.Cut(e.Message, atPath); found && e.Location == "body" && strings.HasPrefix(at,
			"body") {
			return fieldProblem(safeLocation(at), message)
		}
		p.Errors = append(p.Errors, inOurWords(e))
	}
	return p
}

// inOurWords says of one field what huma found. For a missing member huma
// names the object that lacks it; the path of the member itself is of more use.
func inOurWords(e *huma.ErrorDetail) FieldProblem {
	before, after, _ := strings.Cut(validation.MsgExpectedRequiredProperty, "%s")
	name, isMissing := strings.CutPrefix(e.Message, before)
	name, atEnd := strings.CutSuffix(name, after)
	switch {
	case isMissing && atEnd:
		return FieldProblem{safeLocation(e.Location + "." + name), "give this field; it is required"}
	case e.Message == validation.MsgUnexpectedProperty:
		return FieldProblem{safeLocation(e.Location), "unknown: leave it out"}
	}
	return FieldProblem{safeLocation(e.Location), e.Message}
}

func fieldProblem(location, message string) *Problem {
	p := newProblem(http.StatusUnprocessableEntity, details[http.StatusUnprocessableEntity])
	p.Errors = []FieldProblem{{location, message}}
	return p
}

// plainLocation is a path that can be answered: the name of an unknown member or parameter is the caller's own text.
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
