package services_test

import (
	"context"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/shift"
)

func (s *shifts) readAll(fn func(inventory.Reader) error) error {
	return s.S.Store.Read(s.Ctx, func(_ context.Context, r inventory.Reader) error { return fn(r) })
}

func (s *shifts) receiveSome() error {
	in := inventory.Receipt{Place: inventorytest.Pick(s.Maker, shiftStores...), Item: inventorytest.Pick(s.Maker,
		"DRESSING", "GAUZE", "PEN", "BRACE",
		"TQ"), Qty: s.Between(2, 12)}
	switch in.Item {
	case "BRACE", "TQ":
		s.serials++
		in.Qty, in.Serial = 1, "N"+strconv.Itoa(s.serials)
	case "PEN":
	default:
		in.BatchNo, in.EndPrinted, in.OnConflict = inventorytest.Pick(s.Maker, "L1", "L2", "L3"), inventorytest.Pick(s.Maker,
			"2033-02", "2034-05"),
			inventory.KeepEarlier
	}
	return s.take(in)
}

// take receives, and counts what was received.
func (s *shifts) take(in inventory.Receipt) error {
	_, err := s.S.Ledger.Receive(s.Ctx, fixture.Keeper, in)
	if err == nil {
		s.received += in.Qty
	}
	return err
}

// refill brings one of some bags back to its list by its pick list.
func (s *shifts) refill(bags ...string) error {
	bag := inventorytest.Pick(s.Maker, bags...)
	list, err := s.S.Storeroom.RestockPlan(s.Ctx, fixture.Keeper, bag, lists.Outlook{Horizon: -1})
	if err != nil {
		return err
	}
	in := inventory.Restock{Bag: bag, SealSet: strconv.Itoa(s.Between(1, 9999))}
	for _, l := range list.Lines {
		in.Lines = append(in.Lines, inventory.RestockLine{LotID: l.LotID, Qty: l.Qty, From: l.From})
	}
	for _, l := range list.TakeOut {
		in.TakeOut = append(in.TakeOut, inventory.TakeOutLine{LotID: l.LotID, Qty: l.Qty, To: l.To, Reason: l.Reason,
			Cause: l.Cause})
	}
	if s.OneIn(4) { // one line more, from the next bag
		from := inventorytest.Pick(s.Maker, shiftBags...)
		st, n := s.some(s.in(from))
		in.Lines = append(in.Lines, inventory.RestockLine{LotID: st.Lot.ID, Qty: n, From: from})
	}
	_, err = s.S.Storeroom.RecordRestock(s.Ctx, fixture.Keeper, in, list.Position)
	return err
}

func (s *shifts) sendAway() error {
	from := inventorytest.Pick(s.Maker, append([]string{"NORTH-STORE", "SOUTH-STORE", "NORTH-TRAINING"}, shiftBags...)...)
	st, n := s.some(s.in(from))
	by := fixture.Keeper
	if b := inventorytest.Pick(s.Maker, true, false); b {
		by = north
	}
	_, err := s.S.Shift.SendAway(s.Ctx, by, shift.AwayTrip{From: from, Where: "Hospital",
		Lines: []shift.AwayLine{{LotID: st.Lot.ID, Qty: n}}})
	return err
}

func (s *shifts) comeBack() error {
	st, n := s.some(s.kind(inventory.KindAway))
	l := shift.ReturnLine{LotID: st.Lot.ID, Qty: n}
	if s.OneIn(2) {
		l.To = inventorytest.Pick(s.Maker, "N-01", "NORTH-STORE", "N-BELT", "NORTH-QUARANTINE")
	}
	if st.Lot.Item == "BRACE" && !s.OneIn(4) {
		l.Points = []inventory.PointCheck{{Point: "straps hold", Pass: !s.OneIn(3)}}
	}
	_, err := s.S.Shift.ComeBack(s.Ctx, fixture.Keeper, st.Place, []shift.ReturnLine{l})
	return err
}

func (s *shifts) correct() error {
	st, _ := s.some(inventory.StockFilter{Items: []string{inventorytest.Pick(s.Maker, "DRESSING", "GAUZE", "BRACE")}})
	end := inventorytest.Pick(s.Maker, "2032-01", "2033-11-30", "2034-02")
	in := inventory.LotCorrection{EndPrinted: &end, Reason: "misread"}
	if s.OneIn(4) {
		no := inventorytest.Pick(s.Maker, "L1", "L2", "L3", "L4")
		in.BatchNo = &no
	}
	_, err := s.S.Ledger.CorrectLot(s.Ctx, fixture.Keeper, st.Lot.ID, in)
	return err
}

