package workbook

import (
	"archive/zip"
	"bufio"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"

	"stowkeeper/inventory/table"
)

// sink writes each table as a sheet, row by row as they come: the library that reads workbooks would keep up to 16 MB
// of each in memory. The parts and their names are those of ECMA-376 part 1; what lists them stands at the end.
type sink struct {
	zip    *zip.Writer
	sheet  *bufio.Writer // the open one
	sheets []string
	cols   []table.Column
	row    int
	notes  []note
}

type note struct{ name, text string }

// New returns a sink that writes a workbook to out: a sheet for each table, and one for each note. Its memory does not
// grow with the rows.
func New(out io.Writer) table.Sink { return &sink{zip: zip.NewWriter(out)} }

const (
	xmlHead = `<?xml version="1.0" encoding="UTF-8" standalone="yes"?>` + "\n"
	mainNS  = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
	linkNS  = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
	partsNS = "http://schemas.openxmlformats.org/package/2006/"
	typeOf  = "application/vnd.openxmlformats-officedocument.spreadsheetml."
)

// begin starts a sheet whose first row stays in sight.
func (s *sink) begin(name string, columns, width int) error {
	if err := s.finish(); err != nil {
		return err
	}
	s.sheets, s.row = append(s.sheets, name), 0
	part, err := s.zip.Create(fmt.Sprintf("xl/worksheets/sheet%d.xml", len(s.sheets)))
	if err != nil {
		return err
	}
	s.sheet = bufio.NewWriter(part)
	_, err = fmt.Fprintf(s.sheet, xmlHead+`<worksheet xmlns="%s"><sheetViews><sheetView workbookViewId="0">`+
		`<pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews>`+
		`<cols><col min="1" max="%d" width="%d" customWidth="1"/></cols><sheetData>`, mainNS, max(1, columns), width)
	return err
}

func (s *sink) Begin(name string, columns []table.Column) error {
	if err := s.begin(name, len(columns), 16); err != nil {
		return err
	}
	s.cols = columns
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.Name
	}
	return s.write(names, false)
}

func (s *sink) Add(cells []string) error { return s.write(cells, true) }

// write writes a row; numbers as such where its columns have them.
func (s *sink) write(cells []string, numbers bool) error {
	s.row++
	fmt.Fprintf(s.sheet, `<row r="%d">`, s.row)
	for i, cell := range cells {
		if cell == "" {
			continue
		}
		at := columnName(i) + strconv.Itoa(s.row)
		if n, err := strconv.Atoi(cell); err == nil && numbers && s.cols[i].Number {
			fmt.Fprintf(s.sheet, `<c r="%s"><v>%d</v></c>`, at, n)
			continue
		}
		fmt.Fprintf(s.sheet, `<c r="%s" t="inlineStr"><is><t xml:space="preserve">%s</t></is></c>`, at,
			escaped(table.Defuse(cell)))
	}
	_, err := s.sheet.WriteString("</row>") // of several writes the first that failed is told
	return err
}

// columnName is what a spreadsheet calls a column, counted from 0.
func columnName(i int) string {
	if i < 26 {
		return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[i : i+1]
	}
	return columnName(i/26-1) + columnName(i%26)
}

// coded is how a workbook writes a character by its number; what looks like it is written so itself.
var coded = regexp.MustCompile(`_x[0-9A-Fa-f]{4}_`)

func escaped(text string) string {
	text = coded.ReplaceAllStringFunc(text, func(s string) string { return "_x005F" + s })
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(text)) // into memory
	return b.String()
}

func (s *sink) Note(name, text string) error {
	s.notes = append(s.notes, note{name, text})
	return nil
}

func (s *sink) finish() error {
	if s.sheet == nil {
		return nil
	}
	_, _ = s.sheet.WriteString("</sheetData></worksheet>")
	err := s.sheet.Flush()
	s.sheet = nil
	return err
}

// Close writes the notes, and what lists all sheets.
func (s *sink) Close() error {
	return errors.Join(s.explain(), s.finish(), s.list(), s.zip.Close())
}

func (s *sink) explain() error {
	for _, n := range s.notes {
		if err := s.begin(n.name, 1, 110); err != nil {
			return err
		}
		for line := range strings.Lines(n.text) {
			if err := s.write([]string{strings.TrimRight(line, "\r\n")}, false); err != nil {
				return err
			}
		}
	}
	return nil
}

// list writes the parts that say what there is.
func (s *sink) list() error {
	types := `<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>` +
		`<Override PartName="/xl/workbook.xml" ContentType="` + typeOf + `sheet.main+xml"/>`
	var sheets, links string
	for i, name := range s.sheets {
		n := strconv.Itoa(i + 1)
		types += `<Override PartName="/xl/worksheets/sheet` + n + `.xml" ContentType="` + typeOf + `worksheet+xml"/>`
		sheets += `<sheet name="` + escaped(name) + `" sheetId="` + n + `" r:id="r` + n + `"/>`
		links += `<Relationship Id="r` + n + `" Type="` + linkNS + `/worksheet" Target="worksheets/sheet` + n + `.xml"/>`
	}
	for _, part := range [][2]string{
		{"[Content_Types].xml", `<Types xmlns="` + partsNS + `content-types">` + types + `</Types>`},
		{"_rels/.rels", `<Relationships xmlns="` + partsNS + `relationships"><Relationship Id="r1" Type="` + linkNS +
			`/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		{"xl/workbook.xml", `<workbook xmlns="` + mainNS + `" xmlns:r="` + linkNS + `"><sheets>` + sheets +
			`</sheets></workbook>`},
		{"xl/_rels/workbook.xml.rels", `<Relationships xmlns="` + partsNS + `relationships">` + links +
			`</Relationships>`},
	} {
		w, err := s.zip.Create(part[0])
		if err == nil {
			_, err = io.WriteString(w, xmlHead+part[1])
		}
		if err != nil {
			return err
		}
	}
	return nil
}
