package stock

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

// Units are how many of something lie where, for issue, seen from one station: what is past its date is still there.
type Units struct {
	InStore   int // in the station's stores
	Elsewhere int // in stores of the actor's other stations
	InBags    int // in bags that are at the station
}

// OfBatch is the units of a batch with its governing date there, 0 for none.
type OfBatch struct {
	Units
	inventory.Batch
	LotID         int64 // one of its lots, the nearest that there is
	UsableThrough inventory.Day
}

// OfItem is the units of an item, its batches by their dates, the first of these at the station, and what its bags
// lack of it: the units missing to par, as the shortage report has them.
type OfItem struct {
	Units
	inventory.Item
	Next    inventory.Day // 0 for none
	Expired bool          // Next is over
	Batches []OfBatch
	Short   int
}

// ByItem returns every item there is with its units, by name. It reads what lies at the station, and of the others
// their stores only. Refuses: Forbidden without history there.
func (s *Service) ByItem(ctx context.Context, by inventory.Actor, station inventory.Station) ([]OfItem, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActHistory, func(r inventory.Reader) ([]OfItem, error) {
		if err := by.Must(inventory.ActHistory, station.Code); err != nil {
			return nil, err
		}
		g, err1 := lists.LoadReportInput(r, inventory.ForIssue, []string{station.Code})
		far, err2 := r.Stock(inventory.StockFilter{Stations: by.StationsSeen(), Purpose: inventory.ForIssue,
			Kinds: []inventory.PlaceKind{inventory.KindStore}})
		if err := cmp.Or(err1, err2); err != nil {
			return nil, err
		}
		t := table{g.Items, station.Today(s.now()), map[string]*OfItem{}}
		for _, st := range g.Stores {
			t.add(st, func(u *Units) { u.InStore += st.Qty })
		}
		for _, b := range g.Bags {
			for _, st := range b.Stock {
				t.add(st, func(u *Units) { u.InBags += st.Qty })
			}
		}
		for _, st := range far {
			if g.StationOf[st.Place] != station.Code {
				t.add(st, func(u *Units) { u.Elsewhere += st.Qty })
			}
		}
		for _, row := range inventory.ShortagesOf(g, s.now(), 0, 0).Rows {
			if row.Item != "" {
				t.of(row.Item).Short += row.Shortfall
			}
		}
		return t.sorted(), nil
	})
}

type table struct {
	items map[string]inventory.Item
	today inventory.Day
	rows  map[string]*OfItem
}

func (t *table) of(item string) *OfItem {
	if t.rows[item] == nil {
		t.rows[item] = &OfItem{Item: t.items[item]}
	}
	return t.rows[item]
}

func (t *table) add(st inventory.Stock, count func(*Units)) {
	row := t.of(st.Lot.Batch.Item)
	count(&row.Units)
	through := inventory.UsableThrough(row.Item, st.Lot, t.today)
	i := slices.IndexFunc(row.Batches, func(b OfBatch) bool { return b.Batch.ID == st.Lot.Batch.ID })
	if i < 0 {
		i = len(row.Batches)
		row.Batches = append(row.Batches, OfBatch{Batch: st.Lot.Batch, LotID: st.Lot.ID, UsableThrough: through})
	}
	b := &row.Batches[i]
	before := b.Elsewhere
	count(&b.Units)
	if inventory.CompareEnd(through, b.UsableThrough) < 0 {
		b.UsableThrough = through
	}
	if b.Elsewhere == before && inventory.CompareEnd(through, row.Next) < 0 {
		row.Next, row.Expired = through, through < t.today
	}
}

func (t *table) sorted() []OfItem {
	out := make([]OfItem, 0, len(t.items))
	for code := range t.items {
		row := t.of(code)
		slices.SortStableFunc(row.Batches, func(a, b OfBatch) int {
			return cmp.Or(inventory.CompareEnd(a.UsableThrough, b.UsableThrough), cmp.Compare(a.ID, b.ID))
		})
		out = append(out, *row)
	}
	slices.SortFunc(out, func(a, b OfItem) int {
		return cmp.Or(cmp.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)), cmp.Compare(a.Code, b.Code))
	})
	return out
}
