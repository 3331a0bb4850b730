package inventory

import "strings"

// PickScan is what somebody scanned on the way round the store: what a pack, a
// device's label or a shelf's label says. Empty fields say nothing.
type PickScan struct {
	Items           []string // the item is one of these
	BatchNo, Serial string
	LotID           int64
}

// Matches lists the lines of a pick list that a scan is about, by index. A shelf's label names an item only; it is
// enough where one lot of that item is to be picked.
func (pl PickList) Matches(x PickScan) []int {
	var out []int
	lots := map[int64]bool{}
	for i, p := range pl.Lines {
		if x.Names(p) {
			out = append(out, i)
			lots[p.LotID] = true
		}
	}
	if len(lots) > 1 && x.LotID == 0 && x.BatchNo == "" && x.Serial == "" {
		return nil
	}
	return out
}

// Names tells whether a line of a list is what was scanned.
func (x PickScan) Names(p Pick) bool {
	if x.LotID != 0 {
		return p.LotID == x.LotID
	}
	ofItem := len(x.Items) == 0
	for _, it := range x.Items {
		ofItem = ofItem || it == p.Item
	}
	numbered := x.BatchNo != "" || x.Serial != ""
	return ofItem && (numbered || len(x.Items) > 0) && (!numbered || sameNumber(x.BatchNo, p.BatchNo) ||
		sameNumber(x.Serial, p.Serial))
}

func sameNumber(scanned, printed string) bool {
	return scanned != "" && strings.EqualFold(scanned, printed)
}