func (s *shifts) otherDate() error {
	return s.take(inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING", BatchNo: inventorytest.Pick(s.Maker, "L1",
		"L2"),
		EndPrinted: inventorytest.Pick(s.Maker, "2032-01", "2033-05", "2034-06"), Qty: 1,
		OnConflict: inventorytest.Pick(s.Maker, "", inventory.KeepEarlier, inventory.CorrectEarlier),
		CorrectionReason: inventorytest.Pick(s.Maker, "",
			"both packs say so", "looked again")})
}

func (s *shifts) unidentified() error {
	if s.OneIn(2) {
		return s.take(inventory.Receipt{Place: inventorytest.Pick(s.Maker, "NORTH-QUARANTINE", "NORTH-QUARANTINE",
			"NORTH-STORE"),
			Item: inventorytest.Pick(s.Maker, "DRESSING", "TABLET", "TQ"), Qty: s.Between(1, 3), Unidentified: true})
	}
	c := s.checkOf(inventorytest.Pick(s.Maker, shiftBags...))
	c.Found = []inventory.FoundLine{{Item: inventorytest.Pick(s.Maker, "DRESSING", "TABLET"), Qty: s.Between(1, 2),
		Unidentified: true}}
	return s.record(c)
}

func (s *shifts) identify() error {
	st, n := s.some(s.kind(inventory.KindQuarantine))
	in := ledger.Identification{Place: st.Place, Qty: n, BatchNo: inventorytest.Pick(s.Maker, "L1", "L9"),
		EndPrinted: "2033-02",
		Note:       "box found", OnConflict: inventory.KeepEarlier}
	if st.Lot.Item == "TQ" {
		s.serials++
		in.Qty, in.BatchNo, in.EndPrinted, in.Serial = 1, "", "", "N"+strconv.Itoa(s.serials)
	}
	if s.OneIn(2) { // what is identified is released sooner or later
		_, err := s.S.Ledger.Move(s.Ctx, fixture.Keeper, []inventory.Movement{{LotID: st.Lot.ID, Qty: n, From: st.Place,
			To: "NORTH-STORE", Reason: inventory.ReasonRelease}})
		return err
	}
	_, err := s.S.Ledger.Identify(s.Ctx, fixture.Keeper, st.Lot.ID, in)
	return err
}

func (s *shifts) use(bag, from string, position int64) error {
	st, n := s.some(s.in(from))
	l := inventory.UseLine{LotID: st.Lot.ID, Qty: n}
	if from != bag {
		l.CameFrom = from
	}
	_, err := s.S.Shift.RecordUse(s.Ctx, s.crewAt(bag), inventory.Use{Bag: bag, Incident: "I-" + strconv.Itoa(s.Between(1,
		500)), SeenPosition: position, Lines: []inventory.UseLine{l},
		SealSet: inventorytest.Pick(s.Maker, "", "T")}, "")
	return err
}

func (s *shifts) useOther() error {
	bag := inventorytest.Pick(s.Maker, shiftBags...)
	return s.use(bag, s.other(bag), s.bag(bag).Position)
}

// checkOf is a full check that finds everything that should be there.
func (s *shifts) checkOf(bag string) inventory.Check {
	c := inventory.Check{Bag: bag, Kind: inventory.FullCheck, SeenPosition: s.bag(bag).Position,
		SealSet: inventorytest.Pick(s.Maker, "",
			"C")}
	for _, st := range s.stock(s.in(bag)) {
		c.Lines = append(c.Lines, inventory.CheckLine{LotID: st.Lot.ID, Counted: st.Qty})
	}
	return c
}

func (s *shifts) record(c inventory.Check) error {
	_, err := s.S.Shift.RecordCheck(s.Ctx, s.crewAt(c.Bag), c, "")
	return err
}

func (s *shifts) foundOther() error {
	c := s.checkOf(inventorytest.Pick(s.Maker, shiftBags...))
	from := s.other(c.Bag)
	st, n := s.some(s.in(from))
	for i, l := range c.Lines {
		if l.LotID == st.Lot.ID {
			c.Lines[i].Counted, c.Lines[i].Reason, c.Lines[i].CameFrom = l.Counted+n, inventory.CountFound, from
			return s.record(c)
		}
	}
	c.Found = []inventory.FoundLine{{Item: st.Lot.Item, BatchNo: st.Lot.BatchNo, Serial: st.Lot.Serial, Qty: n,
		CameFrom: from}}
	if s.OneIn(2) {
		c.Found[0].LotID = st.Lot.ID
	}
	return s.record(c)
}

