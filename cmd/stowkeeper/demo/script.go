package demo

import (
	"cmp"
	"fmt"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/count"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/transfer"
)

// tourBag is the bag that the tour in the README walks through.
const tourBag = "FM-TR1"

// spareBag is the one that a station lends to another at the end.
const spareBag = "FM-TR9"

// wornSerial is the training device that classes wear out; it lies in the
// training store, since the bag takes the first ones.
const wornSerial = "TR-0041"

// script lists what is told in particular: it makes sure that the year ends with something of everything to look at.
func (s *scenario) script(d int) []event {
	fm, ht, ov, sq := s.station("FM"), s.station("HT"), s.station("OV"), s.station("SQ")
	switch d {
	case Days - 44:
		return []event{{fm, 9, 0, s.shortGauze}, {fm, 9, 30, func() { s.restockWith("DR-HAEM-G") }}}
	case wornDay:
		return []event{{fm, 15, 0, s.wornDevice}}
	case Days - 19:
		return []event{{ht, 14, 0, func() { s.count("HT-STORE", true) }}}
	case Days - 5:
		return []event{{fm, 11, 0, s.readySpare}}
	case Days - 4:
		return []event{{sq, 8, 0, func() {
			why := "zip of the main compartment torn"
			must(s.svc.Lists.UpdateBag(s.ctx, s.staff["SQ"], "SQ-RS2", 0, ledger.BagChange{OutOfService: &why}))
		}}}
	case Days - 3:
		return []event{
			{fm, 16, 0, s.tidyTourBag},
			{ov, 7, 30, s.otherSeal},
			{sq, 11, 0, func() { s.incident(s.bag("SQ-TR2"), d) }},
		}
	case Days - 2:
		return []event{{ov, 10, 0, func() { s.transfer("FM", "OV", "BD-TRI", 4, 3) }}}
	case Days - 1:
		return []event{
			{fm, 8, 0, func() { s.transfer("OV", "FM", "DR-EYE", 2, -1) }},
			{fm, 14, 30, func() { s.transfer("SQ", "HT", "AW-NPA-6", 2, 0) }},
			{ov, 15, 0, func() { s.count("OV-STORE", false) }},
			{ht, 7, 15, s.trainingMark},
			{fm, 18, 40, s.useOfWhatIsNotThere},
			{fm, 20, 10, s.lateCheck},
			{fm, 22, 0, func() { s.incident(s.bag("FM-TR2"), d) }},
		}
	}
	return nil
}

// transfer has one station send units of an item to another, of which so many arrive: 0 while they are on their way. It
// is asked for only where that is less than 0.
func (s *scenario) transfer(from, to, item string, qty, arrive int) {
	qm := s.staff["quartermaster"]
	t := must(s.svc.Transfer.Ask(s.ctx, qm, transfer.TransferRequest{From: from + "-STORE", To: to + "-STORE",
		Lines: []transfer.AskedLine{{Item: item, Qty: qty}}}))
	if arrive < 0 {
		return
	}
	var lines []transfer.LotQuantity
	for lot, n := range t.Suggest {
		lines = append(lines, transfer.LotQuantity{LotID: lot, Qty: n})
	}
	slices.SortFunc(lines, func(a, b transfer.LotQuantity) int { return cmp.Compare(a.LotID, b.LotID) })
	t = must(s.svc.Transfer.Send(s.ctx, qm, t.ID, lines, "with the evening van"))
	if arrive > 0 {
		must(s.svc.Transfer.Receive(s.ctx, qm, t.ID, transfer.Arrival{
			Lines: []transfer.LotQuantity{{LotID: t.Lines[0].LotID, Qty: arrive}}}))
	}
}

// count counts a store, in which one roll is missing; or the first batches of it only.
func (s *scenario) count(place string, whole bool) {
	qm, missing := s.staff["quartermaster"], int64(0)
	c := must(s.svc.Count.Start(s.ctx, qm, place, false))
	var lines []count.CountEntry
	for _, l := range must(s.svc.Stock.StockAt(s.ctx, founder, place)) {
		n := l.Where[slices.IndexFunc(l.Where, func(w stock.AtPlace) bool { return w.Place == place })].Qty
		if l.Item == "TAPE-PAPER" && missing == 0 {
			n, missing = n-1, l.ID
		}
		lines = append(lines, count.CountEntry{LotID: l.ID, Counted: n})
	}
	if !whole {
		lines = lines[:9]
	}
	must(s.svc.Count.Enter(s.ctx, qm, c.ID, lines))
	if whole {
		must(s.svc.Count.Post(s.ctx, qm, c.ID, []count.Explained{{LotID: missing, Reason: inventory.CountMissing}}))
	}
}

func (s *scenario) bag(code string) inventory.Bag {
	for _, b := range s.bags {
		if b.Code == code {
			return b
		}
	}
	return inventory.Bag{}
}

// shortGauze receives haemostatic gauze that runs out five days before the scenario ends.
func (s *scenario) shortGauze() {
	fm := s.station("FM")
	must(s.svc.Ledger.Receive(s.ctx, s.staff["quartermaster"], inventory.Receipt{Place: fm.StoreCode(),
		Item: "DR-HAEM-G", Product: s.items["DR-HAEM-G"].product,
		BatchNo: "H24-0117", EndPrinted: fm.Today(s.end).AddDays(-5).String(), EndWording: inventory.WordHourglass, Qty: 5}))
}

