package web

import (
	"net/url"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// Picking by scanning: each scan is sent with the form and ticks the lines that it names. The form keeps the ticks,
// so that it works without a script and a scanner that ends with Enter needs no other key.

const tickedField = ".ticked"

// scan ticks what was scanned and says what came of it. It returns false where
// nothing was scanned and the form means to be recorded.
func (s *server) scan(v *visit, f *form) (scanned bool, err error) {
	text := f.text("scan")
	if text == "" && f.text("tick") != "" && f.text("seal_set") == "" {
		f.said = message.M("nothing scanned yet")
		return true, nil
	}
	if text == "" {
		return false, nil
	}
	f.values.Del("scan")
	what, err := s.scannedAs(v, text)
	if err != nil {
		return true, err
	}
	pl, err := s.restockPlan(v, f)
	if err != nil {
		return true, err
	}
	hits := pl.Matches(what)
	for _, i := range hits {
		f.values.Set(pickRow(pl.PickList, i)+tickedField, "yes")
	}
	if len(hits) == 0 {
		f.said = message.M("Not on the pick list. Put it back, or add it below.")
	}
	return true, nil
}

func pickRow(pl inventory.PickList, i int) string {
	return inPrefix + lotAt(pl.Lines[i].LotID, pl.Lines[i].From) + "@" + strconv.Itoa(i)
}

// scannedAs tells what a scan names: a device's or a shelf's label of this
// service, a pack's barcode, or a batch or serial number as it is printed.
func (s *server) scannedAs(v *visit, text string) (inventory.PickScan, error) {
	parts := strings.Split(strings.Trim(s.labelPath(text), "/"), "/")
	switch {
	case len(parts) == 2 && parts[0] == "d":
		id, _ := strconv.ParseInt(parts[1], 10, 64) // 0 is no lot
		lot, err := s.svc.Stock.DeviceLot(v.ctx(), v.actor, id)
		if inventory.KindOf(err) == inventory.NotFound {
			return inventory.PickScan{LotID: -1}, nil
		}
		return inventory.PickScan{LotID: lot}, err
	case len(parts) == 3 && parts[0] == "s":
		item, _ := url.PathUnescape(parts[2])
		return inventory.PickScan{Items: []string{inventory.NormalCode(item)}}, nil
	}
	facts, err := s.svc.Ledger.ReadBarcode(v.ctx(), v.actor, text)
	if err == nil && len(facts.Products) > 0 {
		what := inventory.PickScan{BatchNo: facts.BatchNo, Serial: facts.Serial}
		for _, p := range facts.Products {
			what.Items = append(what.Items, p.Item)
		}
		return what, nil
	}
	if err == nil && facts.BatchNo+facts.Serial != "" {
		return inventory.PickScan{BatchNo: facts.BatchNo, Serial: facts.Serial}, nil
	}
	if err != nil && inventory.KindOf(err) != inventory.Invalid {
		return inventory.PickScan{}, err
	}
	return inventory.PickScan{BatchNo: text, Serial: text}, nil
}

// addScan puts the field for scanning on the page. The focus is where the next
// scan belongs: on that field, and on the seal once all is picked.
func (p *restockPage) addScan(f *form) {
	p.Scan = f.field("scan", message.M("Scan what you pick"))
	p.Scan.Required, p.ScanSaid, p.Unpicked = false, f.said, f.text("unpicked")
	for _, x := range p.PutIn {
		if x.Ticked {
			p.Ticked++
		}
	}
	all := len(p.PutIn) > 0 && p.Ticked == len(p.PutIn)
	p.Scan.Focus, p.SealSet.Focus = !all, all && p.Sealed
}

// What was asked about lines that are not ticked, in the field "unpicked".
const (
	askedOfAll   = "all" // nothing was ticked
	askedOfLines = "lines"
)

// wantPicked notes the lines that were not ticked: they are asked about once, and where none was, as one. Who then
// ticks some is asked about the rest: the first answer was not about them.
func (f *form) wantPicked() {
	ticked := 0
	var unpicked []string
	for _, row := range rowsWith(f, inPrefix, ".qty") {
		if f.text(row+tickedField) != "" {
			ticked++
		} else if n := f.text(row + ".qty"); n != "" && n != "0" && !strings.HasSuffix(row, "@o") {
			unpicked = append(unpicked, row)
		}
	}
	asked := f.text("unpicked")
	if len(unpicked) == 0 || asked == askedOfLines || asked == askedOfAll && ticked == 0 {
		return
	}
	f.values.Set("unpicked", askedOfLines)
	if ticked == 0 {
		f.values.Set("unpicked", askedOfAll)
		f.wrong("scan", message.M("Nothing is ticked: tick or scan what you picked, or record again to confirm."))
		return
	}
	for _, row := range unpicked {
		f.wrong(row+".qty", message.M("Not picked yet: scan it, enter 0, or record again to confirm."))
	}
}