func (s *shifts) seal() error {
	bag := inventorytest.Pick(s.Maker, shiftBags...)
	in := shift.SealReport{SealSeen: inventorytest.Pick(s.Maker, "", "", s.bag(bag).Seal), SealBroken: s.OneIn(6),
		Opened:  !s.OneIn(3),
		SealSet: inventorytest.Pick(s.Maker, "", "R1", "R2"), Note: "temporary"}
	_, err := s.S.Shift.ReportSeal(s.Ctx, s.crewAt(bag), bag, in)
	return err
}

func (s *shifts) useModule() error {
	bag := inventorytest.Pick(s.Maker, "P-1", "P-2", "P-3")
	return s.use(bag, bag, s.bag(bag).Position)
}

func (s *shifts) swapModule() error {
	in := shift.Swap{In: inventorytest.Pick(s.Maker, "P-1", "P-2", "P-3")}
	for _, m := range []string{"P-1", "P-2", "P-3"} {
		if s.bag(m).Inside != "" && m != in.In {
			in.Out = m
		}
	}
	_, err := s.S.Shift.SwapModule(s.Ctx, s.crewAt("K-1"), "K-1", in)
	return err
}

func (s *shifts) vehicle() error {
	to := inventorytest.Pick(s.Maker, "Van 1", "Van 2", "")
	_, err := s.S.Lists.UpdateBag(s.Ctx, fixture.Keeper, inventorytest.Pick(s.Maker, "N-01", "N-02", "S-01", "K-1"), 0,
		ledger.BagChange{Vehicle: &to})
	if err != nil {
		return err
	}
	_, err = s.S.Shift.Vehicles(s.Ctx, fixture.Manager, nil)
	return err
}

func (s *shifts) vehicleOff() error {
	in := shift.VehicleChange{Station: "NORTH", Vehicle: inventorytest.Pick(s.Maker, "Van 1", "Van 2"), Reason: "brakes"}
	if s.OneIn(2) {
		_, err := s.S.Shift.ReturnVehicle(s.Ctx, inventorytest.Pick(s.Maker, north, fixture.Keeper), in)
		return err
	}
	_, err := s.S.Shift.StopVehicle(s.Ctx, north, in)
	return err
}

func (s *shifts) lend() error {
	bag := inventorytest.Pick(s.Maker, "N-02", "S-01", "K-1")
	at := inventorytest.Pick(s.Maker, "NORTH", "SOUTH", s.bag(bag).Station, s.bag(bag).Station)
	_, err := s.S.Lists.UpdateBag(s.Ctx, fixture.Keeper, bag, 0, ledger.BagChange{AtStation: &at})
	return err
}

func (s *shifts) takeOff() error {
	bag, reason := inventorytest.Pick(s.Maker, shiftBags...), "strap torn"
	_, err := s.S.Lists.UpdateBag(s.Ctx, s.crewAt(bag), bag, 0, ledger.BagChange{OutOfService: &reason})
	return err
}

func (s *shifts) fullCheck() error {
	c := s.checkOf(inventorytest.Pick(s.Maker, shiftBags...))
	c.ReturnToService = !s.OneIn(4)
	if len(c.Lines) > 0 && s.OneIn(3) {
		l := &c.Lines[s.Between(0, len(c.Lines)-1)]
		l.Counted, l.Reason = l.Counted-1, inventorytest.Pick(s.Maker, inventory.CountUsed, inventory.CountMissing,
			inventory.CountDamaged)
	}
	return s.record(c)
}

// surplus puts what was not asked for into a bag; a refill takes it out again.
func (s *shifts) surplus() error {
	st, n := s.some(s.in("NORTH-STORE"))
	_, err := s.S.Ledger.Move(s.Ctx, fixture.Keeper, []inventory.Movement{{LotID: st.Lot.ID, Qty: n, From: "NORTH-STORE",
		To: inventorytest.Pick(s.Maker, shiftBags...), Reason: inventory.ReasonStow}})
	return err
}

// late is a use or check that was made before the bag changed.
func (s *shifts) late() error {
	bag := inventorytest.Pick(s.Maker, shiftBags...)
	seen := max(0, s.bag(bag).Position-int64(s.Between(1, 3)))
	if s.OneIn(2) {
		return s.use(bag, bag, seen)
	}
	c := s.checkOf(bag)
	c.SeenPosition = seen
	return s.record(c)
}

