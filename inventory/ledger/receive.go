package ledger

import (
	"context"

	"stowkeeper/inventory"
)

// Receive books units in and returns their lot. Refuses: Forbidden without keep_stock at the place's station;
// Invalid by field, and where a controlled item lacks signatures; Conflict for other dates than the batch was
// received with, a serial number received before, what is past its last day or under a notice, and a bag that is
// retired. Locks the item.
func (s *Service) Receive(ctx context.Context, by inventory.Actor, in inventory.Receipt) (inventory.Lot, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Lot, error) {
		in.Place, in.Item = inventory.NormalCode(in.Place), inventory.NormalCode(in.Item)
		p := NewUnit(w, by, s.now(), TwoSign)
		if err := by.Must(inventory.ActKeepStock, ""); err != nil {
			return inventory.Lot{}, err
		}
		place, err := p.Place(in.Place)
		if err != nil {
			return inventory.Lot{}, inventory.AsField(err, "place", "place")
		}
		if err := p.May(inventory.ActKeepStock, place); err != nil {
			return inventory.Lot{}, err
		}
		m, err := p.Receipt(in, place, inventory.Carried{})
		if err != nil {
			return inventory.Lot{}, err
		}
		ms, err := p.Post([]inventory.Movement{m}, "receipt")
		if err != nil {
			return inventory.Lot{}, err
		}
		return w.Lot(ms[0].IntoLotID)
	})
}

// Receipt judges units coming in and returns the movement that brings them,
// their lot made where it does not exist.
func (p *Unit) Receipt(in inventory.Receipt, place inventory.Place, had inventory.Carried) (inventory.Movement, error) {
	station, err := p.CurrentStation(place)
	if err != nil {
		return inventory.Movement{}, err
	}
	if in.HappenedAt, err = Happened(in.HappenedAt, p.Now, "happened_at"); err != nil {
		return inventory.Movement{}, err
	}
	day := station.Today(in.HappenedAt)
	if in, err = p.fromCode(in, day); err != nil {
		return inventory.Movement{}, err
	}
	if in.Item == "" {
		return inventory.Movement{}, inventory.Invalidf("item", "name the item")
	}
	known, err := p.receiptFacts(in.Item)
	if err != nil {
		return inventory.Movement{}, inventory.AsField(err, "item", "item")
	}
	plan, err := inventory.JudgeReceipt(in, had, place, day, known)
	if err != nil {
		return inventory.Movement{}, err
	}
	return p.Book(plan)
}

// receiptFacts reads what receipts of an item are judged by, once. The item is
// locked, so that nobody adds batches or notices meanwhile.
func (p *Unit) receiptFacts(item string) (*inventory.ReceiptFacts, error) {
	return Cached(p.receipts, item, func(item string) (*inventory.ReceiptFacts, error) {
		it, err := p.Item(item)
		if err != nil {
			return nil, err
		}
		if err := p.W.LockItem(item); err != nil {
			return nil, err
		}
		products, err := p.W.Products(inventory.ProductFilter{Item: item}, inventory.Page{})
		if err != nil {
			return nil, err
		}
		notices, err := p.W.Notices(inventory.NoticeFilter{Item: item}, inventory.Page{})
		if err != nil {
			return nil, err
		}
		batches, err := p.W.Batches(inventory.BatchFilter{Items: []string{item}})
		return inventory.NewReceiptFacts(it, products, notices, batches), err
	})
}

// Book makes the batch and the lot of a planned receipt, where they do not
// exist, and returns the movement that brings the units in.
func (p *Unit) Book(plan inventory.ReceiptPlan) (inventory.Movement, error) {
	lot, err := p.lotOf(plan)
	plan.Movement.LotID = lot.ID
	return plan.Movement, err
}

func (p *Unit) lotOf(plan inventory.ReceiptPlan) (inventory.Lot, error) {
	b := plan.Batch
	var err error
	switch {
	case plan.Corrects != nil:
		_, err = p.correctBatch(*plan.Corrects, *b, plan.Because)
	case b.ID == 0:
		err = p.addBatch(b)
	}
	if err != nil {
		return inventory.Lot{}, err
	}
	if known := p.receipts[b.Item]; known != nil {
		known.Put(b)
	}
	lot, err := p.W.EnsureLot(b.ID, plan.Clocks, 0, plan.ReceivedOn)
	if err == nil {
		p.lots[lot.ID] = lot
	}
	return lot, err
}

// addBatch adds a batch, marked with the notices that mean it.
func (p *Unit) addBatch(b *inventory.Batch) error {
	record := b.BatchRecord
	added, err := p.W.AddBatch(*b)
	if err != nil {
		return err
	}
	b.ID = added.ID
	if SameRecord(record, inventory.BatchRecord{}) {
		return nil
	}
	return p.W.SetBatchRecord(b.ID, record)
}

// LotFor returns the lot of a batch with those clocks, making batch and lot
// where they do not exist. The same batch with another date is a conflict that
// says what the earlier record has.
func (p *Unit) LotFor(b inventory.Batch, c inventory.Clocks, day inventory.Day) (inventory.Lot, error) {
	known, err := p.receiptFacts(b.Item)
	if err != nil {
		return inventory.Lot{}, err
	}
	plan, err := known.Settle(inventory.Receipt{}, b)
	if err != nil {
		return inventory.Lot{}, err
	}
	plan.Clocks, plan.ReceivedOn = c, day
	return p.lotOf(plan)
}
