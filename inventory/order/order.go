// Package order is what stations buy: drafted from what is missing, sent to a supplier, received in parts, closed. What
// came of an order is told by the ledger alone, by the receipts that name it.
package order

import (
	"cmp"
	"encoding/json"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/money"
	"stowkeeper/inventory/reorder"
)

// Status is how far an order has come.
type Status string

// The statuses.
const (
	Draft        Status = "draft"
	Sent         Status = "sent"
	PartReceived Status = "part_received"
	Received     Status = "received"
	Closed       Status = "closed" // what has not come by then is not waited for
	Cancelled    Status = "cancelled"
)

// Statuses lists every status, the open ones first.
var Statuses = []Status{Draft, Sent, PartReceived, Received, Closed, Cancelled}

// Ended tells whether nothing more is to come.
func (s Status) Ended() bool { return s == Received || s == Closed || s == Cancelled }

// OrderedLine is packs of one product.
type OrderedLine struct {
	Product  int64        `json:"product" doc:"Product id"`
	Item     string       `json:"item" doc:"Item code"`
	Packs    int          `json:"packs" doc:"Ordered"`
	PackSize int          `json:"pack_size" doc:"Units in one pack, as it was when the order was drafted"`
	Price    money.Amount `json:"price,omitzero" doc:"Of one pack"`
	Received int          `json:"received" doc:"Units, by the receipts that name the order"`
}

// Units is how many units are ordered.
func (l OrderedLine) Units() int { return l.Packs * l.PackSize }

// Missing is how many of them have not come.
func (l OrderedLine) Missing() int { return max(0, l.Units()-l.Received) }

// OrderStep is one thing that somebody did with an order.
type OrderStep struct {
	Did  Status            `json:"did" enum:"draft,sent,part_received,received,closed,cancelled"`
	At   inventory.Instant `json:"at" format:"date-time"`
	By   string            `json:"by"`
	Note string            `json:"note,omitempty"`
}

// Order is packs that one supplier sends to one place.
type Order struct {
	ID       int64          `json:"id"`
	Supplier string         `json:"supplier"`
	Station  string         `json:"station" doc:"Station code"`
	Place    string         `json:"place" doc:"Code of the place to receive at"`
	Status   Status         `json:"status" enum:"draft,sent,part_received,received,closed,cancelled"`
	Lines    []OrderedLine  `json:"lines"`
	LeadDays int            `json:"lead_days,omitempty" doc:"Longest lead time of its items when it was drafted"`
	DueOn    inventory.Day  `json:"due_on,omitempty" format:"date" doc:"Day of sending and lead time"`
	Total    []money.Amount `json:"total" doc:"Packs times prices, by currency"`
	Steps    []OrderStep    `json:"steps"`
}

// Late tells whether something has not come that was due before a day.
func (o Order) Late(today inventory.Day) bool {
	return (o.Status == Sent || o.Status == PartReceived) && o.DueOn != 0 && o.DueOn < today
}

// Missing is how many units have not come.
func (o Order) Missing() (n int) {
	for _, l := range o.Lines {
		n += l.Missing()
	}
	return n
}

// May refuses a step that an order does not allow as it stands: sent once, received once it is sent, cancelled before
// anything came, and closed where something was sent. Refuses: Conflict.
func (o Order) May(did Status) error {
	came := slices.ContainsFunc(o.Lines, func(l OrderedLine) bool { return l.Received > 0 })
	switch {
	case o.Status.Ended():
		return inventory.Refuse(inventory.Conflict, "order {1} is closed", o.ID)
	case did == Sent && o.Status != Draft:
		return inventory.Refuse(inventory.Conflict, "order {1} is sent already", o.ID)
	case (did == Received || did == Closed) && o.Status == Draft:
		return inventory.Refuse(inventory.Conflict, "order {1} is not sent yet", o.ID)
	case did == Cancelled && came:
		return inventory.Refuse(inventory.Conflict, "some of order {1} was received: close it", o.ID)
	}
	return nil
}

// Unit is units of a product that came; of no product where the receipt names none.
type Unit struct {
	Product int64
	Item    string
	Qty     int
}

// Take sets what came of each line: units count for the line of their product, else for the first of their item that
// still lacks some. It tells which units are of no line.
func (o *Order) Take(units []Unit) (foreign []Unit) {
	for i := range o.Lines {
		o.Lines[i].Received = 0
	}
	for _, u := range units {
		at := slices.IndexFunc(o.Lines, func(l OrderedLine) bool { return l.Product == u.Product })
		for i, l := range o.Lines {
			if l.Item == u.Item && (at < 0 || o.Lines[at].Product != u.Product && o.Lines[at].Missing() == 0) {
				at = i
			}
		}
		if at < 0 {
			foreign = append(foreign, u)
			continue
		}
		o.Lines[at].Received += u.Qty
	}
	if o.Status == Sent || o.Status == PartReceived {
		o.Status = o.come()
	}
	return foreign
}

