package web

import (
	"bytes"
	"encoding/csv"
	"strings"

	"stowkeeper/inventory"
)

// sendCSV sends a table with a header line for a spreadsheet (RFC 4180).
func (v *visit) sendCSV(name string, table [][]string) error {
	var buf bytes.Buffer
	w := csv.NewWriter(&buf)
	w.UseCRLF = true
	for _, row := range table {
		cells := make([]string, len(row))
		for i, cell := range row {
			cells[i] = defused(cell)
		}
		_ = w.Write(cells) // a buffer takes everything
	}
	w.Flush()
	v.Header("Content-Disposition", `attachment; filename="`+name+`.csv"`)
	v.sendText(200, "text/csv; charset=utf-8", buf.Bytes())
	return nil
}

// defused makes a cell harmless to programs that run what begins like a
// formula (OWASP, CSV Injection). A number below zero stays one.
func defused(cell string) string {
	number := len(cell) > 1 && cell[0] == '-' && strings.Trim(cell[1:], "0123456789") == ""
	if cell != "" && strings.ContainsAny(cell[:1], "=+-@\t\r") && !number {
		return "'" + cell
	}
	return cell
}

func isoDay(d inventory.Day) string {
	if d == 0 {
		return ""
	}
	return d.String()
}

// csvHref is the address of a page's rows for a spreadsheet, as the page was
// asked for.
func csvHref(path string, v *visit) string {
	if q := v.Request.URL.Query().Encode(); q != "" {
		return path + "?" + q
	}
	return path
}
