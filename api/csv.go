package api

import (
	"bytes"
	"encoding/csv"
	"strings"
)

// csvBytes writes a table as CSV with a header line (RFC 4180). A cell that a
// spreadsheet would run as a formula gets an apostrophe before it, and is then
// shown as it is.
func csvBytes(table [][]string) []byte {
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
	return buf.Bytes()
}

// defused makes a cell harmless to programs that run what begins like a
// formula (OWASP, CSV Injection).
func defused(cell string) string {
	if cell != "" && strings.ContainsAny(cell[:1], "=+-@\t\r") {
		return "'" + cell
	}
	return cell
}