func (s *shifts) decide() error {
	how := inventorytest.Pick(s.Maker, inventory.DecideAccept, inventory.DecideAccept, inventory.DecideEdit,
		inventory.DecideReject)
	waiting := inventory.RecordFilter{Status: inventory.StatusToReview}
	if s.OneIn(2) {
		uses, err := s.S.Shift.Uses(s.Ctx, fixture.Admin, waiting, inventory.Page{Limit: 5})
		if err != nil || len(uses) == 0 {
			return err
		}
		u := inventorytest.Pick(s.Maker, uses...)
		in := shift.UseDecision{Decision: how, Reason: "looked"}
		if how == inventory.DecideEdit {
			st, n := s.some(s.in(u.Bag))
			in.Lines = []inventory.UseLine{{LotID: st.Lot.ID, Qty: n}}
		}
		_, err = s.S.Shift.DecideUse(s.Ctx, fixture.Keeper, u.ID, in)
		return err
	}
	checks, err := s.S.Shift.Checks(s.Ctx, fixture.Admin, waiting, inventory.Page{Limit: 5})
	if err != nil || len(checks) == 0 {
		return err
	}
	c := inventorytest.Pick(s.Maker, checks...)
	in := shift.CheckDecision{Decision: how, Reason: "looked"}
	if how == inventory.DecideEdit {
		in.Lines = s.checkOf(c.Bag).Lines
	}
	_, err = s.S.Shift.DecideCheck(s.Ctx, fixture.Keeper, c.ID, in)
	return err
}

func (s *shifts) withdraw() error {
	waiting := inventory.RecordFilter{Status: inventory.StatusToReview}
	uses, err := s.S.Shift.Uses(s.Ctx, fixture.Admin, waiting, inventory.Page{Limit: 5})
	if err != nil || len(uses) == 0 || s.OneIn(2) {
		return err
	}
	u := inventorytest.Pick(s.Maker, uses...)
	_, err = s.S.Shift.WithdrawUse(s.Ctx, inventorytest.Pick(s.Maker, north, south), u.ID, "")
	return err
}

func (s *shifts) toTraining() error {
	from := inventorytest.Pick(s.Maker, "NORTH-STORE", "SOUTH-STORE", "N-01", "NORTH-QUARANTINE")
	st, n := s.some(s.in(from))
	_, err := s.S.Ledger.Move(s.Ctx, fixture.Keeper, []inventory.Movement{{LotID: st.Lot.ID, Qty: n, From: from,
		To: inventorytest.Pick(s.Maker,
			"NORTH-TRAINING", "T-01", "NORTH-TRAINING-QUARANTINE"),
		Reason: inventory.ReasonToTraining}})
	return err
}

func (s *shifts) class() error {
	place := inventorytest.Pick(s.Maker, "NORTH-TRAINING", "NORTH-TRAINING", "T-01", "NORTH-STORE")
	st, n := s.some(s.in(place))
	in := ledger.Class{Place: place, Class: "Basics", Lines: []ledger.ClassLine{{LotID: st.Lot.ID, Qty: n}}}
	if st.Lot.Device() {
		in.Lines, in.Devices, n = nil, []ledger.ClassDevice{{LotID: st.Lot.ID, Cycles: s.Between(1, 30)}}, 0
	}
	_, err := s.S.Ledger.RecordClass(s.Ctx, fixture.Keeper, in)
	if err == nil {
		s.trained += n
	}
	return err
}

// dispose writes units off anywhere, or tries to bring training stock back.
func (s *shifts) dispose() error {
	st, n := s.some(inventory.StockFilter{})
	m := inventory.Movement{LotID: st.Lot.ID, Qty: n, From: st.Place, To: "disposed", Reason: inventory.ReasonDisposed,
		Cause: inventorytest.Pick(s.Maker, inventory.CauseExpired, inventory.CauseDamaged)}
	if st.Lot.Training && s.OneIn(2) {
		m.To, m.Reason, m.Cause = "NORTH-STORE", inventory.ReasonTransfer, ""
	} else if s.OneIn(3) {
		m.To, m.Reason, m.Cause = "lost", inventory.ReasonLost, inventory.CauseMissing
	}
	_, err := s.S.Ledger.Move(s.Ctx, fixture.Keeper, []inventory.Movement{m})
	return err
}

// sendBack returns units to their supplier, mostly from where they are set apart.
func (s *shifts) sendBack() error {
	from := inventorytest.Pick(s.Maker, "NORTH-STORE", "SOUTH-STORE", "NORTH-QUARANTINE", "NORTH-QUARANTINE", "N-01")
	st, n := s.some(s.in(from))
	_, err := s.S.Ledger.Move(s.Ctx, fixture.Keeper, []inventory.Movement{{LotID: st.Lot.ID, Qty: n, From: from,
		To: "supplier", Reason: inventory.ReasonToSupplier, Reference: inventorytest.Pick(s.Maker, "CN-1", "CN-2", "")}})
	if err == nil {
		s.sentBack += n
	}
	return err
}
