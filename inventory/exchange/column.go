package exchange

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/table"
)

// cellKind says how the cells of a column are written.
type cellKind int

const (
	cellText    cellKind = iota
	cellLine             // text whose blanks are single ones, as names are
	cellWord             // one of a closed list of words, whatever its case and blanks
	cellCode             // given by people
	cellCodes            // parted by blanks
	cellLines            // texts, one a line
	cellNumber           // nothing for 0, save where the column is needed
	cellYes              // nothing for no
	cellDay              // YYYY-MM-DD
	cellPrinted          // a day or month as it stands on a pack
	cellInstant          // RFC 3339 in UTC
)

var cellWords = []string{"text", "text", "text", "code", "codes", "lines", "whole number", "yes or no", "day",
	"day or month", "instant"}

// presence says what a file may leave out.
type presence int

const (
	optional presence = iota // an empty cell empties the field
	kept                     // an empty cell leaves what is there: the default, or what was before
	needed                   // a file without the column is refused
)

// column is one column: what it is called and means, and how it is written.
type column struct {
	name  string
	kind  cellKind
	about string
	presence
}

// columns are the columns of rows of T, in the order in which they are written.
// Each is the field of T that the API calls by its name.
type columns[T any] struct {
	all    []column
	fields [][]int
}

// columnsOf finds the field of each column; that there is none is a mistake of ours.
func columnsOf[T any](all []column) columns[T] {
	cs := columns[T]{all: all}
	for _, c := range all {
		cs.fields = append(cs.fields, fieldNamed(reflect.TypeFor[T](), c.name).Index)
	}
	return cs
}

// fieldNamed finds the field of a type that JSON calls by a name, that of the
// type itself before those of the structs in it.
func fieldNamed(t reflect.Type, name string) reflect.StructField {
	for level := []reflect.StructField{{Type: t}}; len(level) > 0; {
		var next []reflect.StructField
		for _, in := range level {
			for i := range in.Type.NumField() {
				f := in.Type.Field(i)
				f.Index = append(slices.Clone(in.Index), i)
				if is, _, _ := strings.Cut(f.Tag.Get("json"), ","); is == name {
					return f
				}
				if f.Type.Kind() == reflect.Struct {
					next = append(next, f)
				}
			}
		}
		level = next
	}
	panic(t.String() + " has no field " + name)
}

// read fills a row from what stands in a file. What the file has no column for stays as it is.
func (cs columns[T]) read(r *record, row *T) {
	r.problems = nil
	for i, c := range cs.all {
		if _, has := r.header[c.name]; has && (c.presence != kept || r.text(c.name) != "") {
			r.set(reflect.ValueOf(row).Elem().FieldByIndex(cs.fields[i]), c)
		}
	}
}

// set sets a field to what stands in the cell of a column.
func (r *record) set(field reflect.Value, c column) {
	switch c.kind {
	case cellText:
		switch into := field.Addr().Interface().(type) {
		case *message.Message:
			*into = message.Plain(r.text(c.name))
		case *amount.Content:
			*into = amount.ContentOf(r.text(c.name))
		default:
			field.SetString(r.text(c.name))
		}
	case cellLine:
		field.SetString(inventory.OneLine(r.raw(c.name)))
	case cellWord:
		field.SetString(strings.ReplaceAll(strings.ToLower(r.text(c.name)), " ", "_"))
	case cellCode:
		field.SetString(inventory.NormalCode(r.raw(c.name)))
	case cellCodes:
		field.Set(reflect.ValueOf(r.codes(c.name)))
	case cellLines:
		field.Set(reflect.ValueOf(r.lines(c.name)))
	case cellNumber:
		field.SetInt(int64(r.number(c.name)))
	case cellYes:
		field.SetBool(r.yes(c.name))
	case cellDay:
		field.SetInt(int64(r.day(c.name)))
	case cellPrinted:
		field.SetString(r.dated(c.name))
	case cellInstant:
		field.SetInt(int64(r.instant(c.name)))
	}
}

// cells writes a row.
func (cs columns[T]) cells(row T) []string {
	out := make([]string, len(cs.all))
	for i, c := range cs.all {
		out[i] = cellOf(reflect.ValueOf(row).FieldByIndex(cs.fields[i]), c)
	}
	return out
}

// cellOf writes a value as a cell: records as JSON.
func cellOf(v reflect.Value, c column) string {
	switch is := v.Interface().(type) {
	case fmt.Stringer:
		return is.String()
	case []string:
		return strings.Join(is, map[bool]string{true: " ", false: "\n"}[c.kind == cellCodes])
	}
	switch {
	case v.Kind() == reflect.String:
		return v.String()
	case v.Kind() == reflect.Bool:
		return map[bool]string{true: "yes"}[v.Bool()]
	case v.CanInt() && v.Int() == 0 && c.presence != needed:
		return ""
	case v.CanInt():
		return strconv.FormatInt(v.Int(), 10)
	}
	b, err := json.Marshal(v.Interface())
	if err != nil || string(b) == "null" {
		return ""
	}
	return string(b)
}

// keep creates or changes what a row is about, which its first column names. What find does not find is created from
// what fresh holds and the file says. A change tells whether there was one.
func (cs columns[T]) keep(r *record, fresh T, find func(T) (T, error), create func(T) error,
	change func(old, now T) (Outcome, error)) error {
	in := fresh
	cs.read(r, &in)
	r.what = cs.cells(in)[0]
	old, known, err := there(find(in))
	switch {
	case err != nil:
		return err
	case !known:
		return r.settled(Created, create(in))
	}
	now := old
	cs.read(r, &now)
	if reflect.DeepEqual(old, now) {
		return r.settled(Unchanged, nil)
	}
	out, err := change(old, now)
	if out == Unchanged {
		return r.settled(Unchanged, err)
	}
	return cs.changed(r, old, now, err)
}

// there tells whether what was looked up is there; that it is not is no error.
func there[T any](v T, err error) (T, bool, error) {
	if err != nil && inventory.KindOf(err) == inventory.NotFound {
		return v, false, nil
	}
	return v, err == nil, err
}

// changed notes a row that changes something, with a line for each column that does.
func (cs columns[T]) changed(r *record, was, now T, err error) error {
	if err := inventory.MergeErrors(r.problems.Err(), err); err != nil {
		return r.refuse(err)
	}
	r.im.report.Changed++
	before, after := cs.cells(was), cs.cells(now)
	for i, c := range cs.all {
		if before[i] == after[i] {
			continue
		}
		reason := message.M("was empty")
		if before[i] != "" {
			reason = message.M("it was {1}", shortened(before[i]))
		}
		r.note(ImportLine{Outcome: Changed, Column: c.name, Value: shortened(after[i]), Reason: reason})
	}
	return nil
}

// listOf makes a list of rows of one type.
func listOf[T any](about string, act inventory.Action, cs columns[T], rows func(*exporting, func(T) error) error,
	start func(*importing) (rowReader, error)) list {
	return list{about, act, cs.all, func(x *exporting) error {
		return rows(x, func(row T) error { return x.out.Add(cs.cells(row)) })
	}, start}
}

// tableColumns are columns as a table is begun with.
func tableColumns(all []column) []table.Column {
	out := make([]table.Column, len(all))
	for i, c := range all {
		out[i] = table.Column{Name: c.name, Number: c.kind == cellNumber}
	}
	return out
}
