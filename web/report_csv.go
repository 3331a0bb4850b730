package web

import (
	"bytes"
	"cmp"

	"stowkeeper/inventory/table"
)

// sendCSV sends a table with a header line for a spreadsheet (RFC 4180).
func (v *visit) sendCSV(name string, rows [][]string) error {
	var buf bytes.Buffer
	if err := cmp.Or(v.failed, table.WriteCSV(&buf, rows)); err != nil {
		return err
	}
	v.Header("Content-Disposition", `attachment; filename="`+name+`.csv"`)
	v.sendText(200, "text/csv; charset=utf-8", buf.Bytes())
	return nil
}

// csvHref is the address of a page's rows for a spreadsheet, as the page was asked for.
func csvHref(path string, v *visit) string {
	if q := v.Request.URL.Query().Encode(); q != "" {
		return path + "?" + q
	}
	return path
}