// come is how far a sent order has come by its lines.
func (o *Order) come() Status {
	switch {
	case o.Missing() == 0:
		return Received
	case slices.ContainsFunc(o.Lines, func(l OrderedLine) bool { return l.Received > 0 }):
		return PartReceived
	}
	return Sent
}

// Reference names an order in the records of what came of it.
func (o Order) Reference() string { return "order " + strconv.FormatInt(o.ID, 10) }

// numbered is the order that a reference names, 0 for none.
func numbered(reference string) int64 {
	n, ok := strings.CutPrefix(reference, "order ")
	id, err := strconv.ParseInt(n, 10, 64)
	if !ok || err != nil || strconv.FormatInt(id, 10) != n {
		return 0
	}
	return id
}

// document is the order as it is kept.
func (o Order) document() (inventory.Document, error) {
	body, err := json.Marshal(o)
	first := o.Steps[0]
	d := inventory.Document{ID: o.ID, Kind: inventory.DocOrder, Station: o.Station, Place: o.Place,
		Status: string(o.Status), OpenedAt: first.At, OpenedBy: first.By, Body: string(body)}
	if last := o.Steps[len(o.Steps)-1]; o.Status.Ended() {
		d.EndedAt, d.EndedBy = last.At, last.By
	}
	return d, err
}

// of reads an order. Refuses: NotFound for another document.
func of(d inventory.Document, err error) (Order, error) {
	var o Order
	if err == nil && d.Kind != inventory.DocOrder {
		err = inventory.Refuse(inventory.NotFound, "not found")
	}
	if err != nil {
		return o, err
	}
	err = json.Unmarshal([]byte(d.Body), &o)
	o.ID = d.ID
	return o, err
}

// totals adds up what the packs cost.
func (o *Order) totals() {
	var all []money.Amount
	for _, l := range o.Lines {
		all = append(all, l.Price.Times(l.Packs))
	}
	o.Total = append([]money.Amount{}, money.Sum(all)...)
}

// At is an item at a station.
type At struct{ Station, Item string }

// Coming is how many units of orders have not come, by station and item. A draft counts: it is about to be sent.
func Coming(orders []Order) map[At]int {
	out := map[At]int{}
	for _, o := range orders {
		for _, l := range o.Lines {
			if !o.Status.Ended() {
				out[At{o.Station, l.Item}] += l.Missing()
			}
		}
	}
	return out
}

// ToBuy is what a station has still to buy of an item: what its bags lack and no store has, less what is on order, in
// whole packs of the item's preferred product, as many as its supplier sends at least.
type ToBuy struct {
	inventory.Buy
	Missing  int          `json:"missing" doc:"Units, before what is on order is taken off"`
	OnOrder  int          `json:"on_order" doc:"Units on order, drafts among them"`
	Supplier string       `json:"supplier,omitempty"`
	LeadDays int          `json:"lead_days,omitempty" doc:"Lead time of the item"`
	Price    money.Amount `json:"price,omitzero" doc:"Of one pack, in force on the day"`
}

// StillToBuy takes what is on order off what is to buy, and leaves out what needs nothing more. Prices are of a day.
func StillToBuy(buy []inventory.Buy, coming map[At]int, items map[string]inventory.Item,
	products map[int64]inventory.Product, on inventory.Day) []ToBuy {
	out := []ToBuy{}
	for _, b := range buy {
		pr := products[b.Product]
		x := ToBuy{Buy: b, Missing: b.Qty, OnOrder: coming[At{b.Station, b.Item}], Supplier: pr.Supplier,
			LeadDays: items[b.Item].LeadTimeDays, Price: pr.PriceIn(on).Amount}
		if x.Qty -= x.OnOrder; x.Qty <= 0 {
			continue
		}
		if b.PackSize > 0 {
			x.Packs = max(reorder.Packs(x.Qty, b.PackSize), pr.MinimumPacks)
		}
		out = append(out, x)
	}
	slices.SortStableFunc(out, func(a, b ToBuy) int {
		return cmp.Or(inventory.CompareBool(a.Supplier == "", b.Supplier == ""), cmp.Compare(a.Supplier, b.Supplier))
	})
	return out
}
