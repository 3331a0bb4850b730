package lists

import "stowkeeper/inventory"

// CountGroup is a part of the form of a full check: a pouch, or what lies in the bag without being on its list.
type CountGroup struct {
	Pouch     string
	NotOnList bool
	Rows      []CountRow
}

// CountRow is a line of the list with the lots to count for it, surplus
// included. Line is its index in the list, -1 for what is not on it.
type CountRow struct {
	inventory.LineState
	Line int
}

// ToCount arranges all that should be in the bag by pouches, in the order of the list, so that a full check counts
// every unit once. Units beyond par lie with the line that has the rest of their lot, else with the first line that
// takes their item.
func ToCount(c inventory.Checklist) []CountGroup {
	rows := make([]CountRow, len(c.Readiness.Lines))
	for i, l := range c.Readiness.Lines {
		rows[i] = CountRow{l, i}
		rows[i].Lots = nil
		for _, lot := range l.Lots { // what is reported of a lot is counted with the rest of it
			rows[i].Lots = withLot(rows[i].Lots, lot)
		}
	}
	for _, s := range c.Readiness.Surplus {
		addSurplus(rows, c.KitList, s)
	}
	var groups []CountGroup
	at := map[string]int{}
	for _, row := range rows {
		i, ok := at[row.Pouch]
		if !ok {
			i = len(groups)
			at[row.Pouch] = i
			groups = append(groups, CountGroup{Pouch: row.Pouch})
		}
		groups[i].Rows = append(groups[i].Rows, row)
	}
	if off := c.Readiness.NotOnList; len(off) > 0 {
		g := CountGroup{NotOnList: true}
		var lots []inventory.LotOnLine
		for _, l := range off {
			lots = withLot(lots, l)
		}
		for _, l := range lots {
			g.Rows = append(g.Rows, CountRow{inventory.LineState{Item: l.Item, Lots: []inventory.LotOnLine{l}}, -1})
		}
		groups = append(groups, g)
	}
	return groups
}

func addSurplus(rows []CountRow, k inventory.KitList, s inventory.LotOnLine) {
	for i := range rows {
		for j := range rows[i].Lots {
			if rows[i].Lots[j].LotID == s.LotID {
				rows[i].Lots[j].Qty += s.Qty
				return
			}
		}
	}
	if i := inventory.TakingLine(k.Lines, s.Item); i >= 0 {
		rows[i].Lots = append(rows[i].Lots, s)
	}
}

// withLot adds units to lots, one entry for each lot.
func withLot(lots []inventory.LotOnLine, l inventory.LotOnLine) []inventory.LotOnLine {
	for i := range lots {
		if lots[i].LotID == l.LotID {
			lots[i].Qty += l.Qty
			return lots
		}
	}
	return append(lots, l)
}
