// Package workbook reads and writes XLSX workbooks as tables. It stands apart from package table since the library
// beneath it brings a web client along, which nothing else in inventory may reach.
package workbook

import (
	"archive/zip"
	"errors"
	"io"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"github.com/xuri/excelize/v2"

	"stowkeeper/inventory/table"
)

// maxInMemory is the largest sheet, in bytes, that is kept in memory rather than in a temporary file.
const maxInMemory = 64 << 10

var options = excelize.Options{
	UnzipSizeLimit: maxUnpacked, UnzipXMLSizeLimit: maxInMemory,
	// The two formats that a spreadsheet shows as its country does.
	ShortDatePattern: "yyyy-mm-dd", LongDatePattern: "yyyy-mm-dd",
}

// Book is an open workbook; its sheets are its tables.
type Book struct {
	file   *excelize.File
	after1 bool // its dates count from 1904
}

// Open reads a workbook. Close it after use.
func Open(data io.ReaderAt, size int64) (*Book, error) {
	bad := &table.BadError{Fix: "this is no XLSX workbook that can be read; save it again as .xlsx, without a password"}
	z, err := zip.NewReader(data, size)
	if err != nil {
		return nil, bad
	}
	if err := fit(z); errors.Is(err, errTooLarge) {
		return nil, &table.BadError{Fix: "the workbook is too large unpacked; save each sheet as CSV"}
	} else if err != nil {
		return nil, bad
	}
	f, err := openFile(io.NewSectionReader(data, 0, size))
	if err != nil {
		return nil, bad
	}
	b := &Book{file: f}
	if props, err := f.GetWorkbookProps(); err == nil && props.Date1904 != nil {
		b.after1 = *props.Date1904
	}
	return b, nil
}

// openFile keeps a fault of the library in what it is given from ending the program: a workbook comes from outside.
func openFile(in io.Reader) (f *excelize.File, err error) {
	defer rescue(&err)
	return excelize.OpenReader(in, options)
}

var errFault = errors.New("the workbook cannot be read")

func rescue(err *error) {
	if recover() != nil {
		*err = errFault
	}
}

// Close lets go of the workbook's temporary files.
func (b *Book) Close() error { return b.file.Close() }

// Tables lists the names of the sheets, in lower case.
func (b *Book) Tables() []string {
	var out []string
	for _, name := range b.file.GetSheetList() {
		out = append(out, strings.ToLower(name))
	}
	return out
}

// Open reads a sheet, whatever case its name has.
func (b *Book) Open(name string) (table.Rows, error) {
	i := slices.IndexFunc(b.file.GetSheetList(), func(s string) bool { return strings.EqualFold(s, name) })
	if i < 0 {
		return nil, &table.BadError{Fix: "not found"}
	}
	sheet := b.file.GetSheetList()[i]
	raw, err := b.rows(sheet)
	if err != nil {
		return nil, sheetError(err)
	}
	shown, err := b.rows(sheet)
	if err != nil {
		return nil, errors.Join(sheetError(err), raw.Close())
	}
	return &rows{book: b, raw: raw, shown: shown}, nil
}

func (b *Book) rows(sheet string) (r *excelize.Rows, err error) {
	defer rescue(&err)
	return b.file.Rows(sheet)
}

func sheetError(error) error { return &table.BadError{Fix: "the sheet cannot be read"} }

// rows goes through a sheet twice at a time: once for what the cells hold, once
// for what they show, which alone tells a date from a number.
type rows struct {
	book       *Book
	raw, shown *excelize.Rows
	n          int
}

func (r *rows) Close() error { return errors.Join(r.raw.Close(), r.shown.Close()) }

func (r *rows) Next() (table.Row, error) {
	for {
		held, seen, err := r.both()
		if err != nil {
			return table.Row{}, err
		}
		r.n++
		row := table.Row{Number: r.n, Cells: make([]table.Cell, len(held))}
		for i, text := range held {
			row.Cells[i].Text = plain(text)
			if i < len(seen) && seen[i] != text {
				row.Cells[i].Date = r.book.date(text, seen[i])
			}
		}
		if !row.Blank() || r.n > table.MaxRows {
			return row, row.Fit()
		}
	}
}

// both reads the next row in both ways.
func (r *rows) both() (held, seen []string, err error) {
	defer rescue(&err)
	if !r.raw.Next() || !r.shown.Next() {
		if r.raw.Error() != nil {
			return nil, nil, &table.BadError{Row: r.n + 1, Fix: "the sheet cannot be read from here on"}
		}
		return nil, nil, io.EOF
	}
	if held, err = r.raw.Columns(excelize.Options{RawCellValue: true}); err == nil {
		seen, err = r.shown.Columns(options)
	}
	if err != nil {
		return nil, nil, &table.BadError{Row: r.n + 1, Fix: "the sheet cannot be read from here on"}
	}
	return held, seen, nil
}

// plain writes a whole number that a workbook holds with an exponent, as it does with product codes, in digits.
func plain(text string) string {
	if !strings.ContainsAny(text, "eE") || len(text) > 30 || strings.Trim(text, "0123456789.eE+-") != "" {
		return text
	}
	f, _, err := big.ParseFloat(text, 10, 200, big.ToNearestEven)
	if err != nil || f.IsInf() || f.MantExp(nil) > 60 || !f.IsInt() {
		return text
	}
	n, _ := f.Int64()
	return strconv.FormatInt(n, 10)
}

// date is what a cell holding a number of days means when it shows a date: a month where it shows none of its day.
func (b *Book) date(held, shown string) string {
	days, err := strconv.ParseFloat(held, 64)
	if err != nil || days < 20_000 || days > 110_000 {
		return ""
	}
	t, err := excelize.ExcelDateToTime(days, b.after1)
	if err != nil {
		return ""
	}
	switch dateParts(shown) {
	case 3:
		return t.Format("2006-01-02")
	case 2:
		return t.Format("2006-01")
	}
	return ""
}

// dateParts counts the parts of a shown date, runs of digits or of letters: a month and a year are two, with a day
// there are three. What is no date has other counts, or no year or month among its parts.
func dateParts(shown string) int {
	words := strings.FieldsFunc(shown, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	if strings.ContainsAny(shown, ":%,") || len(words) < 2 || len(words) > 3 || strings.ContainsRune(shown, '.') &&
		len(words) == 2 {
		return 0
	}
	for _, w := range words {
		if strings.ContainsFunc(w, unicode.IsDigit) && strings.ContainsFunc(w, unicode.IsLetter) || strings.ContainsFunc(w,
			unicode.IsDigit) && len(w) > 4 {
			return 0
		}
	}
	return len(words)
}
