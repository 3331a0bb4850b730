package web

import (
	"errors"
	"net/url"
	"strconv"
	"strings"
	"time"

	"stowkeeper/inventory"
)

// Field is one field of a form with what was typed and what is wrong with it.
type Field struct {
	Name, Label, Value string
	Hint, Fix          string
	Kind               string // text, number, date, datetime-local, password, select, area
	Mode               string // inputmode: numeric, text …
	Step               string // of a number that is not whole
	Live               bool   // never kept on a phone
	Fill               string // what a browser may fill in: current-password, new-password; off if left out
	Again              string // tells it apart from the same field in another form of the page
	Required           bool
	Focus              bool   // the page begins here
	Empty              string // what choosing nothing means, as in "all stations"
	Options            []Option
	List               []string // what was typed before, to choose from or not
	Shared             string   // id of a list on the page that several fields choose from, or not
}

// Option is one choice of a field.
type Option struct {
	Value, Text string
	Chosen      bool
}

// ID is the field's id on the page.
func (f Field) ID() string {
	return "f-" + strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}, f.Name+f.Again)
}

// Need marks the field as one that must be filled in.
func (f Field) Need() Field { f.Required = true; return f }

// WithHint adds a line of help.
func (f Field) WithHint(hint string) Field { f.Hint = hint; return f }

// Form is the state of a form on a page: its key, and what is wrong with it as
// a whole.
type Form struct {
	Key      string
	Position int64  // the bag's position that the form was opened on
	Message  string // what is wrong, in a sentence
	Fixes    []Fix  // each wrong field
}

// Fix leads from the list of what is wrong to the field.
type Fix struct{ ID, Label, Text string }

// form reads values and keeps what is wrong with them by field name. A form
// that is only being opened has the values it starts with.
type form struct {
	values url.Values
	fixes  map[string]string
	order  []string // names of wrong fields in the order of being reported
	shown  []Fix    // wrong fields that the page has put on it
}

func openForm(start url.Values) *form {
	if start == nil {
		start = url.Values{}
	}
	return &form{values: start, fixes: map[string]string{}}
}

// text returns a trimmed value.
func (f *form) text(name string) string { return strings.TrimSpace(f.values.Get(name)) }

// number returns a whole number; what is none is noted as wrong. Empty is 0.
func (f *form) number(name string) int {
	s := f.text(name)
	if s == "" {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil || n > inventory.MaxQty || n < -inventory.MaxQty {
		f.wrong(name, "give a whole number")
	}
	return n
}

func (f *form) id(name string) int64 {
	n, err := strconv.ParseInt(f.text(name), 10, 64)
	if err != nil && f.text(name) != "" {
		f.wrong(name, "choose one of the list")
	}
	return n
}

// day returns a day, 0 for none; what is none is noted as wrong.
func (f *form) day(name string) inventory.Day {
	if f.text(name) == "" {
		return 0
	}
	d, err := inventory.ParseDay(f.text(name))
	if err != nil {
		f.wrong(name, "give a day that exists, as YYYY-MM-DD")
	}
	return d
}

// localTime reads a time as a browser sends it, in a station's zone. Empty is the
// zero instant.
func (f *form) localTime(name string, station inventory.Station) inventory.Instant {
	text := f.text(name)
	if text == "" {
		return 0
	}
	zone, err := inventory.Zone(station.Timezone)
	if err != nil {
		zone = time.UTC
	}
	t, err := time.ParseInLocation("2006-01-02T15:04", text, zone)
	if err != nil {
		f.wrong(name, "give day and time, for example 2027-06-14T07:30")
		return 0
	}
	return inventory.InstantOf(t)
}

func (f *form) wrong(name, fix string) {
	if f.fixes[name] == "" {
		f.fixes[name] = fix
		f.order = append(f.order, name)
	}
}

func (f *form) ok() bool { return len(f.order) == 0 }

// err is the error of a form whose values could not even be read.
func (f *form) err() error {
	if f.ok() {
		return nil
	}
	return inventory.Errorf(inventory.Invalid, "some fields need mending")
}

// take notes the wrong fields of an error, with their paths changed to names
// on this form by rename (nil for the same).
func (f *form) take(err error, rename func(path string) string) {
	var e *inventory.Error
	if !errors.As(err, &e) {
		return
	}
	for _, x := range e.Fields {
		name, fix := x.Path, x.Fix
		switch {
		case name == sentBefore:
			fix = "this form was sent once already, with other values; look at what was recorded, and send it again only if " +
				"this is something further"
		case signingNames[name] != "":
			name = signingNames[name]
		case rename != nil:
			name = rename(name)
		}
		f.wrong(name, fix)
	}
}

// fix shows a form again with what is wrong with it, by the names that rename
// gives to the paths of fields, where that can be mended there. Any other error
// is returned.
func (f *form) fix(v *visit, err error, rename func(path string) string,
	show func(*visit, *form, error) error) error {
	if !fixable(err) {
		return err
	}
	f.take(err, rename)
	return show(v, f, err)
}

// field makes a text field of the form.
func (f *form) field(name, label string) Field {
	x := Field{Name: name, Label: label, Value: f.values.Get(name), Kind: "text", Fix: f.fixes[name]}
	if x.Fix != "" {
		f.shown = append(f.shown, Fix{x.ID(), label, x.Fix})
	}
	return x
}

func (f *form) numberField(name, label string) Field {
	x := f.field(name, label)
	x.Kind, x.Mode = "number", "numeric"
	return x
}

// area makes a field for several lines.
func (f *form) area(name, label string) Field {
	x := f.field(name, label)
	x.Kind = "area"
	return x
}

func (f *form) dateField(name, label string) Field {
	x := f.field(name, label)
	x.Kind = "date"
	return x
}

// happenedField is for a time that was not just now, read by localTime.
func (f *form) happenedField(station inventory.Station) Field {
	x := f.field("happened_at", "When, if not just now").WithHint("In the time of " + station.Name + ".")
	x.Kind = "datetime-local"
	return x
}

// choice makes a field with a list to choose from.
func (f *form) choice(name, label string, options []Option) Field {
	x := f.field(name, label)
	x.Kind = "select"
	x.Options = make([]Option, len(options))
	for i, o := range options {
		o.Chosen = o.Value == x.Value
		x.Options[i] = o
	}
	return x
}

// state sums up a form for its page: fields that were named wrong but are not
// on the page are listed without a link. Call it after all fields were made.
func (f *form) state(err error, key string, position int64) Form {
	out := Form{Key: key, Position: position, Fixes: f.shown}
	var e *inventory.Error
	if errors.As(err, &e) {
		out.Message = sentence(e.Message)
	}
	for _, name := range f.order {
		if !f.isShown(name) {
			out.Fixes = append(out.Fixes, Fix{Text: sentence(f.fixes[name])})
		}
	}
	return out
}

func (f *form) isShown(name string) bool {
	id := Field{Name: name}.ID()
	for _, x := range f.shown {
		if x.ID == id {
			return true
		}
	}
	return false
}

// keyOr returns the key that the form was sent with, so that sending it again
// still counts once, or a new one.
func (f *form) keyOr(fresh func() string) string {
	if key := f.values.Get("key"); key != "" && f.fixes[sentBefore] == "" {
		return key
	}
	return fresh()
}

// sentBefore is the field that the use case names when a key was used for
// other values: the form was sent, then changed and sent again.
const sentBefore = "Idempotency-Key"

// choose sets the choice of a field that nobody has chosen in yet.
func (f Field) choose(value string) Field {
	f.Value = value
	for i := range f.Options {
		f.Options[i].Chosen = f.Options[i].Value == value
	}
	return f
}
