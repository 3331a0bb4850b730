package inventory

import (
	"cmp"
	"errors"
	"slices"
	"strings"

	"stowkeeper/inventory/message"
)

// ErrorKind says what sort of thing went wrong, as far as a caller can act on
// it. The list is closed: each face of the program maps every kind.
type ErrorKind string

// The kinds of error. The zero kind is that of nil.
const (
	Invalid     ErrorKind = "invalid"      // a field is wrong; Fields names it and the fix
	NotFound    ErrorKind = "not_found"    // no such code or id
	Conflict    ErrorKind = "conflict"     // a rule or the stock forbids it now
	Stale       ErrorKind = "stale"        // it changed since the caller looked
	Forbidden   ErrorKind = "forbidden"    // not with this role, or not at this station
	SignedOut   ErrorKind = "signed_out"   // not known who is asking
	TooMany     ErrorKind = "too_many"     // too many tries; wait
	Unavailable ErrorKind = "unavailable"  // the database cannot be reached or written just now; try again soon
	InDoubt     ErrorKind = "in_doubt"     // the database went away at the end: done or not; repeat with the same key
	StorageFull ErrorKind = "storage_full" // the database has no room left; somebody must make some
	Internal    ErrorKind = "internal"     // ours; the text stays in the log
)

// ErrorKinds lists every kind, for tests that walk them.
var ErrorKinds = []ErrorKind{Invalid, NotFound, Conflict, Stale, Forbidden, SignedOut, TooMany, Unavailable,
	InDoubt, StorageFull, Internal}

// Field is one wrong field: its path in the request and what to do about it. It never repeats the value.
type Field struct {
	Path string          `json:"path"`
	Fix  message.Message `json:"fix"`
}

// Error is the one error type that the use cases return on purpose. Anything else that comes out of them is internal.
type Error struct {
	Kind    ErrorKind
	Message message.Message // for people; empty for internal errors
	Fields  []Field
	Near    []Suggestion // for NotFound: what there is with nearly that code
	Cause   error        // for the log only
}

func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(string(e.Kind))
	if e.Message != nil {
		b.WriteString(": " + e.Message.String())
	}
	for _, f := range e.Fields {
		b.WriteString("; " + f.Path + ": " + f.Fix.String())
	}
	if e.Cause != nil {
		b.WriteString(": " + e.Cause.Error())
	}
	return b.String()
}

func (e *Error) Unwrap() error { return e.Cause }

// KindOf returns the kind of err: the zero kind for nil, and Internal for whatever is not an *Error or has no kind.
func KindOf(err error) ErrorKind {
	var e *Error
	switch {
	case err == nil:
		return ""
	case errors.As(err, &e):
		return cmp.Or(e.Kind, Internal)
	}
	return Internal
}

// Refuse makes an error of a kind with a message for people, as message.M makes it.
func Refuse(kind ErrorKind, text string, args ...any) error {
	return &Error{Kind: kind, Message: message.M(text, args...)}
}

// InvalidField makes an Invalid error about one field.
func InvalidField(path, fix string, args ...any) error {
	return Problems{{path, message.M(fix, args...)}}.Err()
}

// Problems gathers the wrong fields of one request, so that a person sees all of them at once.
type Problems []Field

// Add adds a wrong field and what to do about it, a text as message.M takes it.
func (p *Problems) Add(path, fix string, args ...any) {
	*p = append(*p, Field{path, message.M(fix, args...)})
}

func (p *Problems) When(bad bool, path, fix string, args ...any) {
	if bad {
		p.Add(path, fix, args...)
	}
}

// Take adds the fields of an Invalid error under a path.
func (p *Problems) Take(path string, err error) {
	var e *Error
	switch {
	case err == nil:
	case errors.As(err, &e) && len(e.Fields) > 0:
		for _, f := range e.Fields {
			*p = append(*p, Field{JoinPath(path, f.Path), f.Fix})
		}
	case e != nil && e.Message != nil:
		*p = append(*p, Field{path, e.Message})
	default:
		*p = append(*p, Field{path, message.Plain(err.Error())})
	}
}

func JoinPath(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + "." + b
}

// MergeErrors makes one error of several, so that a person sees all that is wrong at once: the fields of those about
// fields, and a word on the whole from others. Of two about one field the first stays. The first that whoever asked
// can do nothing about is returned alone.
func MergeErrors(errs ...error) error {
	var ps Problems
	var only error
	n := 0
	for _, err := range errs {
		var e *Error
		switch {
		case err == nil:
			continue
		case !errors.As(err, &e) || !KindOf(err).Fixable():
			return err
		case len(e.Fields) == 0:
			ps = append(ps, Field{"", e.Message})
		}
		for _, f := range FieldsOf(err) {
			if f.Path == "" || !slices.ContainsFunc(ps, func(x Field) bool { return x.Path == f.Path }) {
				ps = append(ps, f)
			}
		}
		only = err
		n++
	}
	if n == 1 {
		return only
	}
	return ps.Err()
}

// Fixable tells whether whoever asked can do something about it. Of nil there is nothing to fix.
func (k ErrorKind) Fixable() bool {
	return k != "" && k != Internal && k != Unavailable && k != InDoubt && k != SignedOut
}

// FieldsOf returns the wrong fields that an error names.
func FieldsOf(err error) []Field {
	var e *Error
	if errors.As(err, &e) {
		return e.Fields
	}
	return nil
}

// Err is an Invalid error about the fields, nil where there are none.
func (p Problems) Err() error {
	if len(p) == 0 {
		return nil
	}
	return &Error{Kind: Invalid, Message: message.M("check the fields marked below"), Fields: p}
}

// MessageOf returns the words for people of an error made here.
func MessageOf(err error) message.Message {
	var e *Error
	if errors.As(err, &e) {
		return e.Message
	}
	return nil
}

// AsField turns a NotFound about something that a request names into a wrong
// field of that request, with a text that says so. A nil error stays nil.
func AsField(err error, path, text string) error {
	if KindOf(err) == NotFound {
		return InvalidField(path, text)
	}
	return err
}

// Suggestion is something that exists and whose code comes near to one that does not.
type Suggestion struct {
	Code string `json:"code"`
	Name string `json:"name"`
}
