package order

import (
	"cmp"
	"context"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/money"
	"stowkeeper/inventory/scope"
)

// Service keeps orders.
type Service struct {
	store  inventory.Store
	now    inventory.Clock
	ledger *ledger.Service
}

// New returns the service over a store and a clock.
func New(store inventory.Store, now inventory.Clock, l *ledger.Service) *Service {
	return &Service{store, now, l}
}

// Book receives units as ledger.Receive does, and notes them in the order that they name. Refuses what that refuses:
// Forbidden, Invalid, Conflict.
func (s *Service) Book(ctx context.Context, by inventory.Actor, in inventory.Receipt) (lot inventory.Lot, err error) {
	err = s.store.Write(ctx, func(ctx context.Context, w inventory.Writer) error {
		if lot, err = s.ledger.Receive(ctx, by, in); err != nil {
			return err
		}
		place, err := w.Place(inventory.NormalCode(in.Place))
		if err != nil {
			return err
		}
		return Arrived(w, by, s.now(), place.Station, inventory.OneLine(in.Reference))
	})
	return lot, err
}

// OrderLineRequest is packs to order.
type OrderLineRequest struct {
	Product int64         `json:"product" doc:"Product id"`
	Packs   int           `json:"packs" minimum:"1" maximum:"10000"`
	Price   *money.Amount `json:"price,omitempty" doc:"Of one pack; default: the product's, in force today"`
	Seen    *int          `json:"seen_on_order,omitempty" doc:"Units on order that it allows for: more refuse it"`
}

// OrderRequest drafts an order.
type OrderRequest struct {
	Supplier string             `json:"supplier" maxLength:"120"`
	Station  string             `json:"station" doc:"Station code"`
	Place    string             `json:"place,omitempty" doc:"Code of the store to receive at; default: the station's"`
	Lines    []OrderLineRequest `json:"lines" minItems:"1" maxItems:"200"`
	Note     string             `json:"note,omitempty" maxLength:"2000"`
}

// Draft drafts an order. Refuses: Forbidden without order at the station; Invalid by field; Conflict where more is on
// order than the request allows for. Locks the station.
func (s *Service) Draft(ctx context.Context, by inventory.Actor, in OrderRequest) (Order, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActOrder, func(w inventory.Writer) (Order, error) {
		in.Station = inventory.NormalCode(in.Station)
		station, err := w.Station(in.Station)
		if err := cmp.Or(inventory.AsField(err, "station", "not found"), by.Must(inventory.ActOrder,
			in.Station)); err != nil {
			return Order{}, err
		}
		o := Order{Supplier: inventory.OneLine(in.Supplier), Station: station.Code, Status: Draft,
			Place: cmp.Or(inventory.NormalCode(in.Place), station.StoreCode()),
			Steps: []OrderStep{{Did: Draft, At: s.now(), By: by.Name, Note: in.Note}}}
		var ps inventory.Problems
		place, err := w.Place(o.Place)
		ps.When(err != nil || place.Station != station.Code || place.Kind != inventory.KindStore, "place",
			"choose one of {1}", inventory.KindList(inventory.KindStore))
		inventory.CheckText(&ps, "supplier", o.Supplier, true, inventory.MaxName)
		inventory.CheckText(&ps, "note", in.Note, false, inventory.MaxNote)
		ps.When(len(in.Lines) == 0 || len(in.Lines) > 200, "lines", "enter {1} to {2}", 1, 200)
		if err := o.fill(w, &ps, in.Lines, station.Today(s.now())); err != nil {
			return o, err
		}
		if err := cmp.Or(ps.Err(), station.MustBeOpen()); err != nil {
			return o, err
		}
		if err := notTwice(w, o, in.Lines); err != nil {
			return o, err
		}
		d, err := o.document()
		if err == nil {
			d, err = w.AddDocument(d)
		}
		o.ID = d.ID
		return o, err
	})
}

