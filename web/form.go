package web

import (
	"errors"
	"net/url"
	"strconv"
	"strings"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// Field is one field of a form with what was typed and what is wrong with it.
type Field struct {
	Name      string
	Label     message.Message
	Value     string
	Hint, Fix message.Message
	Kind      string // text, number, date, datetime-local, password, select, area
	Mode      string // inputmode: numeric, text …
	Step      string // of a number that is not whole
	Live      bool   // never kept on a phone
	Fill      string // what a browser may fill in: current-password, new-password; off if left out
	Again     string // tells it apart from the same field in another form of the page
	Required  bool
	Focus     bool            // the page begins here
	Empty     message.Message // what choosing nothing means, as in "all stations"
	Options   []Option
	List      []string // what was typed before, to choose from or not
	Shared    string   // id of a list on the page that several fields choose from, or not
}

// Option is one choice of a field.
type Option struct {
	Value  string
	Text   message.Message
	Chosen bool
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
func (f Field) WithHint(hint message.Message) Field { f.Hint = hint; return f }

// Form is the state of a form on a page: its key, and what is wrong with it as a whole.
type Form struct {
	Key      string
	Position int64           // the bag's position that the form was opened on
	Message  message.Message // what is wrong, in a sentence
	Fixes    []Fix           // each wrong field
}

// Fix leads from the list of what is wrong to the field.
type Fix struct {
	ID          string
	Label, Text message.Message
}

// form reads values and keeps what is wrong with them by field name. A form
// that is only being opened has the values it starts with.
type form struct {
	values url.Values
	fixes  map[string]message.Message
	order  []string                 // names of wrong fields in the order of being reported
	shown  []Fix                    // wrong fields that the page has put on it
	names  func(path string) string // of the fields of an error, where they have others here
	proves bool                     // the visitor's own secret is tried
	said   message.Message          // what became of a button that records nothing
}

func openForm(start url.Values) *form {
	if start == nil {
		start = url.Values{}
	}
	return &form{values: start, fixes: map[string]message.Message{}}
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
		f.wrong(name, message.M("enter a whole number"))
	}
	return n
}

func (f *form) id(name string) int64 {
	n, err := strconv.ParseInt(f.text(name), 10, 64)
	if err != nil && f.text(name) != "" {
		f.wrong(name, message.M("choose from the list"))
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
		f.wrong(name, message.M("enter a date like 2027-06-14"))
	}
	return d
}

// localTime reads a time as a browser sends it, in a station's zone. Empty is the zero instant.
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
		f.wrong(name, message.M("enter date and time like 2027-06-14T07:30"))
		return 0
	}
	return inventory.InstantOf(t)
}

func (f *form) wrong(name string, fix message.Message) {
	if f.fixes[name] == nil {
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
	return inventory.Refuse(inventory.Invalid, "check the fields marked below")
}

// take notes the wrong fields of an error, with their paths changed to names
// on this form by rename (nil for the same).
func (f *form) take(err error, rename func(path string) string) {
	var e *inventory.Error
	if !errors.As(err, &e) {
		return
	}
	if e.Kind == inventory.Conflict && len(e.Fields) == 0 && f.values.Has("code") {
		f.wrong("code", e.Message) // which is taken
	}
	for _, x := range e.Fields {
		name, fix := x.Path, x.Fix
		switch {
		case name == sentBefore:
			fix = message.M("This form was already sent with other values. Check what was recorded before sending again.")
		case signingNames[name] != "":
			name = signingNames[name]
		case rename != nil:
			name = rename(name)
		}
		f.wrong(name, fix)
	}
}

// A page with a form has a function that shows it, as it is opened or with what
// is wrong, and one that takes what it sends.
type (
	showForm func(v *visit, f *form, failed error) error
	takeForm func(v *visit, f *form) error
)

// opens shows a form that nobody has sent yet.
func opens(show showForm) func(*visit) error {
	return func(v *visit) error { return show(v, openForm(nil), nil) }
}

// takes has a form taken, and shows it again with what is wrong with it where
// that can be mended there. Any other error is returned.
func takes(take takeForm, show showForm) func(*visit) error {
	return func(v *visit) error {
		f := openForm(v.Request.PostForm)
		err := take(v, f)
		if !fixable(err) && (!f.proves || inventory.KindOf(err) != inventory.TooMany) {
			return err
		}
		f.take(err, f.names)
		return show(v, f, err)
	}
}

func (f *form) field(name string, label message.Message) Field {
	x := Field{Name: name, Label: label, Value: f.values.Get(name), Kind: "text", Fix: f.fixes[name]}
	if x.Fix != nil {
		f.shown = append(f.shown, Fix{x.ID(), label, x.Fix})
	}
	return x
}

func (f *form) numberField(name string, label message.Message) Field {
	x := f.field(name, label)
	x.Kind, x.Mode = "number", "numeric"
	return x
}

// numberFrom is a number field that starts with a number.
func (f *form) numberFrom(name string, label message.Message, start int) Field {
	x := f.numberField(name, label)
	if !f.values.Has(name) {
		x.Value = strconv.Itoa(start)
	}
	return x
}

func (f *form) area(name string, label message.Message) Field {
	x := f.field(name, label)
	x.Kind = "area"
	return x
}

func (f *form) dateField(name string, label message.Message) Field {
	x := f.field(name, label)
	x.Kind = "date"
	return x
}

// happenedField is for a time that was not just now, read by localTime.
func (f *form) happenedField(station inventory.Station) Field {
	x := f.field("happened_at", message.M("Time (default: now)")).WithHint(message.M("Time at {1}", station.Name))
	x.Kind = "datetime-local"
	return x
}

func (f *form) choice(name string, label message.Message, options []Option) Field {
	x := f.field(name, label)
	x.Kind = "select"
	x.Options = make([]Option, len(options))
	for i, o := range options {
		o.Chosen = o.Value == x.Value
		x.Options[i] = o
	}
	return x
}

// renderForm sends a page with its form: fields that were named wrong but are
// not on the page are listed without a link. Call it after all fields were made.
func (s *server) renderForm(v *visit, f *form, p page, failed error) error {
	p.base().Form = f.state(failed, f.keyOr(newKey), p.base().Form.Position)
	return s.render(v, statusOf(failed), p)
}

func (f *form) state(err error, key string, position int64) Form {
	out := Form{Key: key, Position: position, Fixes: f.shown}
	var e *inventory.Error
	if errors.As(err, &e) {
		out.Message = e.Message
	}
	for _, name := range f.order {
		if !f.isShown(name) {
			out.Fixes = append(out.Fixes, Fix{Text: f.fixes[name]})
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

// keyOr returns the key that the form was sent with, so that sending it again still counts once, or a new one.
func (f *form) keyOr(fresh func() string) string {
	if key := f.values.Get("key"); key != "" && f.fixes[sentBefore] == nil {
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
