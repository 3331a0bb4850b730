package inventory

import (
	"cmp"
	"slices"

	"stowkeeper/inventory/message"
)

// PickList says what brings a bag back to its list: what to put in, what to take out, and what the store cannot fill.
type PickList struct {
	Bag      string       `json:"bag"`
	AsOf     Day          `json:"as_of" format:"date"`
	Lines    []Pick       `json:"lines"`
	Modules  []ModulePick `json:"modules,omitempty" doc:"Spare modules to put in: swap them in one by one"`
	TakeOut  []TakeOut    `json:"take_out"`
	Unfilled []Unfilled   `json:"unfilled"`
	StandIns []StandIn    `json:"stand_ins,omitempty" doc:"Accepted items in place of a line's own"`
	Position int64        `json:"position" doc:"The bag's position that the list was made for"`
	ListMove *ListMove    `json:"list_move,omitempty" doc:"A restock moves it to a newer version of its kit list"`
}

// ModulePick is a module to put into a bag.
type ModulePick struct {
	KitList    string `json:"kit_list"`
	Module     string `json:"module" doc:"Bag code of the module"`
	PriorClaim string `json:"prior_claim,omitempty" doc:"A bag that comes first for the same module"`
}

// Pick is a quantity of a lot to put into a pouch.
type Pick struct {
	Item          string `json:"item"`
	Pouch         string `json:"pouch,omitempty"`
	From          string `json:"from" doc:"Place code"`
	LotID         int64  `json:"lot_id"`
	BatchNo       string `json:"batch_no,omitempty"`
	Serial        string `json:"serial,omitempty"`
	UsableThrough Day    `json:"usable_through,omitempty" format:"date"`
	Qty           int    `json:"qty"`
	ShortDated    bool   `json:"short_dated,omitempty" doc:"Usable, but not as long as the list needs"`
	InspectFirst  bool   `json:"inspect_first,omitempty" doc:"Inspection overdue: inspect before stowing"`
	PriorClaim    string `json:"prior_claim,omitempty" doc:"A bag that comes first for the same stock"`
}

// TakeOut is a quantity of a lot to take out, and where it goes.
type TakeOut struct {
	LotID         int64           `json:"lot_id"`
	Item          string          `json:"item"`
	BatchNo       string          `json:"batch_no,omitempty"`
	Serial        string          `json:"serial,omitempty"`
	Qty           int             `json:"qty"`
	To            string          `json:"to" doc:"Place code, or disposed"`
	Reason        Reason          `json:"reason"`
	Cause         Cause           `json:"cause,omitempty"`
	Why           message.Message `json:"why" doc:"The same in words"`
	UsableThrough Day             `json:"usable_through,omitempty" format:"date"`
}

// Unfilled is what the bag's own stores cannot fill.
type Unfilled struct {
	Item    string `json:"item,omitempty"`
	KitList string `json:"kit_list,omitempty" doc:"Kit list of missing modules, in place of an item"`
	Pouch   string `json:"pouch,omitempty"`
	Qty     int    `json:"qty"`
}

// StandIn is an accepted item that counts for a line in place of its own, with the swap that is offered once the own
// is in the store again.
type StandIn struct {
	Item    string    `json:"item" doc:"The line's own"`
	With    string    `json:"with" doc:"The accepted item"`
	Pouch   string    `json:"pouch,omitempty"`
	Qty     int       `json:"qty"`
	PutIn   []Pick    `json:"put_in,omitempty"`
	TakeOut []TakeOut `json:"take_out,omitempty"`
}

// PickListOf makes the pick list of one bag from the stores at its station, by the version of its kit list that a
// restock moves it to. What lies in the bag and does not last is swapped for what does, as far as the stores go.
// claims is the fill plan of the whole station, from which prior claims follow.
func PickListOf(v BagView, stores []Stock, claims []Fill, now Instant, asOf Day) PickList {
	old := v.List
	v = v.OnNewest(cmp.Or(asOf, v.Station.Today(now)))
	r := ReadinessOf(v, now, asOf, 0)
	pl := PickList{Bag: v.Bag.Code, AsOf: r.AsOf, Position: v.Bag.Position, Lines: []Pick{}, TakeOut: []TakeOut{},
		Unfilled: []Unfilled{}, ListMove: ListMoveOf(old, v.List, v.Items)}
	shelves := newStoreContents(stores, v.Items, r.AsOf, v.Bag.Purpose)
	// What goes in may count for an earlier line than the one it was picked
	// for, so the bag is judged again with it until nothing more is to be had.
	full := v
	for fills := putIn(&v, r, shelves); len(fills) > 0; fills = putIn(&v, r, shelves) {
		pl.add(v, fills)
		full.Stock = append(slices.Clip(full.Stock), stockOf(fills, stores)...)
		r = ReadinessOf(full, now, asOf, 0)
	}
	for _, l := range r.Lines {
		if l.Shortfall > 0 {
			pl.Unfilled = append(pl.Unfilled, Unfilled{Item: l.Item, Pouch: l.Pouch, Qty: l.Shortfall})
		}
	}
	pl.takeOutUnfit(v, r)
	pl.swap(v, r, shelves)
	pl.markClaims(stores, claims)
	return pl
}

