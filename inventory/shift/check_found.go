package shift

import (
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

// fromLost lets a device that is known as lost be found from there.
func (t *checkTaking) fromLost(ms []inventory.Movement) error {
	for i := range ms {
		if ms[i].Reason != inventory.ReasonFound {
			continue
		}
		l, err := t.unit.Lot(ms[i].LotID)
		if err != nil {
			return err
		}
		if l.Device() {
			ms[i].From = string(inventory.KindLost)
		}
	}
	return nil
}

// planFound adds what follows from one thing found that should not be there.
func (t *checkTaking) planFound(plan *checkPlan, f inventory.FoundLine, at inventory.Instant) error {
	it, err := t.unit.Item(f.Item)
	if err != nil {
		return err
	}
	lot, training, err := t.trainingDevice(f)
	if err != nil {
		return err
	}
	if f.Reason == inventory.FoundTrainingMark || training {
		plan.observations = append(plan.observations, inventory.Observation{Kind: inventory.SawTrainingMark, Item: it.Code,
			LotID: lot.ID,
			Text:  message.M("{1}: marked for training, found in this bag", inventory.UnitsOf(f.Qty, it.Name, lot))})
		return nil
	}
	if f.CameFrom != "" {
		return t.planFromBag(plan, f, at)
	}
	if f.Unidentified {
		return t.planUnidentified(plan, it, f, at)
	}
	station, err := t.unit.Station(t.bag.AtStation)
	if err != nil {
		return err
	}
	b, err := inventory.Receipt{Item: it.Code, Product: f.Product, BatchNo: f.BatchNo, Serial: f.Serial,
		EndPrinted: f.EndPrinted, EndWording: f.EndWording, Qty: f.Qty, Unworded: true}.Batch(it, station.Today(at))
	if err != nil {
		return err
	}
	from, known, waits, err := t.foundLot(b, station.Today(at))
	if err != nil {
		return err
	}
	if waits != nil {
		plan.waits = waits
		return nil
	}
	plan.movements = append(plan.movements, inventory.Movement{LotID: known.ID, Qty: f.Qty, From: from, To: t.bag.Code,
		Reason: inventory.ReasonFound, HappenedAt: at})
	return nil
}

// planFromBag moves what another bag had instead of finding it. Where that bag
// lacks it, or has several lots that it could be, the check waits.
func (t *checkTaking) planFromBag(plan *checkPlan, f inventory.FoundLine, at inventory.Instant) error {
	if err := t.w.LockBags([]string{f.CameFrom}); err != nil {
		return err
	}
	stock, err := t.w.Stock(inventory.StockFilter{Places: []string{f.CameFrom}, Items: []string{f.Item}})
	if err != nil {
		return err
	}
	taken := map[int64]int{}
	for _, m := range plan.movements {
		if m.From == f.CameFrom {
			taken[m.LotID] += m.Qty
		}
	}
	lot, waits := lotInBag(stock, taken, f)
	if waits != nil {
		plan.waits = waits
		return nil
	}
	plan.movements = append(plan.movements, inventory.Movement{LotID: lot, Qty: f.Qty, From: f.CameFrom, To: t.bag.Code,
		Reason: inventory.ReasonTransfer, HappenedAt: at,
		Note: "taken by the crew of bag " + t.bag.Code})
	return nil
}

// lotInBag finds the lot that a line means among what lies in a bag, taken apart, or says why it cannot.
func lotInBag(stock []inventory.Stock, taken map[int64]int, f inventory.FoundLine) (lot int64, waits message.Message) {
	could := 0
	for _, st := range stock {
		l := st.Lot
		switch {
		case f.LotID != 0 && l.ID != f.LotID,
			f.BatchNo != "" && inventory.FoldNumber(l.BatchNo) != inventory.FoldNumber(f.BatchNo),
			f.Serial != "" && inventory.FoldNumber(l.Serial) != inventory.FoldNumber(f.Serial),
			st.Qty-taken[l.ID] < f.Qty:
			continue
		}
		could++
		lot = l.ID
	}
	switch could {
	case 0:
		return 0, waitsStock
	case 1:
		return lot, nil
	}
	return 0, message.M("could be any of several batches in bag {1}", f.CameFrom)
}

// trainingDevice tells whether what was found in a bag for issue is a training
// device by its serial number, marked or not.
func (t *checkTaking) trainingDevice(f inventory.FoundLine) (inventory.Lot, bool, error) {
	if f.Serial == "" || t.bag.Purpose != inventory.ForIssue {
		return inventory.Lot{}, false, nil
	}
	lots, err := t.w.Lots(inventory.LotFilter{Item: f.Item, Serial: f.Serial, Devices: true}, inventory.Page{})
	if err != nil || len(lots) == 0 {
		return inventory.Lot{}, false, err
	}
	now, _, err := stock.PresentLot(t.w, lots[0])
	return now, now.Training, err
}

// foundLot returns the lot that a find belongs to and where it comes from. A
// device that the ledger has somewhere else makes the check wait.
func (t *checkTaking) foundLot(b inventory.Batch, day inventory.Day) (from string, lot inventory.Lot,
	waits message.Message,
	err error) {
	from = string(inventory.KindFound)
	clocks := inventory.Clocks{Training: t.bag.Purpose == inventory.ForTraining}
	if b.Serial == "" {
		if lot, err = t.unit.LotFor(b, clocks, day); err != nil || t.bag.Purpose == inventory.ForTraining {
			return from, lot, nil, err
		}
		only, err := onlyTraining(t.w, lot.Batch.ID)
		if only {
			waits = message.M("recorded as training stock only")
		}
		return from, lot, waits, err
	}
	old, err := t.w.FindBatch(b.Item, 0, "", b.Serial)
	if err != nil && inventory.KindOf(err) == inventory.NotFound {
		lot, err = t.unit.LotFor(b, clocks, day)
		return from, lot, nil, err
	}
	if err != nil {
		return "", inventory.Lot{}, nil, err
	}
	id, _, lost, err := ledger.LostAs(t.w, old.ID)
	if err != nil {
		return "", inventory.Lot{}, nil, err
	}
	if lost {
		lot, err = t.w.Lot(id)
		return string(inventory.KindLost), lot, nil, err
	}
	return "", inventory.Lot{}, message.M("serial number recorded elsewhere"), nil
}

// onlyTraining tells whether all that the service holds of a batch is training
// stock: what is found of it is training stock too.
func onlyTraining(r inventory.Reader, batch int64) (bool, error) {
	stock, err := r.Stock(inventory.StockFilter{Batches: []int64{batch}})
	return len(stock) > 0 && !slices.ContainsFunc(stock, func(st inventory.Stock) bool { return !st.Lot.Training }), err
}

// planUnidentified sends what bears no batch or date to quarantine, with an observation for the quartermaster.
func (t *checkTaking) planUnidentified(plan *checkPlan, it inventory.Item, f inventory.FoundLine,
	at inventory.Instant) error {
	station, err := t.unit.Station(t.bag.AtStation)
	if err != nil {
		return err
	}
	lot, err := t.unit.LotFor(inventory.Batch{Item: it.Code}, inventory.Clocks{Unidentified: true,
		Training: t.bag.Purpose == inventory.ForTraining}, station.Today(at))
	if err != nil {
		return err
	}
	plan.movements = append(plan.movements, inventory.Movement{LotID: lot.ID, Qty: f.Qty,
		From: string(inventory.KindFound), To: station.QuarantineCode(t.bag.Purpose), Reason: inventory.ReasonFound,
		HappenedAt: at})
	plan.observations = append(plan.observations, inventory.Observation{Kind: inventory.SawUnidentified, Item: it.Code,
		LotID: lot.ID, Text: message.M("{1}: unreadable, to quarantine",
			inventory.UnitsOf(f.Qty, it.Name, lot))})
	return nil
}
