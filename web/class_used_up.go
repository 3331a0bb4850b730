package web

import (
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
)

const usedUpPrefix = "usedup."

// classPart is what a class used up from one place.
type classPart struct {
	place string
	lines []ledger.ClassLine
	rows  []string
}

// readUsedUp reads what a class used up, place by place.
func readUsedUp(f *form) []*classPart {
	var out []*classPart
	for _, row := range rowsWith(f, usedUpPrefix, ".qty") {
		n := f.number(row + ".qty")
		if n == 0 {
			continue
		}
		lot, place := splitLotAt(strings.TrimPrefix(row, usedUpPrefix))
		i := slices.IndexFunc(out, func(c *classPart) bool { return c.place == place })
		if i < 0 {
			i, out = len(out), append(out, &classPart{place: place})
		}
		out[i].lines, out[i].rows = append(out[i].lines, ledger.ClassLine{LotID: lot, Qty: n}), append(out[i].rows, row)
	}
	return out
}

// usedUpFields lists the training stock of a station that is no device.
func (s *server) usedUpFields(v *visit, f *form, station inventory.Station, places []inventory.Place) ([]AwayFields,
	error) {
	items := v.itemsByCode()
	var out []AwayFields
	for _, p := range places {
		if p.Station != station.Code || p.Purpose != inventory.ForTraining || p.Kind == inventory.KindQuarantine ||
			p.Kind == inventory.KindAway {
			continue
		}
		lots, err := s.svc.Stock.StockAt(v.ctx(), v.actor, p.Code)
		if err != nil {
			return nil, err
		}
		for _, l := range sortLots(lots, items) {
			if l.Device() {
				continue
			}
			x := AwayFields{Name: nameOf(items, l.Item), Label: lotLabel(l.BatchNo, l.Serial), Place: p.Name}
			for _, w := range l.Where {
				x.There = w.Qty
			}
			x.Qty = f.numberField(usedUpPrefix+lotAt(l.ID, p.Code)+".qty", message.M("Used up: {1}, {2}, {3}", x.Name, x.Label,
				p.Name))
			out = append(out, x)
		}
	}
	return out, nil
}