// fill makes the lines of an order, with the prices of a day.
func (o *Order) fill(r inventory.Reader, ps *inventory.Problems, lines []OrderLineRequest, day inventory.Day) error {
	for i, l := range lines {
		path := "lines[" + strconv.Itoa(i) + "]"
		pr, err := r.Product(l.Product)
		if err != nil {
			ps.Add(path+".product", "not found")
			continue
		}
		it, err := r.Item(pr.Item)
		if err != nil {
			return err
		}
		line := OrderedLine{Product: pr.ID, Item: pr.Item, Packs: l.Packs, PackSize: pr.PackSize,
			Price: pr.PriceIn(day).Amount}
		if l.Price != nil {
			line.Price = *l.Price
			ps.When(!line.Price.Right(), path+".price", "enter an amount and a currency, as in {1}", "12.50 EUR")
		}
		ps.When(l.Packs < max(1, pr.MinimumPacks) || l.Packs > inventory.MaxPacks, path+".packs", "enter {1} to {2}",
			max(1, pr.MinimumPacks), inventory.MaxPacks)
		ps.When(slices.ContainsFunc(o.Lines, func(x OrderedLine) bool { return x.Product == pr.ID }), path+".product",
			"enter each product once")
		o.Lines, o.LeadDays = append(o.Lines, line), max(o.LeadDays, it.LeadTimeDays)
	}
	o.totals()
	return nil
}

// notTwice refuses what somebody else has ordered meanwhile, who waits from now on. Refuses: Conflict.
func notTwice(w inventory.Writer, o Order, lines []OrderLineRequest) error {
	if err := w.LockStations([]string{o.Station}); err != nil {
		return err
	}
	coming, err := OnOrder(w, []string{o.Station})
	for i, l := range o.Lines {
		if n := coming[At{o.Station, l.Item}]; err == nil && lines[i].Seen != nil && n > *lines[i].Seen {
			return inventory.Refuse(inventory.Conflict, "{1} {1|unit|units} of {2} on order by now: look again", n, l.Item)
		}
	}
	return err
}

// OnOrder is how many units are on order, by station and item, at some stations, at all where none is named.
func OnOrder(r inventory.Reader, stations []string) (map[At]int, error) {
	open, err := orders(r, inventory.DocumentFilter{Stations: stations, Open: true}, inventory.Page{})
	return Coming(open), err
}

// orders reads orders with what came of those that are open.
func orders(r inventory.Reader, f inventory.DocumentFilter, p inventory.Page) ([]Order, error) {
	f.Kind = inventory.DocOrder
	docs, err := r.Documents(f, p)
	if err != nil {
		return nil, err
	}
	out := make([]Order, len(docs))
	var open []*Order
	for i, d := range docs {
		if out[i], err = of(d, nil); err != nil {
			return nil, err
		}
		if out[i].Status == Sent || out[i].Status == PartReceived {
			open = append(open, &out[i])
		}
	}
	_, err = take(r, open)
	return out, err
}

// take sets what came of orders, and tells which units are of no line.
func take(r inventory.Reader, orders []*Order) ([]Unit, error) {
	if len(orders) == 0 {
		return nil, nil
	}
	var references []string
	for _, o := range orders {
		references = append(references, o.Reference())
	}
	ms, err := r.Movements(inventory.MovementFilter{References: references, Reason: inventory.ReasonReceipt},
		inventory.Page{})
	if err != nil {
		return nil, err
	}
	var lots []int64
	for _, m := range ms {
		lots = append(lots, m.IntoLotID)
	}
	of, undone := map[int64]inventory.Lot{}, map[int64]bool{}
	if len(lots) > 0 {
		known, err1 := r.Lots(inventory.LotFilter{IDs: lots}, inventory.Page{})
		var batches []int64
		for _, l := range known {
			of[l.ID], batches = l, append(batches, l.Batch.ID)
		}
		corrections, err2 := r.Movements(inventory.MovementFilter{Batches: batches, Reason: inventory.ReasonCorrection},
			inventory.Page{})
		if err := cmp.Or(err1, err2); err != nil {
			return nil, err
		}
		for _, m := range corrections {
			undone[m.Corrects] = true
		}
	}
	var foreign []Unit
	for _, o := range orders {
		var came []Unit
		for _, m := range ms {
			if l := of[m.IntoLotID]; m.Reference == o.Reference() && !undone[m.ID] {
				came = append(came, Unit{l.Product, l.Item, m.Qty})
			}
		}
		foreign = append(foreign, o.Take(came)...)
	}
	return foreign, nil
}

// change does a step with an order that may take it, while others wait.
func (s *Service) change(ctx context.Context, by inventory.Actor, act inventory.Action, id int64, did Status,
	do func(w inventory.Writer, o *Order) (note string, err error)) (Order, error) {
	return inventory.WriteAs(ctx, s.store, by, act, func(w inventory.Writer) (Order, error) {
		o, err := of(w.LockDocument(id))
		if err == nil {
			err = by.Must(act, o.Station)
		}
		if err == nil {
			_, err = take(w, []*Order{&o})
		}
		if err := cmp.Or(err, o.May(did)); err != nil {
			return o, err
		}
		note, err := do(w, &o)
		if err != nil {
			return o, err
		}
		return o, o.keep(w, OrderStep{Did: o.Status, At: s.now(), By: by.Name, Note: note})
	})
}

