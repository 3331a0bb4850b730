package inventory

import (
	"cmp"
	"context"
	"slices"
)

// CheckBeside is a check with what the crew saw beside what is true now.
type CheckBeside struct {
	Check
	AtBag Bag
	Site  Site
	Items map[string]Item
	Rows  []CountBeside
}

// CountBeside is one lot in a check: what the ledger had when the crew looked,
// what they counted, what the ledger has now, and what posting would make of
// it, the difference carried over.
type CountBeside struct {
	Lot      Lot
	Expected int
	Counted  int
	Reason   CountReason
	Incident string
	CameFrom string // the bag that what is more was taken from
	Now      int
	Posted   int  // below zero where the ledger lacks the stock
	Listed   bool // the crew counted it
}

// CheckBeside lays a check beside the bag as it is now.
func (s *Service) CheckBeside(ctx context.Context, by Actor, id int64) (CheckBeside, error) {
	return read(ctx, s, func(r Reader) (CheckBeside, error) {
		var x CheckBeside
		var err error
		if x.Check, err = r.Check(id); err != nil {
			return x, err
		}
		if x.AtBag, err = bagFor(r, by, x.Bag, ActKeepStock); err != nil {
			return x, err
		}
		if x.Site, err = r.Site(x.AtBag.AtSite); err != nil {
			return x, err
		}
		if x.Items, err = itemsByCode(r, ItemFilter{}); err != nil {
			return x, err
		}
		x.Rows, err = besideRows(r, x.Check)
		return x, err
	})
}

func besideRows(r Reader, c Check) ([]CountBeside, error) {
	if c.Kind == SealCheck { // it counted nothing
		return nil, nil
	}
	stock, err := r.Stock(StockFilter{Places: []string{c.Bag}})
	if err != nil {
		return nil, err
	}
	since, err := r.MovedSince(c.Bag, c.SeenPosition)
	if err != nil {
		return nil, err
	}
	rows := map[int64]*CountBeside{}
	row := func(lot int64) *CountBeside {
		if rows[lot] == nil {
			rows[lot] = &CountBeside{Lot: Lot{ID: lot}}
		}
		return rows[lot]
	}
	for _, st := range stock {
		row(st.Lot.ID).Now += st.Qty
	}
	for _, lot := range sortedKeys(since) {
		row(lot)
	}
	for _, l := range c.Lines {
		x := row(l.LotID)
		x.Counted, x.Listed = x.Counted+l.Counted, true
		x.Reason, x.Incident = cmp.Or(x.Reason, l.Reason), cmp.Or(x.Incident, l.Incident)
		x.CameFrom = cmp.Or(x.CameFrom, l.CameFrom)
	}
	return finishBeside(r, c, rows, since)
}

func finishBeside(r Reader, c Check, rows map[int64]*CountBeside, since map[int64]int) ([]CountBeside, error) {
	var out []CountBeside
	for lot, x := range rows {
		x.Expected = x.Now - since[lot]
		x.Posted = x.Now
		if x.Listed || c.Kind == FullCheck {
			x.Posted += x.Counted - x.Expected
		}
		var err error
		if x.Lot, err = r.Lot(lot); err != nil {
			return nil, err
		}
		out = append(out, *x)
	}
	slices.SortFunc(out, func(a, b CountBeside) int {
		return cmp.Or(cmp.Compare(a.Lot.Item, b.Lot.Item), cmp.Compare(a.Lot.ID, b.Lot.ID))
	})
	return out, nil
}

// UseBeside is a use with what the ledger has now beside it.
type UseBeside struct {
	Use
	AtBag Bag
	Site  Site
	Items map[string]Item
	Rows  []UsedBeside
}

// UsedBeside is one line of a use and how much of its lot lies now in the bag
// that it was taken from.
type UsedBeside struct {
	UseLine
	Lot Lot
	Now int
}

// UseBeside lays a use beside the ledger as it is now.
func (s *Service) UseBeside(ctx context.Context, by Actor, id int64) (UseBeside, error) {
	return read(ctx, s, func(r Reader) (UseBeside, error) {
		var x UseBeside
		var err error
		if x.Use, err = r.Use(id); err != nil {
			return x, err
		}
		if x.AtBag, err = bagFor(r, by, x.Bag, ActKeepStock); err != nil {
			return x, err
		}
		if x.Site, err = r.Site(x.AtBag.AtSite); err != nil {
			return x, err
		}
		if x.Items, err = itemsByCode(r, ItemFilter{}); err != nil {
			return x, err
		}
		for _, l := range x.Lines {
			row, err := usedBeside(r, x.Bag, l)
			if err != nil {
				return x, err
			}
			x.Rows = append(x.Rows, row)
		}
		return x, nil
	})
}

func usedBeside(r Reader, bag string, l UseLine) (UsedBeside, error) {
	row := UsedBeside{UseLine: l}
	var err error
	if row.Lot, err = r.Lot(l.LotID); err != nil {
		return row, err
	}
	stock, err := r.Stock(StockFilter{Places: []string{cmp.Or(l.CameFrom, bag)}, LotID: l.LotID})
	for _, st := range stock {
		row.Now += st.Qty
	}
	return row, err
}

// Suggestion is the count that carries over the difference that the crew saw
// to what the bag holds now, as far as that goes. A lot that they did not
// count stays as it is.
func (c CountBeside) Suggestion() CheckLine {
	l := CheckLine{LotID: c.Lot.ID, Counted: max(0, c.Posted), Incident: c.Incident}
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
func (c CountBeside) Agrees() bool {
	return c.Listed && c.Counted == c.Expected && c.Now == c.Expected && c.Posted == c.Now
}

// Short tells whether the ledger has less than was used.
func (u UsedBeside) Short() bool { return u.Now < u.Qty }
