package inventory

import (
	"slices"
)

// fromLost lets a device that is known as lost be found from there.
func (t *checkTaking) fromLost(ms []Movement) error {
	for i := range ms {
		if ms[i].Reason != ReasonFound {
			continue
		}
		l, err := t.w.Lot(ms[i].LotID)
		if err != nil {
			return err
		}
		if l.Device() {
			ms[i].From = string(KindLost)
		}
	}
	return nil
}

// planFound adds what follows from one thing found that should not be there.
func (t *checkTaking) planFound(plan *checkPlan, f FoundLine, at Instant) error {
	it, err := t.poster.item(f.Item)
	if err != nil {
		return err
	}
	what := plural(f.Qty, "unit") + " of " + it.Name
	lot, training, err := t.trainingDevice(f)
	if err != nil {
		return err
	}
	if f.Reason == FoundTrainingMark || training {
		plan.observations = append(plan.observations, Observation{Kind: SawTrainingMark, Item: it.Code, LotID: lot.ID,
			Text: what + lotText(lot) + " marked for training, found in this bag"})
		return nil
	}
	if f.CameFrom != "" {
		return t.planFromBag(plan, f, at)
	}
	if f.Unidentified {
		return t.planUnidentified(plan, it, f, what, at)
	}
	site, err := t.poster.site(t.bag.AtSite)
	if err != nil {
		return err
	}
	b, err := Receipt{Item: it.Code, Product: f.Product, LotNo: f.LotNo, Serial: f.Serial, EndPrinted: f.EndPrinted, EndWording: f.EndWording, Qty: f.Qty}.batch(it, site.Today(at))
	if err != nil {
		return err
	}
	from, known, waits, err := t.foundLot(b, site.Today(at))
	if err != nil {
		return err
	}
	if waits != "" {
		plan.waits = waits
		return nil
	}
	plan.movements = append(plan.movements, Movement{LotID: known.ID, Qty: f.Qty, From: from, To: t.bag.Code, Reason: ReasonFound, HappenedAt: at})
	return nil
}

// planFromBag moves what another bag had instead of finding it. Where that bag
// lacks it, or has several lots that it could be, the check waits.
func (t *checkTaking) planFromBag(plan *checkPlan, f FoundLine, at Instant) error {
	if err := t.w.LockBags([]string{f.CameFrom}); err != nil {
		return err
	}
	stock, err := t.w.Stock(StockFilter{Places: []string{f.CameFrom}, Item: f.Item})
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
	if waits != "" {
		plan.waits = waits
		return nil
	}
	plan.movements = append(plan.movements, Movement{LotID: lot, Qty: f.Qty, From: f.CameFrom, To: t.bag.Code, Reason: ReasonTransfer, HappenedAt: at,
		Note: "taken by the crew of bag " + t.bag.Code})
	return nil
}

// lotInBag finds the lot that a line means among what lies in a bag, taken
// apart, or says why it cannot.
func lotInBag(stock []Stock, taken map[int64]int, f FoundLine) (lot int64, waits string) {
	could := 0
	for _, st := range stock {
		l := st.Lot
		switch {
		case f.LotID != 0 && l.ID != f.LotID,
			f.LotNo != "" && foldNumber(l.LotNo) != foldNumber(f.LotNo),
			f.Serial != "" && foldNumber(l.Serial) != foldNumber(f.Serial),
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
		return lot, ""
	}
	return 0, "it could be any of several lots in bag " + f.CameFrom
}

// trainingDevice tells whether what was found in a bag for issue is a training
// device by its serial number, marked or not.
func (t *checkTaking) trainingDevice(f FoundLine) (Lot, bool, error) {
	if f.Serial == "" || t.bag.Purpose != ForIssue {
		return Lot{}, false, nil
	}
	lots, err := t.w.Lots(LotFilter{Item: f.Item, Serial: f.Serial, Devices: true}, Page{})
	if err != nil || len(lots) == 0 {
		return Lot{}, false, err
	}
	now, _, err := presentLot(t.w, lots[0])
	return now, now.Training, err
}

// foundLot returns the lot that a find belongs to and where it comes from. A
// device that the ledger has somewhere else makes the check wait.
func (t *checkTaking) foundLot(b Batch, day Day) (from string, lot Lot, waits string, err error) {
	from = string(KindFound)
	clocks := Clocks{Training: t.bag.Purpose == ForTraining}
	if b.Serial == "" {
		if lot, err = t.poster.lotFor(b, clocks, day); err != nil || t.bag.Purpose == ForTraining {
			return from, lot, "", err
		}
		only, err := onlyTraining(t.w, lot.Batch.ID)
		if only {
			waits = "the ledger has this batch as training stock only"
		}
		return from, lot, waits, err
	}
	old, err := t.w.FindBatch(b.Item, 0, "", b.Serial)
	if err != nil && KindOf(err) == NotFound {
		lot, err = t.poster.lotFor(b, clocks, day)
		return from, lot, "", err
	}
	if err != nil {
		return "", Lot{}, "", err
	}
	id, _, lost, err := lostAs(t.w, old.ID)
	if err != nil {
		return "", Lot{}, "", err
	}
	if lost {
		lot, err = t.w.Lot(id)
		return string(KindLost), lot, "", err
	}
	return "", Lot{}, "the ledger has the serial number that was found somewhere else", nil
}

// onlyTraining tells whether all that the service holds of a batch is training
// stock: what is found of it is training stock too.
func onlyTraining(r Reader, batch int64) (bool, error) {
	stock, err := r.Stock(StockFilter{Batch: batch})
	return len(stock) > 0 && !slices.ContainsFunc(stock, func(st Stock) bool { return !st.Lot.Training }), err
}

// planUnidentified sends what bears no batch or date to quarantine, with an
// observation for the quartermaster.
func (t *checkTaking) planUnidentified(plan *checkPlan, it Item, f FoundLine, what string, at Instant) error {
	site, err := t.poster.site(t.bag.AtSite)
	if err != nil {
		return err
	}
	lot, err := t.poster.lotFor(Batch{Item: it.Code}, Clocks{Unidentified: true, Training: t.bag.Purpose == ForTraining}, site.Today(at))
	if err != nil {
		return err
	}
	plan.movements = append(plan.movements, Movement{LotID: lot.ID, Qty: f.Qty, From: string(KindFound), To: site.QuarantineCode(t.bag.Purpose), Reason: ReasonFound, HappenedAt: at})
	plan.observations = append(plan.observations, Observation{Kind: SawUnidentified, Item: it.Code, LotID: lot.ID, Text: what + ": no batch or date to be read, taken to quarantine"})
	return nil
}
