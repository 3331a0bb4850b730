package workbook

import (
	"errors"
	"io"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"stowkeeper/inventory/table"
)

// sink writes each table as a sheet.
type sink struct {
	out   io.Writer
	file  *excelize.File
	sheet *excelize.StreamWriter
	cols  []table.Column
	row   int
	notes []note
}

type note struct{ name, text string }

// New returns a sink that writes a workbook to out when it is closed: a sheet for each table, and one for each note.
func New(out io.Writer) table.Sink { return &sink{out: out, file: excelize.NewFile()} }

func (s *sink) begin(name string) error {
	if err := s.finish(); err != nil {
		return err
	}
	if _, err := s.file.NewSheet(name); err != nil {
		return err
	}
	var err error
	s.sheet, err = s.file.NewStreamWriter(name)
	s.row = 0
	return err
}

func (s *sink) Begin(name string, columns []table.Column) error {
	if err := s.begin(name); err != nil {
		return err
	}
	s.cols = columns
	if err := s.sheet.SetColWidth(1, max(1, len(columns)), 16); err != nil {
		return err
	}
	names := make([]any, len(columns))
	for i, c := range columns {
		names[i] = c.Name
	}
	return s.write(names)
}

func (s *sink) Add(cells []string) error {
	out := make([]any, len(cells))
	for i, cell := range cells {
		out[i] = table.Defuse(cell)
		if n, err := strconv.Atoi(cell); err == nil && s.cols[i].Number {
			out[i] = n
		}
		if cell == "" {
			out[i] = nil
		}
	}
	return s.write(out)
}

func (s *sink) write(cells []any) error {
	s.row++
	return s.sheet.SetRow("A"+strconv.Itoa(s.row), cells)
}

func (s *sink) Note(name, text string) error {
	s.notes = append(s.notes, note{name, text})
	return nil
}

func (s *sink) finish() error {
	if s.sheet == nil {
		return nil
	}
	err := s.sheet.Flush()
	s.sheet = nil
	return err
}

// Close writes the workbook.
func (s *sink) Close() error {
	err := s.explain()
	if err == nil {
		err = s.finish()
	}
	if err == nil {
		err = s.file.DeleteSheet("Sheet1") // the one that a new workbook has
	}
	if err == nil {
		err = s.file.Write(s.out)
	}
	return errors.Join(err, s.file.Close())
}

func (s *sink) explain() error {
	for _, n := range s.notes {
		if err := s.begin(n.name); err != nil {
			return err
		}
		if err := s.sheet.SetColWidth(1, 1, 110); err != nil {
			return err
		}
		for line := range strings.Lines(n.text) {
			if err := s.write([]any{table.Defuse(strings.TrimRight(line, "\r\n"))}); err != nil {
				return err
			}
		}
	}
	return nil
}
