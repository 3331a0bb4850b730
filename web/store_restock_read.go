package web

import (
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// restockSent is what a restock form confirmed, and which row each line came from.
type restockSent struct {
	in              []inventory.RestockLine
	out             []inventory.TakeOutLine
	inRows, outRows []string
}

// The beginnings of the names of its rows.
const (
	inPrefix    = "in."
	outPrefix   = "out."
	extraPrefix = "extra."
	otherPrefix = "other."
)

// readRestock reads the rows with a quantity.
func readRestock(f *form) restockSent {
	var r restockSent
	for _, row := range rowsWith(f, inPrefix, ".qty") {
		if n := f.number(row + ".qty"); n != 0 {
			lot, from := splitLotAt(strings.TrimPrefix(row, inPrefix))
			r.in, r.inRows = append(r.in, inventory.RestockLine{LotID: lot, Qty: n, From: from}), append(r.inRows, row)
		}
	}
	for _, row := range rowsWith(f, extraPrefix, ".qty") {
		if n := f.number(row + ".qty"); n != 0 || f.text(row+".lot") != "" {
			lot, from := splitLotAt(f.text(row + ".lot"))
			r.in, r.inRows = append(r.in, inventory.RestockLine{LotID: lot, Qty: n, From: from}), append(r.inRows, row)
		}
	}
	for _, row := range rowsWith(f, outPrefix, ".qty") {
		if n := f.number(row + ".qty"); n != 0 {
			lot, to := splitLotAt(strings.TrimPrefix(row, outPrefix))
			r.out = append(r.out, inventory.TakeOutLine{LotID: lot, Qty: n, To: to,
				Reason: inventory.Reason(f.text(row + ".reason")), Cause: inventory.Cause(f.text(row + ".cause")),
				AuthorisedBy: f.text("authorised_by")})
			r.outRows = append(r.outRows, row)
		}
	}
	return r
}

// readOther reads what came out besides what the list proposed.
func (r *restockSent) readOther(f *form, c inventory.Checklist) {
	for _, row := range rowsWith(f, otherPrefix, ".qty") {
		n := f.number(row + ".qty")
		if n == 0 && f.text(row+".lot") == "" {
			continue
		}
		if f.text(row+".how") == "" {
			f.wrong(row+".how", message.M("choose from the list"))
		}
		line := inventory.RemovalLine(c.Station, c.Bag, inventory.Removal(f.text(row+".how")), idOf(f.text(row+".lot")), n)
		line.AuthorisedBy = f.text("authorised_by")
		r.out = append(r.out, line)
		r.outRows = append(r.outRows, row)
	}
}

// name turns the path of a wrong field into the field's name on the form.
func (r restockSent) name(path string) string {
	if strings.HasSuffix(path, ".happened_at") { // one time for the whole sheet
		return "happened_at"
	}
	if i, field, ok := indexed(path, "lines"); ok && i < len(r.inRows) {
		if strings.HasPrefix(r.inRows[i], extraPrefix) && field != "qty" {
			field = "lot"
		} else {
			field = "qty"
		}
		return r.inRows[i] + "." + field
	}
	if i, field, ok := indexed(path, "take_out"); ok && i < len(r.outRows) {
		if field == "authorised_by" {
			return field
		}
		if strings.HasPrefix(r.outRows[i], otherPrefix) && field == "lot_id" {
			return r.outRows[i] + ".lot"
		}
		return r.outRows[i] + ".qty"
	}
	return path
}
