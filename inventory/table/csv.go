package table

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"unicode/utf8"
)

// CSV is one table in a CSV file (RFC 4180): UTF-8, with or without a byte order mark, its cells parted by comma,
// semicolon or tab, whichever its first line has most of.
type CSV struct {
	Name string
	Data io.ReaderAt
	Size int64 // bytes
}

// Tables names the one table.
func (c CSV) Tables() []string { return []string{c.Name} }

// Open reads the table from its beginning.
func (c CSV) Open(string) (Rows, error) {
	in := bufio.NewReaderSize(io.NewSectionReader(c.Data, 0, c.Size), 64<<10)
	start, _ := in.Peek(3)
	switch {
	case bytes.HasPrefix(start, []byte("\xef\xbb\xbf")):
		_, _ = in.Discard(3) // it was peeked at
	case bytes.HasPrefix(start, []byte("\xff\xfe")) || bytes.HasPrefix(start, []byte("\xfe\xff")):
		return nil, &BadError{1, "save the file as CSV in UTF-8"}
	case bytes.HasPrefix(start, []byte("PK")):
		return nil, &BadError{1, "this is no CSV file; a workbook's name ends in .xlsx"}
	}
	r := csv.NewReader(in)
	r.Comma, r.FieldsPerRecord, r.ReuseRecord = separator(in), -1, true
	return &csvRows{r: r}, nil
}

// separator looks at the first line, quoted text apart.
func separator(in *bufio.Reader) rune {
	line, _ := in.Peek(in.Size()) // what there is
	count := map[byte]int{}
	quoted := false
	for _, b := range line {
		if b == '"' {
			quoted = !quoted
		}
		if b == '\n' && !quoted {
			break
		}
		if !quoted {
			count[b]++
		}
	}
	best := byte(',')
	for _, sep := range []byte{';', '\t'} {
		if count[sep] > count[best] {
			best = sep
		}
	}
	return rune(best)
}

type csvRows struct {
	r    *csv.Reader
	row  int // the last one
	line int // on which it ended
}

func (c *csvRows) Next() (Row, error) {
	for {
		cells, err := c.r.Read()
		if err == io.EOF {
			return Row{}, io.EOF
		}
		if err != nil {
			return Row{}, c.bad(err)
		}
		row := c.place(cells)
		if row.Blank() {
			continue
		}
		for _, cell := range cells {
			if !utf8.ValidString(cell) || strings.ContainsRune(cell, 0) {
				return Row{}, &BadError{row.Number, "save the file as CSV in UTF-8: this row holds bytes that are no text"}
			}
		}
		return row, row.Fit()
	}
}

// place counts rows as a spreadsheet does: one that goes over several lines is
// one row, an empty line is a row too, though the reader leaves it out.
func (c *csvRows) place(cells []string) Row {
	first, _ := c.r.FieldPos(0)
	c.row += first - c.line
	row := Row{Number: c.row, Cells: make([]Cell, len(cells))}
	c.line = first
	for i, cell := range cells {
		row.Cells[i].Text = cell
		c.line += strings.Count(cell, "\n")
	}
	return row
}

func (c *csvRows) bad(err error) error {
	var p *csv.ParseError
	if !errors.As(err, &p) {
		return err
	}
	row := c.row + p.StartLine - c.line
	if errors.Is(err, csv.ErrBareQuote) || errors.Is(err, csv.ErrQuote) {
		return &BadError{row, "put quotation marks around the whole cell, and write each one inside it twice"}
	}
	return &BadError{row, "this row cannot be read as CSV"}
}

func (*csvRows) Close() error { return nil }

// csvWriter writes one table as CSV with a header line, its formulas defused.
type csvWriter struct{ w *csv.Writer }

func newCSVWriter(out io.Writer, columns []Column) (*csvWriter, error) {
	c := &csvWriter{csv.NewWriter(out)}
	c.w.UseCRLF = true
	names := make([]string, len(columns))
	for i, col := range columns {
		names[i] = col.Name
	}
	return c, c.w.Write(names)
}

func (c *csvWriter) add(cells []string) error {
	out := make([]string, len(cells))
	for i, cell := range cells {
		out[i] = Defuse(cell)
	}
	return c.w.Write(out)
}

// WriteCSV writes rows, the header among them, as CSV (RFC 4180) that no spreadsheet runs.
func WriteCSV(out io.Writer, rows [][]string) error {
	c := &csvWriter{csv.NewWriter(out)}
	c.w.UseCRLF = true
	for _, row := range rows {
		if err := c.add(row); err != nil {
			return err
		}
	}
	c.w.Flush()
	return c.w.Error()
}
