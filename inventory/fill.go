package inventory

import (
	"cmp"
	"slices"
)

// FillKind says where units for a bag come from.
type FillKind string

// The kinds of fill.
const (
	FillRestock  FillKind = "restock"  // from a store at the bag's station
	FillTransfer FillKind = "transfer" // from another station's store
)

// Fill is a quantity of a lot that the plan gives to a bag's line.
type Fill struct {
	Bag           string   `json:"bag"`
	Station       string   `json:"station" doc:"Where the bag is"`
	Item          string   `json:"item,omitempty"`
	KitList       string   `json:"kit_list,omitempty" doc:"Kit list of a missing module: from is the code of a spare one"`
	LotID         int64    `json:"lot_id,omitempty"`
	BatchNo       string   `json:"batch_no,omitempty"`
	Serial        string   `json:"serial,omitempty"`
	From          string   `json:"from" doc:"Place code"`
	Qty           int      `json:"qty"`
	Kind          FillKind `json:"kind" enum:"restock,transfer"`
	UsableThrough Day      `json:"usable_through,omitempty" format:"date"`
	ShortDated    bool     `json:"short_dated,omitempty" doc:"Usable, but not as long as the list needs"`
	InspectFirst  bool     `json:"inspect_first,omitempty" doc:"Inspection overdue: inspect before stowing"`
	Keeps         int      `json:"keeps,omitempty" doc:"Of a transfer: usable units that the sender has left after all"`

	line int
}

// Demand is what one line of one bag still lacks.
type Demand struct {
	bag     *BagView
	line    int
	toMin   int // units missing to the minimum
	toPar   int // units missing to par, those included
	covered int // units of other items that count for the line, or are filled in for it
	on      Day // the day asked about at the bag's station
	lastsTo Day // the day that a lot must reach
	station string
	ownOnly bool // only the line's own item is looked for
	standIn bool // only what is accepted in its place
}

// storeLot is what a store still has of a lot while a plan is made.
type storeLot struct {
	Stock
	through Day
	inspect bool // its inspection is overdue
	left    int
}

// storeContents holds the stores of one station by item, in pick order, then by place.
type storeContents map[string][]*storeLot

// newStoreContents arranges store stock that may be picked on a day: lots past
// their date or under notice, and those whose days on carriers are used up, are left out.
func newStoreContents(stock []Stock, items map[string]Item, day Day, purpose Purpose) storeContents {
	s := storeContents{}
	for _, st := range stock {
		it := items[st.Lot.Item]
		if Usable(it, st.Lot, day, purpose) && !ExposureSpent(it, st.Lot.Clocks) {
			s[st.Lot.Item] = append(s[st.Lot.Item], &storeLot{Stock: st, through: UsableThrough(it, st.Lot, day),
				inspect: st.Lot.Device() && InspectionOverdue(it, st.Lot, day), left: st.Qty})
		}
	}
	for _, lots := range s {
		slices.SortFunc(lots, func(a, b *storeLot) int {
			return cmp.Or(PickOrder(a.Lot, b.Lot, a.through, b.through), cmp.Compare(a.Place, b.Place))
		})
	}
	return s
}

// serve gives a demand what it still wants, to its minimum or to par: the line's own item first, then accepted ones;
// only lots that last, or, with short set, only those that do not.
func (s storeContents) serve(d *Demand, want *int, short bool) (out []Fill) {
	line := d.bag.List.Lines[d.line]
	for i, item := range append([]string{line.Item}, line.Accepts...) {
		if i > 0 && d.ownOnly || i == 0 && d.standIn {
			continue
		}
		for lot := s.next(d, item, short); lot != nil && *want > 0; lot = s.next(d, item, short) {
			f := s.give(d, lot, *want, short, FillRestock)
			d.got(f)
			out = append(out, f)
		}
	}
	return out
}

// next is the lot of an item that is picked next for a line, of those that last or of those that do not.
func (s storeContents) next(d *Demand, item string, short bool) *storeLot {
	for _, lot := range s[item] {
		// a later day may have begun at the bag's station
		if lot.through.passed(d.lastsTo) == short && !lot.through.passed(d.on) {
			return lot
		}
	}
	return nil
}

