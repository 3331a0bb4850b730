package labels

import (
	"fmt"
	"strings"

	"stowkeeper/inventory/message"
)

// Label is one printed label: [Bag], [Card], [Shelf] or [Device].
type Label interface {
	// Kind names the kind in words, as in "bag label".
	Kind() string
	// check reports the first field that cannot be printed, as a *FieldError.
	check() error
	// draw fits the label into the composer's box.
	draw(c *composer)
}

// Size is a width and a height in millimetres.
type Size struct{ W, H float64 }

// FieldError says which field of which label is wrong and how to put it right. It never holds the value itself.
type FieldError struct {
	Label int             // position in the list of labels, from 1; 0 when there is only one
	Field string          // Go name of the label's field, or the option as in offset_x
	Fix   message.Message // what to do, in words
}

func (e *FieldError) Error() string {
	return fmt.Sprintf("%s%s: %s", which(e.Label), e.Field, e.Fix)
}

// RefusedError says that a label cannot be printed so that it can be read on
// the size asked for, why, and what comes nearest.
type RefusedError struct {
	Label   int             // position in the list of labels, from 1; 0 when there is only one
	Reason  message.Message // what does not fit, with the measures
	Nearest message.Message // the nearest combination that can be read; may be empty
	Sheet   string          // name of the sheet that comes nearest; empty where none can
}

func (e *RefusedError) Error() string {
	return which(e.Label) + message.Join("; ", e.Reason, e.Nearest).String()
}

func which(label int) string {
	if label == 0 {
		return ""
	}
	return fmt.Sprintf("label %d: ", label)
}

// Warning tells what was printed otherwise than given.
type Warning struct {
	Label int             // position in the list of labels, from 1
	Field string          // Go name of the field
	Text  message.Message // what happened, in words
}

func (w Warning) String() string {
	return fmt.Sprintf("%s%s: %s", which(w.Label), w.Field, w.Text)
}

// required is the check that every kind makes of its code and address.
func required(code, address string) error {
	switch {
	case strings.TrimSpace(code) == "":
		return &FieldError{Field: "Code", Fix: message.M("fill this in")}
	case strings.TrimSpace(address) == "":
		return &FieldError{Field: "Address", Fix: message.M("enter the web address")}
	}
	return nil
}