// putIn fills every line up to its minimum, then every line up to par; in each step a line's own item goes before what
// only stands in, so that no line takes the own item of another.
func putIn(v *BagView, r Readiness, shelves storeContents) []Fill {
	var out []Fill
	demands := demandsOf(v, r)
	each := func(toPar, short bool) {
		for _, own := range []bool{true, false} {
			for _, d := range demands {
				d.ownOnly, d.standIn = own, !own
				want := &d.toMin
				if toPar {
					want = &d.toPar
				}
				out = append(out, shelves.serve(d, want, short)...)
			}
		}
	}
	each(false, false)
	each(false, true)
	each(true, false)
	return out
}

// stockOf returns fills as what they will be in the bag.
func stockOf(fills []Fill, stores []Stock) []Stock {
	lots := make(map[int64]Lot, len(stores))
	for _, st := range stores {
		lots[st.Lot.ID] = st.Lot
	}
	out := make([]Stock, 0, len(fills))
	for _, f := range fills {
		out = append(out, Stock{Place: f.Bag, Lot: lots[f.LotID], Qty: f.Qty})
	}
	return out
}

// add lists fills, those of one lot for one pouch together.
func (pl *PickList) add(v BagView, fills []Fill) {
	for _, f := range fills {
		p := Pick{Item: f.Item, Pouch: v.List.Lines[f.line].Pouch, From: f.From, LotID: f.LotID, BatchNo: f.BatchNo,
			Serial: f.Serial, UsableThrough: f.UsableThrough,
			ShortDated: f.ShortDated, InspectFirst: f.InspectFirst}
		i := slices.IndexFunc(pl.Lines, func(x Pick) bool { x.Qty = 0; return x == p })
		if i < 0 {
			i, pl.Lines = len(pl.Lines), append(pl.Lines, p)
		}
		pl.Lines[i].Qty += f.Qty
	}
}

// unpick takes up to n units of a lot off the list again and returns how many.
func (pl *PickList) unpick(lot int64, n int) int {
	done := 0
	for i := len(pl.Lines) - 1; i >= 0; i-- {
		if p := &pl.Lines[i]; p.LotID == lot {
			k := min(n-done, p.Qty)
			p.Qty, done = p.Qty-k, done+k
		}
	}
	pl.Lines = slices.DeleteFunc(pl.Lines, func(p Pick) bool { return p.Qty == 0 })
	return done
}

// takeOutUnfit lists what must leave: what is past its end goes to disposed, what is under notice or worn out to
// quarantine, surplus and what is not on the list back to the store.
func (pl *PickList) takeOutUnfit(v BagView, r Readiness) {
	store := TakeOut{To: storeFor(v), Reason: ReasonReturn}
	s := newContents(v, r.AsOf)
	for row, st := range v.Stock {
		l, it, n := st.Lot, v.Items[st.Lot.Item], st.Qty-s.apart[row]
		how := TakeOut{To: v.Station.QuarantineCode(v.Bag.Purpose), Reason: ReasonQuarantine}
		switch {
		case n == 0 || !Unfit(it, l, r.AsOf): // all of it is reported gone, or it may stay
			continue
		case len(l.Withdrawn) > 0:
			how.Why = message.M("under notice {1}", l.Withdrawn[0])
		case WornOut(it, l):
			how.Why = message.M("worn out in training")
		default:
			how = TakeOut{To: string(KindDisposed), Reason: ReasonDisposed, Cause: CauseExpired, Why: message.M("expired")}
		}
		pl.takeOut(l, n, how, r.AsOf, it)
	}
	for _, s := range r.Surplus {
		store.Why = message.M("more than needed")
		if n := s.Qty - pl.unpick(s.LotID, s.Qty); n > 0 {
			pl.takeOut(lotOf(v, s.LotID), n, store, r.AsOf, v.Items[s.Item])
		}
	}
	for _, s := range r.NotOnList {
		store.Why = message.M("not on the list")
		if s.Usable {
			pl.takeOut(lotOf(v, s.LotID), s.Qty, store, r.AsOf, v.Items[s.Item])
		}
	}
}