// give takes units of a lot off the shelf, as many as it has at most.
func (s storeContents) give(d *Demand, lot *storeLot, want int, short bool, kind FillKind) Fill {
	n, item := min(want, lot.left), lot.Lot.Item
	if lot.left -= n; lot.left == 0 {
		s[item] = slices.DeleteFunc(s[item], func(l *storeLot) bool { return l == lot })
	}
	return Fill{Bag: d.bag.Bag.Code, Station: d.station, Item: item, LotID: lot.Lot.ID, BatchNo: lot.Lot.BatchNo,
		Serial: lot.Lot.Serial, From: lot.Place, Qty: n, Kind: kind, UsableThrough: lot.through, ShortDated: short,
		InspectFirst: lot.inspect, line: d.line}
}

// held is how many usable units of an item are left.
func (s storeContents) held(item string) (n int) {
	for _, lot := range s[item] {
		n += lot.left
	}
	return n
}

func (d *Demand) got(f Fill) {
	d.toMin = max(0, d.toMin-f.Qty)
	d.toPar -= f.Qty
	if f.Item != d.bag.List.Lines[d.line].Item {
		d.covered += f.Qty
	}
}

// takeOwn sets aside units of the line's own item, that last, for what substitutes cover; a reserve stays.
func (s storeContents) takeOwn(d *Demand, reserve int) {
	spare := s.held(d.bag.List.Lines[d.line].Item) - reserve
	for _, lot := range s[d.bag.List.Lines[d.line].Item] {
		if !lot.through.passed(d.lastsTo) {
			n := max(0, min(d.covered, lot.left, spare))
			d.covered, lot.left, spare = d.covered-n, lot.left-n, spare-n
		}
	}
}

// demandsOf lists what the lines of a judged bag lack of their own item, in line order.
func demandsOf(v *BagView, r Readiness) []*Demand {
	var out []*Demand
	for _, l := range lacksOf(v, r) {
		out = append(out, l.demand(v).askedOn(r.AsOf))
	}
	return out
}

func lacksOf(v *BagView, r Readiness) []Lack {
	var out []Lack
	for i, l := range r.Lines {
		covered := 0
		for _, lot := range l.Lots {
			if lot.Usable && lot.Item != l.Item {
				covered += lot.Qty
			}
		}
		if d, lacks := demandOf(v, i, l.Usable, covered); lacks {
			out = append(out, Lack{i, d.toMin, d.toPar, d.covered})
		}
	}
	return out
}

// demand is what a line of a bag lacks.
func (l Lack) demand(v *BagView) Demand {
	return Demand{bag: v, line: l.Line, toMin: l.ToMin, toPar: l.ToPar, covered: l.Covered, station: v.Bag.AtStation}
}

// demandOf is what a line lacks for which so many units count, some of them of other items; false for nothing.
func demandOf(v *BagView, line, usable, covered int) (Demand, bool) {
	par, minimum := v.List.Lines[line].Wanted()
	d := Lack{line, max(0, minimum-usable), max(0, par-usable), covered}.demand(v)
	return d, d.toPar+covered > 0
}

// askedOn is a demand as of a day at the bag's station.
func (d Demand) askedOn(day Day) *Demand {
	d.on, d.lastsTo = day, day.AddDays(d.bag.List.MinRemainingDays)
	return &d
}

// byClaim orders demands by who is served first: critical lines, then bag priority, then bag code, then line order.
func byClaim(a, b *Demand) int {
	la, lb := a.bag.List.Lines[a.line], b.bag.List.Lines[b.line]
	return cmp.Or(
		-CompareBool(la.Critical, lb.Critical),
		cmp.Compare(a.bag.Bag.Priority, b.bag.Bag.Priority),
		cmp.Compare(a.bag.Bag.Code, b.bag.Bag.Code),
		cmp.Compare(a.line, b.line),
	)
}

func CompareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}