// restockWith swaps one unit of an item in the tour's bag for the unit of the store that runs out first.
func (s *scenario) restockWith(item string) {
	fm := s.station("FM")
	c := must(s.svc.Shift.Checklist(s.ctx, founder, tourBag, lists.Outlook{}))
	in := inventory.Restock{Bag: tourBag, SealSet: s.sealNumber()}
	for _, lot := range lotsOf(c.Readiness) {
		if lot.Item == item && lot.Usable {
			in.TakeOut = append(in.TakeOut, inventory.TakeOutLine{LotID: lot.LotID, Qty: 1, To: fm.StoreCode(),
				Reason: inventory.ReasonReturn})
			break
		}
	}
	lots := must(s.svc.Stock.StockAt(s.ctx, founder, fm.StoreCode()))
	for _, l := range lots {
		if l.BatchNo == "H24-0117" {
			in.Lines = append(in.Lines, inventory.RestockLine{LotID: l.ID, Qty: 1, From: fm.StoreCode()})
		}
	}
	must(s.svc.Storeroom.RecordRestock(s.ctx, s.staff["quartermaster"], in, 0))
}

// readySpare brings the spare bag back to its list, before it is lent.
func (s *scenario) readySpare() {
	for _, item := range []string{"MARK-PERM", "TL-SHEARS"} {
		s.receive(s.station("FM"), item, s.items[item].pack, 12, false)
	}
	s.restock(s.bag(spareBag))
}

// tidyTourBag brings the tour's bag back to its list, but for the gauze that has run out since.
func (s *scenario) tidyTourBag() {
	pl := must(s.svc.Storeroom.RestockPlan(s.ctx, s.staff["quartermaster"], tourBag, lists.Outlook{}))
	in := inventory.Restock{Bag: tourBag, SealSet: s.sealNumber()}
	for _, l := range pl.Lines {
		if l.Item != "DR-HAEM-G" {
			in.Lines = append(in.Lines, inventory.RestockLine{LotID: l.LotID, Qty: l.Qty, From: l.From})
		}
	}
	for _, t := range pl.TakeOut {
		if t.Item != "DR-HAEM-G" {
			in.TakeOut = append(in.TakeOut, inventory.TakeOutLine{LotID: t.LotID, Qty: t.Qty, To: t.To, Reason: t.Reason,
				Cause: t.Cause})
		}
	}
	must(s.svc.Storeroom.RecordRestock(s.ctx, s.staff["quartermaster"], in, pl.Position))
}

// otherSeal finds a seal that is not the recorded one.
func (s *scenario) otherSeal() {
	b := must(s.svc.Lists.Bag(s.ctx, founder, "OV-RS1"))
	must(s.svc.Shift.RecordCheck(s.ctx, s.staff["OV"], inventory.Check{Bag: b.Code, Kind: inventory.SealCheck,
		SealSeen: "398811", SeenPosition: b.Position}, ""))
}

// trainingMark finds a training tourniquet in an issue bag.
func (s *scenario) trainingMark() {
	c := must(s.svc.Shift.Checklist(s.ctx, founder, "HT-TR1", lists.Outlook{}))
	check := inventory.Check{Bag: "HT-TR1", Kind: inventory.FullCheck, SeenPosition: c.Bag.Position, SealSeen: c.Bag.Seal,
		SealSet: s.sealNumber(),
		Found:   []inventory.FoundLine{{Item: "TQ-WIND-TR", Qty: 1, Reason: inventory.FoundTrainingMark}}}
	for _, lot := range lotsOf(c.Readiness) {
		check.Lines = append(check.Lines, inventory.CheckLine{LotID: lot.LotID, Counted: lot.Qty})
	}
	must(s.svc.Shift.RecordCheck(s.ctx, s.staff["HT"], check, ""))
}

// useOfWhatIsNotThere reports more pressure dressings than the ledger holds in
// the tour's bag: it waits for the quartermaster.
func (s *scenario) useOfWhatIsNotThere() {
	c := must(s.svc.Shift.Checklist(s.ctx, founder, tourBag, lists.Outlook{}))
	lines := []inventory.UseLine{}
	for _, lot := range lotsOf(c.Readiness) {
		if lot.Item == "DR-PRES-L" && len(lines) == 0 {
			lines = append(lines, inventory.UseLine{LotID: lot.LotID, Qty: held(c.Readiness, lot.LotID) + 1})
		}
	}
	must(s.svc.Shift.RecordUse(s.ctx, s.staff["FM"], inventory.Use{Bag: tourBag, Incident: fmt.Sprintf("I-FM-%04d",
		Days-1), SeenPosition: c.Bag.Position,
		Lines: lines, Note: "one of them may have come from the next bag"}, ""))
}

// held counts the units of a lot in a bag.
func held(r inventory.Readiness, lot int64) int {
	n := 0
	for _, l := range lotsOf(r) {
		if l.LotID == lot {
			n += l.Qty
		}
	}
	return n
}

// lateCheck sends a full check that was made before the last restock, when the
// phone had no signal: it waits for the quartermaster.
func (s *scenario) lateCheck() {
	c := must(s.svc.Shift.Checklist(s.ctx, founder, tourBag, lists.Outlook{}))
	check := inventory.Check{Bag: tourBag, Kind: inventory.FullCheck, HappenedAt: s.now.Add(-days(3)), SeenPosition: max(0,
		c.Bag.Position-1),
		Note: "made in the valley without signal, sent today"}
	for _, lot := range lotsOf(c.Readiness) {
		check.Lines = append(check.Lines, inventory.CheckLine{LotID: lot.LotID, Counted: lot.Qty})
	}
	must(s.svc.Shift.RecordCheck(s.ctx, s.staff["FM"], check, ""))
}