func (pl *PickList) takeOut(l Lot, qty int, how TakeOut, day Day, it Item) {
	how.LotID, how.Item, how.BatchNo, how.Serial = l.ID, l.Item, l.BatchNo, l.Serial
	how.Qty, how.UsableThrough = qty, UsableThrough(it, l, day)
	pl.TakeOut = append(pl.TakeOut, how)
}

// storeFor is the store that a bag's units go back to.
func storeFor(v BagView) string {
	if v.Bag.Purpose == ForTraining {
		return v.Station.TrainingStoreCode()
	}
	return v.Station.StoreCode()
}

func lotOf(v BagView, id int64) Lot {
	for _, st := range v.Stock {
		if st.Lot.ID == id {
			return st.Lot
		}
	}
	return Lot{}
}

// swap exchanges units that lie in the bag, and count but do not last, for units that do; then it offers, for what only
// stands in, the line's own item.
func (pl *PickList) swap(v BagView, r Readiness, shelves storeContents) {
	inBag := map[int64]int{}
	for _, st := range v.Stock {
		inBag[st.Lot.ID] += st.Qty
	}
	for _, short := range []bool{true, false} {
		for i := range r.Lines {
			pl.swapLots(v, r, i, short, inBag, shelves)
		}
	}
}

// swapLots swaps the lots of one line: those that do not last, or those that stand in.
func (pl *PickList) swapLots(v BagView, r Readiness, i int, short bool, inBag map[int64]int, shelves storeContents) {
	line := r.Lines[i]
	for _, lot := range line.Lots {
		n := min(lot.Qty, inBag[lot.LotID])
		d := Demand{bag: &v, line: i, toPar: n, station: v.Bag.AtStation, ownOnly: !short}.askedOn(r.AsOf)
		if !lot.Usable || lot.UsableThrough.passed(d.lastsTo) != short || !short && lot.Item == line.Item || short && n == 0 {
			continue
		}
		into, why := pl, message.M("short-dated, swapped")
		if !short {
			into, why = pl.standIn(line.Item, v.List.Lines[i].Pouch, lot), message.M("more than needed")
		}
		into.add(v, shelves.serve(d, &d.toPar, false))
		inBag[lot.LotID] -= n
		if n -= d.toPar; n > 0 {
			into.takeOut(lotOf(v, lot.LotID), n, TakeOut{To: storeFor(v), Reason: ReasonReturn, Why: why}, r.AsOf,
				v.Items[lot.Item])
		}
		if !short {
			pl.StandIns[len(pl.StandIns)-1].PutIn, pl.StandIns[len(pl.StandIns)-1].TakeOut = into.Lines, into.TakeOut
		}
	}
}

// standIn notes that units of another item count for a line, and returns what was offered for them so far.
func (pl *PickList) standIn(item, pouch string, lot LotOnLine) *PickList {
	n := len(pl.StandIns) - 1
	if n < 0 || pl.StandIns[n].Item != item || pl.StandIns[n].Pouch != pouch || pl.StandIns[n].With != lot.Item {
		pl.StandIns, n = append(pl.StandIns, StandIn{Item: item, With: lot.Item, Pouch: pouch}), n+1
	}
	pl.StandIns[n].Qty += lot.Qty
	return &PickList{Lines: pl.StandIns[n].PutIn, TakeOut: pl.StandIns[n].TakeOut}
}

// markClaims names, for each pick, the first other bag to which the station's
// fill plan gives stock that this pick would take away.
func (pl *PickList) markClaims(stores []Stock, claims []Fill) {
	type key struct {
		lot   int64
		place string
	}
	free, first := map[key]int{}, map[key]string{}
	for _, st := range stores {
		free[key{st.Lot.ID, st.Place}] = st.Qty
	}
	for _, c := range claims {
		k := key{c.LotID, c.From}
		if c.Bag == pl.Bag {
			continue
		}
		free[k] -= c.Qty
		if first[k] == "" {
			first[k] = c.Bag
		}
	}
	mark := func(lines []Pick) {
		for i := range lines {
			p := &lines[i]
			k := key{p.LotID, p.From}
			free[k] -= p.Qty
			if free[k] < 0 {
				p.PriorClaim = first[k]
			}
		}
	}
	mark(pl.Lines)
	for _, x := range pl.StandIns {
		mark(x.PutIn)
	}
}

// WithOwn takes the swaps that are offered onto the list.
func (pl *PickList) WithOwn() {
	for i, x := range pl.StandIns {
		pl.Lines, pl.TakeOut = append(pl.Lines, x.PutIn...), append(pl.TakeOut, x.TakeOut...)
		pl.StandIns[i].PutIn = nil
	}
}