// keep stores an order after a step.
func (o *Order) keep(w inventory.Writer, step OrderStep) error {
	var ps inventory.Problems
	inventory.CheckText(&ps, "note", step.Note, false, inventory.MaxNote)
	o.Steps = append(o.Steps, step)
	d, err := o.document()
	if err := cmp.Or(ps.Err(), err); err != nil {
		return err
	}
	return w.SetDocument(d)
}

// PackCount is how many packs of a line are ordered after all; 0 takes it out.
type PackCount struct {
	Product int64 `json:"product"`
	Packs   int   `json:"packs" minimum:"0" maximum:"10000"`
}

// Send notes that an order went to its supplier, with other numbers of packs where lines say so. From then on it is
// waited for. Refuses: Forbidden without order at the station; NotFound; Invalid by field; Conflict where it is sent
// already or closed. Locks the order.
func (s *Service) Send(ctx context.Context, by inventory.Actor, id int64, lines []PackCount, note string) (Order,
	error) {
	return s.change(ctx, by, inventory.ActOrder, id, Sent, func(w inventory.Writer, o *Order) (string, error) {
		var ps inventory.Problems
		for i, l := range lines {
			path := "lines[" + strconv.Itoa(i) + "]"
			at := slices.IndexFunc(o.Lines, func(x OrderedLine) bool { return x.Product == l.Product })
			if at < 0 {
				ps.Add(path+".product", "not on this order")
				continue
			}
			ps.When(l.Packs < 0 || l.Packs > inventory.MaxPacks, path+".packs", "enter {1} to {2}", 0, inventory.MaxPacks)
			o.Lines[at].Packs = l.Packs
		}
		o.Lines = slices.DeleteFunc(o.Lines, func(l OrderedLine) bool { return l.Packs == 0 })
		ps.When(len(o.Lines) == 0, "lines", "enter at least one quantity")
		station, err := w.Station(o.Station)
		if err := cmp.Or(ps.Err(), err); err != nil {
			return "", err
		}
		o.totals()
		if o.Status = Sent; o.LeadDays > 0 {
			o.DueOn = station.Today(s.now()).AddDays(o.LeadDays)
		}
		return note, nil
	})
}

// OrderArrival is what came of an order: receipts like any, with the order as their reference.
type OrderArrival struct {
	Lines []inventory.Receipt `json:"lines" minItems:"1" maxItems:"200"`
	Note  string              `json:"note,omitempty" maxLength:"2000"`
}

// Receive books in what came of an order, all or none, by receipts that name it. Refuses: Forbidden without keep_stock
// at the station; NotFound; Invalid by field, for what is not ordered, and where a controlled item lacks signatures;
// Conflict where it is not sent or closed, and for what a receipt is refused for. Locks the order and the items.
func (s *Service) Receive(ctx context.Context, by inventory.Actor, id int64, in OrderArrival) (Order, error) {
	return s.change(ctx, by, inventory.ActKeepStock, id, Received, func(w inventory.Writer, o *Order) (string, error) {
		u := ledger.NewUnit(w, by, s.now(), ledger.TwoSign)
		lines := slices.Clone(in.Lines)
		for i, x := range lines {
			lines[i].Place, lines[i].Reference = cmp.Or(inventory.NormalCode(x.Place), o.Place), o.Reference()
			lines[i].Item = inventory.NormalCode(x.Item)
		}
		if err := u.KnowReceipts(lines); err != nil {
			return "", err
		}
		var ms []inventory.Movement
		for i, x := range lines {
			place, err := u.Place(x.Place)
			if err == nil {
				err = u.May(inventory.ActKeepStock, place)
			}
			m, err2 := inventory.Movement{}, error(nil)
			if err == nil {
				m, err2 = u.Receipt(x, place, inventory.Carried{})
			}
			if err := cmp.Or(inventory.AsField(err, "place", "not found"), err2); err != nil {
				return "", ledger.PrefixPaths(err, "lines["+strconv.Itoa(i)+"]")
			}
			ms = append(ms, m)
		}
		if len(ms) == 0 {
			return "", inventory.InvalidField("lines", "enter at least one quantity")
		}
		if _, err := u.Post(ms, "lines"); err != nil {
			return "", err
		}
		foreign, err := take(w, []*Order{o})
		if err == nil && len(foreign) > 0 {
			err = inventory.InvalidField("lines", "{1} is not on this order", foreign[0].Item)
		}
		return in.Note, err
	})
}

