package ledger

import (
	"cmp"
	"context"
	"slices"

	"stowkeeper/inventory"
)

// Receive books units in and returns their lot. Refuses: Forbidden without keep_stock at the place's station;
// Invalid by field, and where a controlled item lacks signatures; Conflict for other dates than the batch was
// received with, a serial number received before, what is past its last day or under a notice, and a bag that is
// retired. Locks the item.
func (s *Service) Receive(ctx context.Context, by inventory.Actor, in inventory.Receipt) (inventory.Lot, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Lot, error) {
		in.Place, in.Item = inventory.NormalCode(in.Place), inventory.NormalCode(in.Item)
		u := NewUnit(w, by, s.now(), TwoSign)
		u.Together()
		if err := by.Must(inventory.ActKeepStock, ""); err != nil {
			return inventory.Lot{}, err
		}
		place, err := u.Place(in.Place)
		if err != nil {
			return inventory.Lot{}, inventory.AsField(err, "place", "not found")
		}
		if err := u.May(inventory.ActKeepStock, place); err != nil {
			return inventory.Lot{}, err
		}
		m, err := u.Receipt(in, place, inventory.Carried{})
		if err != nil {
			return inventory.Lot{}, err
		}
		ms, err := u.Post([]inventory.Movement{m}, "receipt")
		if err != nil {
			return inventory.Lot{}, err
		}
		return w.Lot(ms[0].IntoLotID)
	})
}

// Receipt judges units coming in and returns the movement that brings them, their lot made where it does not exist.
func (u *Unit) Receipt(in inventory.Receipt, place inventory.Place, had inventory.Carried) (inventory.Movement, error) {
	station, err := u.CurrentStation(place)
	if err != nil {
		return inventory.Movement{}, err
	}
	if in.HappenedAt, err = Happened(in.HappenedAt, u.Now, "happened_at"); err != nil {
		return inventory.Movement{}, err
	}
	day := station.Today(in.HappenedAt)
	if in, err = u.fromCode(in, day); err != nil {
		return inventory.Movement{}, err
	}
	if in.Item == "" {
		return inventory.Movement{}, inventory.InvalidField("item", "choose the item")
	}
	if u.receipts[in.Item] == nil { // it is the only receipt
		if err := u.KnowReceipts([]inventory.Receipt{in}); err != nil {
			return inventory.Movement{}, err
		}
	}
	known, err := u.ReceiptFacts(in.Item)
	if err != nil {
		return inventory.Movement{}, inventory.AsField(err, "item", "not found")
	}
	plan, err := inventory.JudgeReceipt(in, had, place, day, known)
	if err != nil {
		return inventory.Movement{}, err
	}
	return u.Book(plan)
}

// ReceiptFacts are what receipts of an item are judged by, all of its batches where nobody said what they are of.
func (u *Unit) ReceiptFacts(item string) (*inventory.ReceiptFacts, error) {
	if u.receipts[item] == nil {
		if _, err := u.Item(item); err != nil {
			return nil, err
		}
		if err := u.readReceiptFacts([]string{item}, nil); err != nil {
			return nil, err
		}
	}
	return u.receipts[item], nil
}

// KnowReceipts looks up what receipts are judged by, each kind of thing in one statement. What does not exist is left
// to the judging.
func (u *Unit) KnowReceipts(ins []inventory.Receipt) error {
	var places, codes, items []string
	var numbers [][2]string
	for _, in := range ins {
		places, codes = append(places, in.Place), append(codes, in.Item)
	}
	if err := cmp.Or(u.knowPlaces(places), u.knowItems(codes), u.knowStations(len(ins))); err != nil {
		return err
	}
	for _, in := range ins {
		if _, is := u.items[in.Item]; is {
			numbers = append(numbers, [2]string{in.Item, inventory.OneLine(in.BatchNo)})
		}
	}
	for _, item := range missing(u.receipts, codes) {
		if _, is := u.items[item]; is {
			items = append(items, item)
		}
	}
	return cmp.Or(u.readReceiptFacts(items, numbers), u.knowBags(places)) // in the order of locks
}

