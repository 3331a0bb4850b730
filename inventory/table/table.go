// Package table reads and writes tables of text, as spreadsheets and CSV files
// hold them, a row at a time. It knows nothing of what the columns mean.
package table

import (
	"fmt"
	"io"
	"strings"
)

// Limits of one table. Whatever is larger is no list of stock.
const (
	MaxColumns = 100
	MaxCell    = 20_000 // bytes
	MaxRows    = 1_000_000
)

// Cell is one cell as text. Date is what a cell of a spreadsheet that is formatted as a date means, as YYYY-MM-DD, or
// as YYYY-MM where it shows no day; it is empty for all others.
type Cell struct {
	Text string
	Date string
}

// Row is one row. Number is the one that a spreadsheet shows beside it: the header is usually row 1.
type Row struct {
	Number int
	Cells  []Cell
}

// Blank tells whether nothing stands in the row.
func (r Row) Blank() bool {
	for _, c := range r.Cells {
		if strings.TrimSpace(c.Text) != "" {
			return false
		}
	}
	return true
}

// Rows reads one table from its header on. Next gives io.EOF after the last
// row, a *BadError where the table cannot be read; blank rows are left out.
type Rows interface {
	Next() (Row, error)
	Close() error
}

// Source is a file, or a folder of files, that holds tables.
type Source interface {
	// Tables lists the names of its tables.
	Tables() []string
	// Open reads a table from its beginning, as often as it is asked to.
	Open(name string) (Rows, error)
}

// Column says how a column is written.
type Column struct {
	Name   string
	Number bool // holds whole numbers, for programs that tell them from text
}

// Sink takes tables one after another.
type Sink interface {
	// Begin starts a table. Names are of lower-case letters and hyphens.
	Begin(name string, columns []Column) error
	// Add adds a row to the table begun last.
	Add(cells []string) error
	// Note adds a text that explains the tables.
	Note(name, text string) error
	// Close finishes what was written.
	Close() error
}

// BadError says why a table cannot be read, and in which row, 0 for no one row.
type BadError struct {
	Row int
	Fix string
}

func (e *BadError) Error() string {
	if e.Row == 0 {
		return e.Fix
	}
	return fmt.Sprintf("row %d: %s", e.Row, e.Fix)
}

// Fit refuses a row beyond the limits of a table.
func (r Row) Fit() error {
	if len(r.Cells) > MaxColumns {
		return &BadError{r.Number, fmt.Sprintf("leave at most %d columns", MaxColumns)}
	}
	if r.Number > MaxRows {
		return &BadError{r.Number, fmt.Sprintf("leave at most %d rows", MaxRows)}
	}
	for _, c := range r.Cells {
		if len(c.Text) > MaxCell {
			return &BadError{r.Number, fmt.Sprintf("shorten each cell to %d bytes; a quotation mark may not have been closed",
				MaxCell)}
		}
	}
	return nil
}

// Count reads a table through and returns how many rows it has below its header.
func Count(s Source, name string) (int, error) {
	rows, err := s.Open(name)
	if err != nil {
		return 0, err
	}
	defer rows.Close()
	for n := -1; ; n++ {
		_, err := rows.Next()
		if err == io.EOF {
			return max(n, 0), nil
		}
		if err != nil {
			return 0, err
		}
	}
}
