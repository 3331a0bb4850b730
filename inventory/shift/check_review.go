package shift

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/scope"
	"stowkeeper/inventory/stock"
)

// Reviewed is what stands beside a check or use that is reviewed.
type Reviewed struct {
	AtBag   inventory.Bag
	Station inventory.Station
	Items   map[string]inventory.Item
}

// CheckReview is a check with what the crew saw beside what is true now.
type CheckReview struct {
	inventory.Check
	Reviewed
	Rows []CountReview
}

// CountReview is one lot in a check: what the ledger had when the crew looked, what they counted, what the ledger has
// now, and what posting would make of it, the difference carried over.
type CountReview struct {
	Lot      inventory.Lot
	Expected int
	Counted  int
	Reason   inventory.CountReason
	Incident string
	CameFrom string // the bag that what is more was taken from
	Now      int
	Posted   int  // below zero where the ledger lacks the stock
	Settled  int  // units of the difference that were counted or removed since
	Listed   bool // the crew counted it
}

// ReviewCheck lays a check beside the bag as it is now, in units, by item and lot. Refuses: Forbidden without
// keep_stock where the bag is; NotFound.
func (s *Service) ReviewCheck(ctx context.Context, by inventory.Actor, id int64) (CheckReview, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (CheckReview, error) {
		var x CheckReview
		var err error
		if x.Check, err = r.Check(id); err != nil {
			return x, err
		}
		if x.Reviewed, err = reviewed(r, by, x.Bag); err != nil {
			return x, err
		}
		if x.Rows, err = reviewRows(r, x.Check); err != nil {
			return x, err
		}
		said, err := saidBy(r, inventory.ReportKey{CheckID: id})
		for i := range x.Rows {
			row := &x.Rows[i]
			if row.Settled = said.SettledOf(x.Bag, row.Lot.ID); row.Settled > 0 {
				row.Posted = min(row.Now, row.Posted+row.Settled)
			}
		}
		return x, err
	})
}

// reviewed reads what stands beside a record of a bag, for who keeps stock where the bag is.
func reviewed(r inventory.Reader, by inventory.Actor, bag string) (x Reviewed, err error) {
	if x.AtBag, err = scope.BagFor(r, by, bag, inventory.ActKeepStock); err != nil {
		return x, err
	}
	if x.Station, err = r.Station(x.AtBag.AtStation); err != nil {
		return x, err
	}
	x.Items, err = lists.ItemsByCode(r, inventory.ItemFilter{})
	return x, err
}

func reviewRows(r inventory.Reader, c inventory.Check) ([]CountReview, error) {
	if c.Kind == inventory.SealCheck { // it counted nothing
		return nil, nil
	}
	stock, err := r.Stock(inventory.StockFilter{Places: []string{c.Bag}})
	if err != nil {
		return nil, err
	}
	since, err := r.MovedSince(c.Bag, c.SeenPosition)
	if err != nil {
		return nil, err
	}
	rows := map[int64]*CountReview{}
	row := func(lot int64) *CountReview {
		if rows[lot] == nil {
			rows[lot] = &CountReview{Lot: inventory.Lot{ID: lot}}
		}
		return rows[lot]
	}
	for _, st := range stock {
		row(st.Lot.ID).Now += st.Qty
	}
	for _, lot := range slices.Sorted(maps.Keys(since)) {
		row(lot)
	}
	for _, l := range c.Lines {
		x := row(l.LotID)
		x.Counted, x.Listed = x.Counted+l.Counted, true
		x.Reason, x.Incident = cmp.Or(x.Reason, l.Reason), cmp.Or(x.Incident, l.Incident)
		x.CameFrom = cmp.Or(x.CameFrom, l.CameFrom)
	}
	return finishReview(r, c, rows, since)
}

func finishReview(r inventory.Reader, c inventory.Check, rows map[int64]*CountReview,
	since map[int64]int) ([]CountReview, error) {
	lots, err := lotsByID(r, slices.Sorted(maps.Keys(rows)))
	var out []CountReview
	for lot, x := range rows {
		x.Lot, x.Expected = lots[lot], x.Now-since[lot]
		x.Posted = x.Now
		if x.Listed || c.Whole() {
			x.Posted += x.Counted - x.Expected
		}
		out = append(out, *x)
	}
	slices.SortFunc(out, func(a, b CountReview) int {
		return cmp.Or(cmp.Compare(a.Lot.Item, b.Lot.Item), cmp.Compare(a.Lot.ID, b.Lot.ID))
	})
	return out, err
}