// readReceiptFacts reads what receipts are judged by: of items that are new to the unit, and batches of all by number,
// or else all batches of the items. Items are locked, so that nobody adds batches or notices meanwhile.
func (u *Unit) readReceiptFacts(items []string, numbers [][2]string) error {
	if len(items)+len(numbers) == 0 {
		return nil
	}
	for _, item := range items {
		if err := u.W.LockItem(item); err != nil {
			return err
		}
	}
	batches, err := u.W.Batches(inventory.BatchFilter{Items: items, Numbers: numbers})
	if err != nil {
		return err
	}
	if len(items) > 0 {
		if err := u.newReceiptFacts(items, batches); err != nil {
			return err
		}
	}
	for _, b := range batches {
		if !slices.Contains(items, b.Item) {
			u.receipts[b.Item].Put(&b)
		}
	}
	return nil
}

func (u *Unit) newReceiptFacts(items []string, batches []inventory.Batch) error {
	products, err := u.W.Products(inventory.ProductFilter{Items: items}, inventory.Page{})
	if err != nil {
		return err
	}
	var on inventory.NoticeFilter
	if len(items) == 1 {
		on.Item = items[0]
	}
	notices, err := u.W.Notices(on, inventory.Page{})
	if err != nil {
		return err
	}
	for _, item := range items {
		of := slices.DeleteFunc(slices.Clone(products), func(p inventory.Product) bool { return p.Item != item })
		var back []inventory.Lot
		if u.items[item].TrackedBy == inventory.BySerial {
			if back, err = u.devicesBack(item); err != nil {
				return err
			}
		}
		u.receipts[item] = inventory.NewReceiptFacts(u.items[item], of, notices, batches, back)
	}
	return nil
}

// devicesBack are the devices of an item that are at their supplier again, or never came. What never came was never in
// training either, whichever place somebody chose by mistake.
func (u *Unit) devicesBack(item string) ([]inventory.Lot, error) {
	back, err := u.W.Lots(inventory.LotFilter{Item: item, Last: inventory.KindSupplier}, inventory.Page{})
	for i := range back {
		if !back[i].Clocks.Training {
			continue
		}
		of, err := u.W.Movements(inventory.MovementFilter{Batch: back[i].Batch.ID}, inventory.Page{})
		if err != nil {
			return nil, err
		}
		used, err := u.W.TrainingUses(inventory.BatchFilter{IDs: []int64{back[i].Batch.ID}}, inventory.Page{Limit: 1})
		if err != nil {
			return nil, err
		}
		back[i].Clocks.Training = Came(of) || len(used) > 0
	}
	return back, err
}

// Came tells whether any of its receipts brought a device in, of all its movements: one corrected to 0 brought none,
// unless the device was moved on meanwhile.
func Came(of []inventory.Movement) bool {
	return slices.ContainsFunc(of, func(m inventory.Movement) bool {
		return m.Reason != inventory.ReasonCorrection && (!received(m) || MayCorrectReceipt(m, of) == nil)
	})
}

func received(m inventory.Movement) bool {
	return m.Reason == inventory.ReasonReceipt || m.Reason == inventory.ReasonOpening
}

// Book makes the batch and the lot of a planned receipt, where they do not
// exist, and returns the movement that brings the units in.
func (u *Unit) Book(plan inventory.ReceiptPlan) (inventory.Movement, error) {
	lot, err := u.lotOf(plan)
	plan.Movement.LotID = lot.ID
	return plan.Movement, err
}

func (u *Unit) lotOf(plan inventory.ReceiptPlan) (inventory.Lot, error) {
	b := plan.Batch
	var err error
	switch {
	case plan.Corrects != nil:
		_, err = u.correctBatch(*plan.Corrects, *b, plan.Because, false)
	case b.ID == 0:
		err = u.addBatch(b)
	}
	if err != nil {
		return inventory.Lot{}, err
	}
	if known := u.receipts[b.Item]; known != nil {
		known.Put(b)
	}
	lot, err := u.ensureLot(inventory.Lot{Batch: *b, Clocks: plan.Clocks, ReceivedOn: plan.ReceivedOn})
	if err == nil {
		u.lots[lot.ID] = lot
	}
	return lot, err
}

// LotFor returns the lot of a batch with those clocks, making batch and lot where they do not exist. The same batch
// with another date is a conflict that says what the earlier record has.
func (u *Unit) LotFor(b inventory.Batch, c inventory.Clocks, day inventory.Day) (inventory.Lot, error) {
	known, err := u.ReceiptFacts(b.Item)
	if err != nil {
		return inventory.Lot{}, err
	}
	plan, err := known.Settle(inventory.Receipt{}, b)
	if err != nil {
		return inventory.Lot{}, err
	}
	plan.Clocks, plan.ReceivedOn = c, day
	return u.lotOf(plan)
}
