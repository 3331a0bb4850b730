package storeroom

import (
	"errors"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// Trouble is why a line of a delivery cannot be put away as it stands.
type Trouble string

// The troubles.
const (
	TroubleNone     Trouble = ""
	TroubleUnknown  Trouble = "unknown"  // no product has the code: which item is it?
	TroubleMissing  Trouble = "missing"  // the code leaves something out, or says something odd
	TroublePast     Trouble = "past"     // past its last usable day: it needs a way
	TroubleNotice   Trouble = "notice"   // under a withdrawing notice: into quarantine only
	TroubleConflict Trouble = "conflict" // received before with another date
	TroubleOther    Trouble = "other"    // what else the rules forbid
)

// DeliveryPlan is a delivery as it would be put away now.
type DeliveryPlan struct {
	inventory.Delivery
	DeliveryFacts
	Rows     []DeliveryRow
	Ready    bool // every line can be put away
	Unsigned bool // it holds a controlled item, and two people have not signed yet
}

// DeliveryFacts are what a delivery is judged by.
type DeliveryFacts struct {
	Store    inventory.Place
	Station  inventory.Station // of the store
	Today    inventory.Day
	Signed   bool                // two people have
	Products []inventory.Product // at least those of the lines, and those that have codes of lines
	Items    []inventory.Item    // of these products
	Notices  []inventory.Notice  // on the items
	Batches  []inventory.Batch   // of the items
	Back     []inventory.Lot     // devices that are at their supplier again
}

// DeliveryRow is a line of a delivery with what is known of it.
type DeliveryRow struct {
	inventory.DeliveryLine
	Is       inventory.Item    // none while the code is unknown
	Pack     inventory.Product // likewise
	InAll    int               // units, 0 where that cannot be told
	Through  inventory.Day     // last usable day of the batch
	Ways     []inventory.WayIn // where it may go
	Earlier  *inventory.BatchFacts
	Notices  []string // that withdraw it
	Trouble  Trouble
	Problem  message.Message
	Problems []inventory.Field
	Plan     inventory.ReceiptPlan // where there is no trouble
}

// PlanDelivery tells what becomes of each line of a delivery, or what is in the way of it. Lines are judged in order:
// the batch that one brings is known to those below it. A delivery that has ended is only described.
func PlanDelivery(d inventory.Delivery, facts DeliveryFacts) DeliveryPlan {
	open := d.Status == inventory.DeliveryOpen
	p := DeliveryPlan{Delivery: d, DeliveryFacts: facts, Ready: open && len(d.Lines) > 0}
	known := map[string]*inventory.ReceiptFacts{}
	for _, it := range facts.Items {
		known[it.Code] = inventory.NewReceiptFacts(it, facts.Products, facts.Notices, facts.Batches, facts.Back)
	}
	for _, l := range d.Lines {
		row := DeliveryRow{DeliveryLine: l}
		if open && l.Product == 0 {
			row.lookUp(facts.Products, facts.Items)
		}
		if k := known[row.Item]; k != nil {
			row.describe(facts, k)
		}
		if open {
			err := row.plan(p, known[row.Item])
			row.explain(err)
			p.Ready = p.Ready && err == nil
			p.Unsigned = p.Unsigned || err == nil && row.Is.Controlled && !facts.Signed
		}
		p.Rows = append(p.Rows, row)
	}
	return p
}

// lookUp finds the product of a code that somebody has named elsewhere since it was scanned.
func (row *DeliveryRow) lookUp(products []inventory.Product, items []inventory.Item) {
	of := slices.DeleteFunc(slices.Clone(products), func(pr inventory.Product) bool {
		return !pr.HasCode(row.Scheme, row.Code)
	})
	for _, it := range items {
		if len(of) == 1 && it.Code == of[0].Item {
			row.Know(of[0], it)
		}
	}
}

// describe says what is known of a row whose item is known.
func (row *DeliveryRow) describe(facts DeliveryFacts, k *inventory.ReceiptFacts) {
	row.Is = k.Item
	for _, pr := range facts.Products {
		if pr.ID == row.Product {
			row.Pack = pr
		}
	}
	row.InAll, _ = row.UnitsIn(row.Is, row.Pack)
	in := row.receipt(facts.Store, "")
	b, err := in.Batch(row.Is, facts.Today)
	if err != nil {
		return // planning it says what is missing
	}
	row.Through = b.LastUsable
	plan, err := k.Settle(in, b)
	if err != nil {
		return // likewise
	}
	row.Through, row.Notices = plan.Batch.LastUsable, plan.Batch.Withdrawn
	row.Ways = WaysIn(row.Is, *plan.Batch, len(row.Notices) > 0, facts.Store, facts.Today)
}

// plan judges a row where it goes.
func (row *DeliveryRow) plan(p DeliveryPlan, known *inventory.ReceiptFacts) (err error) {
	if row.Product == 0 {
		row.Trouble = TroubleUnknown
		return inventory.Refuse(inventory.Conflict, "choose the item")
	}
	if _, err := row.UnitsIn(row.Is, row.Pack); err != nil {
		return err
	}
	way, said := row.way()
	if !said {
		row.Trouble = TroublePast
		if len(row.Notices) > 0 {
			row.Trouble = TroubleNotice
		}
		return inventory.Refuse(inventory.Conflict, "cannot go into {1}", p.Store.Name)
	}
	to := p.placeFor(way)
	row.To = to.Code
	if way == inventory.InDisposed {
		row.To = string(inventory.KindDisposed)
	}
	row.Plan, err = inventory.JudgeReceipt(row.receipt(to, p.Reference), inventory.Carried{}, to, p.Today, known)
	if err == nil {
		known.Put(row.Plan.Batch)
	}
	return err
}

// way is where a row goes: where a person said, if it may go there, else the
// usual one. What is past its day goes nowhere until a person has said where.
func (row DeliveryRow) way() (inventory.WayIn, bool) {
	if slices.Contains(row.Ways, row.Way) {
		return row.Way, true
	}
	return inventory.InPlace, len(row.Ways) == 0 || row.Ways[0] == inventory.InPlace
}

// placeFor is the place where packs go one way; those that are disposed of come into quarantine first.
func (k DeliveryFacts) placeFor(w inventory.WayIn) inventory.Place {
	code := k.Store.Code
	switch w {
	case inventory.InTraining:
		code = k.Station.TrainingStoreCode()
	case inventory.InQuarantine, inventory.InDisposed:
		code = k.Station.QuarantineCode(k.Store.Purpose)
	}
	for _, place := range k.Station.StationPlaces() {
		if place.Code == code {
			return place
		}
	}
	return k.Store
}

// receipt is the receipt that a row becomes.
func (row DeliveryRow) receipt(to inventory.Place, reference string) inventory.Receipt {
	return inventory.Receipt{Place: to.Code, Item: row.Item, Product: row.Product, BatchNo: row.BatchNo,
		Serial: row.Serial,
		MadeOn: row.MadeOn, EndPrinted: row.EndPrinted, EndWording: row.EndWording, Qty: max(1, row.InAll),
		Reference: reference, OnConflict: row.OnConflict, CorrectionReason: row.Reason}
}

// explain notes why a line could not be received.
func (row *DeliveryRow) explain(err error) {
	if err == nil {
		return
	}
	row.To = ""
	row.Problem, row.Problems = inventory.MessageOf(err), inventory.FieldsOf(err)
	var other inventory.OtherDates
	switch {
	case row.Trouble != TroubleNone: // known before it was judged
	case inventory.KindOf(err) == inventory.Invalid:
		row.Trouble = TroubleMissing
	case errors.As(err, &other):
		earlier := other.Old.Facts()
		row.Trouble, row.Earlier = TroubleConflict, &earlier
	default:
		row.Trouble = TroubleOther
	}
}

// Disposal is the movement that takes away what a row brought in, where it is disposed of at once.
func (row DeliveryRow) Disposal(in inventory.Movement) (inventory.Movement, bool) {
	return inventory.Movement{LotID: in.LotID, Qty: in.Qty, From: in.To, To: string(inventory.KindDisposed),
		Reason: inventory.ReasonDisposed,
		Cause:  inventory.CauseExpired, Reference: in.Reference}, row.To == string(inventory.KindDisposed)
}

// mayBeOf lists the items that the lines of a delivery may be of, in order.
func mayBeOf(d inventory.Delivery, products []inventory.Product) (items []string) {
	for _, l := range d.Lines {
		if l.Item != "" {
			items = append(items, l.Item)
		}
		for _, pr := range products {
			if l.Product == 0 && pr.HasCode(l.Scheme, l.Code) {
				items = append(items, pr.Item)
			}
		}
	}
	slices.Sort(items)
	return slices.Compact(items)
}

// MayPutAway refuses a delivery that has ended, is empty, or has a line with something in its way; signatures apart.
func (p DeliveryPlan) MayPutAway() error {
	var ps inventory.Problems
	inventory.CheckText(&ps, "reference", p.Reference, false, inventory.MaxName)
	switch err := ps.Err(); {
	case err != nil:
		return err
	case p.Status != inventory.DeliveryOpen:
		return inventory.Refuse(inventory.Conflict, "closed already")
	case len(p.Lines) == 0:
		return inventory.Refuse(inventory.Conflict, "nothing scanned yet")
	case !p.Ready && !p.Unsigned:
		return inventory.Refuse(inventory.Conflict, "some packs need attention: nothing put away yet")
	}
	return nil
}

// WaysIn lists where a pack that is being received may go, the usual one first. Nothing under a withdrawing notice is
// received but into quarantine. What is past its last day never goes into issue stock: it is for training or to be
// disposed of, a medicine to be disposed of only. A controlled item waits in quarantine for a disposal with a
// witness.
func WaysIn(it inventory.Item, b inventory.Batch, withdrawn bool, place inventory.Place,
	day inventory.Day) []inventory.WayIn {
	out := inventory.InDisposed
	if it.Controlled {
		out = inventory.InQuarantine
	}
	switch {
	case place.Kind == inventory.KindQuarantine:
		return []inventory.WayIn{inventory.InPlace}
	case withdrawn:
		return []inventory.WayIn{inventory.InQuarantine}
	case !inventory.PastEnd(it, inventory.Lot{Batch: b}, day):
		return []inventory.WayIn{inventory.InPlace}
	case it.Category.Medicinal():
		return []inventory.WayIn{out}
	case place.Purpose == inventory.ForTraining:
		return []inventory.WayIn{inventory.InPlace, out}
	}
	return []inventory.WayIn{inventory.InTraining, out}
}