// lotsByID reads lots.
func lotsByID(r inventory.Reader, ids []int64) (map[int64]inventory.Lot, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	all, err := r.Lots(inventory.LotFilter{IDs: ids}, inventory.Page{})
	return stock.LotsByID(all), err
}

// heldIn reads how much of each lot lies where.
func heldIn(r inventory.Reader, f inventory.StockFilter) (map[inventory.PlaceLot]int, error) {
	all, err := r.Stock(f)
	return heldOf(all), err
}

func heldOf(all []inventory.Stock) map[inventory.PlaceLot]int {
	held := map[inventory.PlaceLot]int{}
	for _, st := range all {
		held[inventory.PlaceLot{Place: st.Place, Lot: st.Lot.ID}] = st.Qty
	}
	return held
}

// UseReview is a use with what the ledger has now beside it.
type UseReview struct {
	inventory.Use
	Reviewed
	Rows []UsedBeside
}

// UsedBeside is one line of a use and how much of its lot lies now in the bag that it was taken from.
type UsedBeside struct {
	inventory.UseLine
	Lot     inventory.Lot
	Now     int
	Settled int // units of it that were counted or removed since
}

// ReviewUse lays a use beside the ledger as it is now, in units, line by line. Refuses: Forbidden without keep_stock
// where the bag is; NotFound.
func (s *Service) ReviewUse(ctx context.Context, by inventory.Actor, id int64) (UseReview, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (UseReview, error) {
		var x UseReview
		var err error
		if x.Use, err = r.Use(id); err != nil {
			return x, err
		}
		if x.Reviewed, err = reviewed(r, by, x.Bag); err != nil {
			return x, err
		}
		if x.Rows, err = usedReview(r, x.Use); err != nil {
			return x, err
		}
		said, err := saidBy(r, inventory.ReportKey{UseID: id})
		for i := range x.Rows {
			row := &x.Rows[i]
			row.Settled = said.SettledOf(cmp.Or(row.CameFrom, x.Bag), row.LotID)
		}
		return x, err
	})
}

func usedReview(r inventory.Reader, u inventory.Use) ([]UsedBeside, error) {
	var ids []int64
	places := []string{u.Bag}
	for _, l := range u.Lines {
		ids, places = append(ids, l.LotID), append(places, cmp.Or(l.CameFrom, u.Bag))
	}
	lots, err := lotsByID(r, ids)
	if err != nil {
		return nil, err
	}
	held, err := heldIn(r, inventory.StockFilter{Places: places, Lots: ids})
	var out []UsedBeside
	for _, l := range u.Lines {
		out = append(out, UsedBeside{UseLine: l, Lot: lots[l.LotID],
			Now: held[inventory.PlaceLot{Place: cmp.Or(l.CameFrom, u.Bag), Lot: l.LotID}]})
	}
	return out, err
}

// Suggestion is the count that carries over the difference that the crew saw to what the bag holds now, as far as
// that goes. A lot that they did not count stays as it is.
func (c CountReview) Suggestion() inventory.CheckLine {
	l := inventory.CheckLine{LotID: c.Lot.ID, Counted: max(0, c.Posted), Incident: c.Incident}
	if !c.Listed {
		l.Counted = c.Now
	}
	if l.Counted != c.Now {
		l.Reason, l.CameFrom = c.Reason, c.CameFrom
	}
	return l
}

// Agrees tells whether nothing about the lot needs a look: the crew counted
// what was recorded, and that is what is recorded now.
func (c CountReview) Agrees() bool {
	return c.Listed && c.Counted == c.Expected && c.Now == c.Expected && c.Posted == c.Now
}

// Short tells whether the ledger has less than was used and is not settled.
func (u UsedBeside) Short() bool { return u.Now < u.Qty-u.Settled }
