package exchange

import (
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/table"
)

// How the cells of a column are written, in words for people.
const (
	cellText    = "text"
	cellCode    = "code"
	cellCodes   = "codes" // parted by blanks
	cellLines   = "lines" // texts, one a line
	cellNumber  = "whole number"
	cellYes     = "yes or no"
	cellDay     = "day"
	cellPrinted = "day or month"
	cellInstant = "instant"
)

// ImportColumn is one column of a list, for people who prepare a file.
type ImportColumn struct {
	Name, Kind, About string
	Needed            bool // the column must be there
}

// column is one column of a list of T: what it means, and how a row's value is
// written into a cell and read from one.
type column[T any] struct {
	ImportColumn
	get  func(*T) string
	set  func(*record, *T)
	keep bool // an empty cell leaves what is there
}

// columns are all columns of a list of T, in the order in which they are written.
type columns[T any] []column[T]

// needed has a file without the column refused.
func (c column[T]) needed() column[T] {
	c.Needed = true
	return c
}

// kept has an empty cell leave what is there: the default, or what was before.
func (c column[T]) kept() column[T] {
	c.keep = true
	return c
}

// columnOf makes a column of a field, and of how it is written and read.
func columnOf[T, F any](name, kind, about string, at func(*T) *F, write func(F) string,
	read func(*record, string) F) column[T] {
	return column[T]{ImportColumn: ImportColumn{Name: name, Kind: kind, About: about},
		get: func(row *T) string { return write(*at(row)) },
		set: func(r *record, row *T) { *at(row) = read(r, name) }}
}

// textOf makes a column of a text, which is tidied when it is read.
func textOf[T any, S ~string](name, kind, about string, at func(*T) *S, tidy func(string) string) column[T] {
	return columnOf(name, kind, about, at, func(s S) string { return string(s) },
		func(r *record, name string) S { return S(tidy(r.raw(name))) })
}

func text[T any, S ~string](name, about string, at func(*T) *S) column[T] {
	return textOf(name, cellText, about, at, strings.TrimSpace)
}

// line is a text whose blanks are single ones, as names are.
func line[T any](name, about string, at func(*T) *string) column[T] {
	return textOf(name, cellText, about, at, inventory.OneLine)
}

// word is one of a closed list of words, whatever its case and blanks.
func word[T any, S ~string](name, about string, at func(*T) *S) column[T] {
	return textOf(name, cellText, about, at, func(s string) string {
		return strings.ReplaceAll(strings.ToLower(strings.TrimSpace(s)), " ", "_")
	})
}

func code[T any](name, about string, at func(*T) *string) column[T] {
	return textOf(name, cellCode, about, at, inventory.NormalCode)
}

func codes[T any](name, about string, at func(*T) *[]string) column[T] {
	return columnOf(name, cellCodes, about, at, func(s []string) string { return strings.Join(s, " ") }, (*record).codes)
}

func lines[T any](name, about string, at func(*T) *[]string) column[T] {
	return columnOf(name, cellLines, about, at, func(s []string) string { return strings.Join(s, "\n") }, (*record).lines)
}

// number is a whole number, with nothing for 0.
func number[T any](name, about string, at func(*T) *int) column[T] {
	return columnOf(name, cellNumber, about, at, numText, (*record).number)
}

// counted is a whole number that says something at 0 as well.
func counted[T any](name, about string, at func(*T) *int) column[T] {
	return columnOf(name, cellNumber, about, at, strconv.Itoa, (*record).number)
}

func yes[T any](name, about string, at func(*T) *bool) column[T] {
	return columnOf(name, cellYes, about, at, yesText, (*record).yes)
}

func day[T any](name, about string, at func(*T) *inventory.Day) column[T] {
	return columnOf(name, cellDay, about, at, inventory.Day.String, (*record).day)
}

func printed[T any](name, about string, at func(*T) *string) column[T] {
	return columnOf(name, cellPrinted, about, at, func(s string) string { return s }, (*record).dated)
}

func instant[T any](name, about string, at func(*T) *inventory.Instant) column[T] {
	return columnOf(name, cellInstant, about, at, inventory.Instant.String, (*record).instant)
}

// numText writes a number, and nothing for none.
func numText(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// yesText writes yes, and nothing for no.
func yesText(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

// read fills a row from what stands in a file. What the file has no column for
// stays as it is.
func (cs columns[T]) read(r *record, row *T) {
	r.problems = nil
	for _, c := range cs {
		if r.has(c.Name) && (!c.keep || r.text(c.Name) != "") {
			c.set(r, row)
		}
	}
}

// adder returns what writes rows into a table that was begun.
func (cs columns[T]) adder(out table.Sink) func(T) error {
	return func(row T) error {
		cells := make([]string, len(cs))
		for i, c := range cs {
			cells[i] = c.get(&row)
		}
		return out.Add(cells)
	}
}

// changed notes a row that changes something, with a line for each column that does.
func (cs columns[T]) changed(r *record, was, now T, err error) error {
	if err := inventory.MergeErrors(r.problems.Err(), err); err != nil {
		return r.refuse(err)
	}
	r.im.report.Changed++
	for _, c := range cs {
		before, after := c.get(&was), c.get(&now)
		if before == after {
			continue
		}
		reason := "it was empty"
		if before != "" {
			reason = "it was " + shortened(before)
		}
		r.im.other(ImportLine{Kind: r.kind, Row: r.row.Number, Outcome: Changed, What: shortened(r.what), Column: c.Name,
			Value: shortened(after), Reason: reason})
	}
	return nil
}