// Arrived notes in an order that receipts named it, inside their unit of work. A reference that names no order of the
// station that is waited for means something else.
func Arrived(w inventory.Writer, by inventory.Actor, now inventory.Instant, station, reference string) error {
	id := numbered(reference)
	if id == 0 {
		return nil
	}
	o, err := of(w.LockDocument(id))
	if inventory.KindOf(err) == inventory.NotFound || err == nil && (o.Station != station || o.May(Received) != nil) {
		return nil
	}
	if err == nil {
		_, err = take(w, []*Order{&o})
	}
	if err != nil {
		return err
	}
	return o.keep(w, OrderStep{Did: o.Status, At: now, By: by.Name})
}

// Close ends an order: what has not come is not waited for any more. Refuses: Forbidden without order at the station;
// NotFound; Invalid for the reason, which is needed where something has not come; Conflict where it is not sent or
// closed. Locks the order.
func (s *Service) Close(ctx context.Context, by inventory.Actor, id int64, reason string) (Order, error) {
	return s.change(ctx, by, inventory.ActOrder, id, Closed, func(_ inventory.Writer, o *Order) (string, error) {
		var ps inventory.Problems
		inventory.CheckText(&ps, "reason", reason, o.Missing() > 0, inventory.MaxNote)
		o.Status = Closed
		return reason, ps.Err()
	})
}

// Cancel takes an order back before anything of it came. Refuses: Forbidden without order at the station; NotFound;
// Invalid for the reason; Conflict where something came, or it is closed. Locks the order.
func (s *Service) Cancel(ctx context.Context, by inventory.Actor, id int64, reason string) (Order, error) {
	return s.change(ctx, by, inventory.ActOrder, id, Cancelled, func(_ inventory.Writer, o *Order) (string, error) {
		var ps inventory.Problems
		inventory.CheckText(&ps, "reason", reason, true, inventory.MaxNote)
		o.Status = Cancelled
		return reason, ps.Err()
	})
}

// Orders lists the orders of the actor's stations, or of some, newest first: all, or those that are open. Refuses:
// Forbidden without order, and for a station that is not the actor's; NotFound for a station.
func (s *Service) Orders(ctx context.Context, by inventory.Actor, f inventory.DocumentFilter,
	p inventory.Page) ([]Order, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActOrder, func(r inventory.Reader) ([]Order, error) {
		seen, err := scope.Narrowed(by, r, f.Stations)
		if err != nil {
			return nil, err
		}
		return orders(r, inventory.DocumentFilter{Stations: seen, Open: f.Open}, p)
	})
}

// Order shows one order. Refuses: Forbidden without order at its station; NotFound.
func (s *Service) Order(ctx context.Context, by inventory.Actor, id int64) (Order, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActOrder, func(r inventory.Reader) (Order, error) {
		o, err := of(r.Document(id))
		if err == nil {
			err = by.Must(inventory.ActOrder, o.Station)
		}
		if err == nil && !o.Status.Ended() {
			_, err = take(r, []*Order{&o})
		}
		return o, err
	})
}

// OnOrder is how many units of each item are on order at a station. Refuses: Forbidden without history there.
func (s *Service) OnOrder(ctx context.Context, by inventory.Actor, station string) (map[string]int, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActHistory, func(r inventory.Reader) (map[string]int, error) {
		coming, err := OnOrder(r, []string{station})
		out := map[string]int{}
		for at, n := range coming {
			out[at.Item] = n
		}
		return out, cmp.Or(by.Must(inventory.ActHistory, station), err)
	})
}

// Plan takes what is on order off what a report would have stations buy, by supplier. Refuses: Forbidden without
// report.
func (s *Service) Plan(ctx context.Context, by inventory.Actor, buy []inventory.Buy) ([]ToBuy, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActReport, func(r inventory.Reader) ([]ToBuy, error) {
		coming, err1 := OnOrder(r, by.StationsSeen())
		items, err2 := lists.ItemsByCode(r, inventory.ItemFilter{})
		all, err3 := r.Products(inventory.ProductFilter{}, inventory.Page{})
		stations, err4 := r.Stations()
		products, today := map[int64]inventory.Product{}, inventory.Day(0)
		for _, p := range all {
			products[p.ID] = p
		}
		for _, st := range stations {
			today = max(today, st.Today(s.now()))
		}
		return StillToBuy(buy, coming, items, products, today), cmp.Or(err1, err2, err3, err4)
	})
}
