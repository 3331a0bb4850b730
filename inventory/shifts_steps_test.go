package inventory_test

import (
	"context"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/shift"
)

func (s *shifts) readAll(fn func(inventory.Reader) error) error {
	return s.s.Store.Read(s.ctx, func(_ context.Context, r inventory.Reader) error { return fn(r) })
}

func (s *shifts) receiveSome() error {
	in := inventory.Receipt{Place: pick(s.maker, shiftStores...), Item: pick(s.maker, "DRESSING", "GAUZE", "PEN", "BRACE",
		"TQ"), Qty: s.between(2, 12)}
	switch in.Item {
	case "BRACE", "TQ":
		s.serials++
		in.Qty, in.Serial = 1, "N"+strconv.Itoa(s.serials)
	case "PEN":
	default:
		in.BatchNo, in.EndPrinted, in.OnConflict = pick(s.maker, "L1", "L2", "L3"), pick(s.maker, "2033-02", "2034-05"),
			inventory.KeepEarlier
	}
	return s.take(in)
}

// take receives, and counts what was received.
func (s *shifts) take(in inventory.Receipt) error {
	_, err := s.s.Ledger.Receive(s.ctx, keeper, in)
	if err == nil {
		s.received += in.Qty
	}
	return err
}

// refill brings one of some bags back to its list by its pick list.
func (s *shifts) refill(bags ...string) error {
	bag := pick(s.maker, bags...)
	list, err := s.s.Storeroom.RestockPlan(s.ctx, keeper, bag, lists.Outlook{Horizon: -1})
	if err != nil {
		return err
	}
	in := inventory.Restock{Bag: bag, SealSet: strconv.Itoa(s.between(1, 9999))}
	for _, l := range list.Lines {
		in.Lines = append(in.Lines, inventory.RestockLine{LotID: l.LotID, Qty: l.Qty, From: l.From})
	}
	for _, l := range list.TakeOut {
		in.TakeOut = append(in.TakeOut, inventory.TakeOutLine{LotID: l.LotID, Qty: l.Qty, To: l.To, Reason: l.Reason,
			Cause: l.Cause})
	}
	if s.oneIn(4) { // one line more, from the next bag
		from := pick(s.maker, shiftBags...)
		st, n := s.some(s.in(from))
		in.Lines = append(in.Lines, inventory.RestockLine{LotID: st.Lot.ID, Qty: n, From: from})
	}
	_, err = s.s.Storeroom.RecordRestock(s.ctx, keeper, in, list.Position)
	return err
}

func (s *shifts) sendAway() error {
	from := pick(s.maker, append([]string{"NORTH-STORE", "SOUTH-STORE", "NORTH-TRAINING"}, shiftBags...)...)
	st, n := s.some(s.in(from))
	by := keeper
	if b := pick(s.maker, true, false); b {
		by = north
	}
	_, err := s.s.Shift.SendAway(s.ctx, by, shift.AwayTrip{From: from, Where: "Hospital",
		Lines: []shift.AwayLine{{LotID: st.Lot.ID, Qty: n}}})
	return err
}

func (s *shifts) comeBack() error {
	st, n := s.some(s.kind(inventory.KindAway))
	l := shift.ReturnLine{LotID: st.Lot.ID, Qty: n}
	if s.oneIn(2) {
		l.To = pick(s.maker, "N-01", "NORTH-STORE", "N-BELT", "NORTH-QUARANTINE")
	}
	if st.Lot.Item == "BRACE" && !s.oneIn(4) {
		l.Points = []inventory.PointCheck{{Point: "straps hold", Pass: !s.oneIn(3)}}
	}
	_, err := s.s.Shift.ComeBack(s.ctx, keeper, st.Place, []shift.ReturnLine{l})
	return err
}

func (s *shifts) correct() error {
	st, _ := s.some(inventory.StockFilter{Items: []string{pick(s.maker, "DRESSING", "GAUZE", "BRACE")}})
	end := pick(s.maker, "2032-01", "2033-11-30", "2034-02")
	in := inventory.LotCorrection{EndPrinted: &end, Reason: "misread"}
	if s.oneIn(4) {
		no := pick(s.maker, "L1", "L2", "L3", "L4")
		in.BatchNo = &no
	}
	_, err := s.s.Ledger.CorrectLot(s.ctx, keeper, st.Lot.ID, in)
	return err
}

func (s *shifts) otherDate() error {
	return s.take(inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING", BatchNo: pick(s.maker, "L1", "L2"),
		EndPrinted: pick(s.maker, "2032-01", "2033-05", "2034-06"), Qty: 1,
		OnConflict: pick(s.maker, "", inventory.KeepEarlier, inventory.CorrectEarlier), CorrectionReason: pick(s.maker, "",
			"both packs say so", "looked again")})
}

func (s *shifts) unidentified() error {
	if s.oneIn(2) {
		return s.take(inventory.Receipt{Place: pick(s.maker, "NORTH-QUARANTINE", "NORTH-QUARANTINE", "NORTH-STORE"),
			Item: pick(s.maker, "DRESSING", "TABLET", "TQ"), Qty: s.between(1, 3), Unidentified: true})
	}
	c := s.checkOf(pick(s.maker, shiftBags...))
	c.Found = []inventory.FoundLine{{Item: pick(s.maker, "DRESSING", "TABLET"), Qty: s.between(1, 2), Unidentified: true}}
	return s.record(c)
}

func (s *shifts) identify() error {
	st, n := s.some(s.kind(inventory.KindQuarantine))
	in := ledger.Identification{Place: st.Place, Qty: n, BatchNo: pick(s.maker, "L1", "L9"), EndPrinted: "2033-02",
		Note: "box found", OnConflict: inventory.KeepEarlier}
	if st.Lot.Item == "TQ" {
		s.serials++
		in.Qty, in.BatchNo, in.EndPrinted, in.Serial = 1, "", "", "N"+strconv.Itoa(s.serials)
	}
	if s.oneIn(2) { // what is identified is released sooner or later
		_, err := s.s.Ledger.Move(s.ctx, keeper, []inventory.Movement{{LotID: st.Lot.ID, Qty: n, From: st.Place,
			To: "NORTH-STORE", Reason: inventory.ReasonRelease}})
		return err
	}
	_, err := s.s.Ledger.Identify(s.ctx, keeper, st.Lot.ID, in)
	return err
}

func (s *shifts) use(bag, from string, position int64) error {
	st, n := s.some(s.in(from))
	l := inventory.UseLine{LotID: st.Lot.ID, Qty: n}
	if from != bag {
		l.CameFrom = from
	}
	_, err := s.s.Shift.RecordUse(s.ctx, s.crewAt(bag), inventory.Use{Bag: bag, Incident: "I-" + strconv.Itoa(s.between(1,
		500)), SeenPosition: position, Lines: []inventory.UseLine{l},
		SealSet: pick(s.maker, "", "T")}, "")
	return err
}

func (s *shifts) useOther() error {
	bag := pick(s.maker, shiftBags...)
	return s.use(bag, s.other(bag), s.bag(bag).Position)
}

// checkOf is a full check that finds everything that should be there.
func (s *shifts) checkOf(bag string) inventory.Check {
	c := inventory.Check{Bag: bag, Kind: inventory.FullCheck, SeenPosition: s.bag(bag).Position, SealSet: pick(s.maker, "",
		"C")}
	for _, st := range s.stock(s.in(bag)) {
		c.Lines = append(c.Lines, inventory.CheckLine{LotID: st.Lot.ID, Counted: st.Qty})
	}
	return c
}

func (s *shifts) record(c inventory.Check) error {
	_, err := s.s.Shift.RecordCheck(s.ctx, s.crewAt(c.Bag), c, "")
	return err
}

func (s *shifts) foundOther() error {
	c := s.checkOf(pick(s.maker, shiftBags...))
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
	if s.oneIn(2) {
		c.Found[0].LotID = st.Lot.ID
	}
	return s.record(c)
}

func (s *shifts) seal() error {
	bag := pick(s.maker, shiftBags...)
	in := shift.SealReport{SealSeen: pick(s.maker, "", "", s.bag(bag).Seal), SealBroken: s.oneIn(6), Opened: !s.oneIn(3),
		SealSet: pick(s.maker, "", "R1", "R2"), Note: "temporary"}
	_, err := s.s.Shift.ReportSeal(s.ctx, s.crewAt(bag), bag, in)
	return err
}

func (s *shifts) useModule() error {
	bag := pick(s.maker, "P-1", "P-2", "P-3")
	return s.use(bag, bag, s.bag(bag).Position)
}

func (s *shifts) swapModule() error {
	in := shift.Swap{In: pick(s.maker, "P-1", "P-2", "P-3")}
	for _, m := range []string{"P-1", "P-2", "P-3"} {
		if s.bag(m).Inside != "" && m != in.In {
			in.Out = m
		}
	}
	_, err := s.s.Shift.SwapModule(s.ctx, s.crewAt("K-1"), "K-1", in)
	return err
}

func (s *shifts) vehicle() error {
	to := pick(s.maker, "Van 1", "Van 2", "")
	_, err := s.s.Lists.UpdateBag(s.ctx, keeper, pick(s.maker, "N-01", "N-02", "S-01", "K-1"), 0,
		ledger.BagChange{Vehicle: &to})
	if err != nil {
		return err
	}
	_, err = s.s.Shift.Vehicles(s.ctx, manager, nil)
	return err
}

func (s *shifts) vehicleOff() error {
	in := shift.VehicleChange{Station: "NORTH", Vehicle: pick(s.maker, "Van 1", "Van 2"), Reason: "brakes"}
	if s.oneIn(2) {
		_, err := s.s.Shift.ReturnVehicle(s.ctx, pick(s.maker, north, keeper), in)
		return err
	}
	_, err := s.s.Shift.StopVehicle(s.ctx, north, in)
	return err
}

func (s *shifts) lend() error {
	bag := pick(s.maker, "N-02", "S-01", "K-1")
	at := pick(s.maker, "NORTH", "SOUTH", s.bag(bag).Station, s.bag(bag).Station)
	_, err := s.s.Lists.UpdateBag(s.ctx, keeper, bag, 0, ledger.BagChange{AtStation: &at})
	return err
}

func (s *shifts) takeOff() error {
	bag, reason := pick(s.maker, shiftBags...), "strap torn"
	_, err := s.s.Lists.UpdateBag(s.ctx, s.crewAt(bag), bag, 0, ledger.BagChange{TakenOff: &reason})
	return err
}

func (s *shifts) fullCheck() error {
	c := s.checkOf(pick(s.maker, shiftBags...))
	c.ReturnToService = !s.oneIn(4)
	if len(c.Lines) > 0 && s.oneIn(3) {
		l := &c.Lines[s.between(0, len(c.Lines)-1)]
		l.Counted, l.Reason = l.Counted-1, pick(s.maker, inventory.CountUsed, inventory.CountMissing, inventory.CountDamaged)
	}
	return s.record(c)
}

// surplus puts what was not asked for into a bag; a refill takes it out again.
func (s *shifts) surplus() error {
	st, n := s.some(s.in("NORTH-STORE"))
	_, err := s.s.Ledger.Move(s.ctx, keeper, []inventory.Movement{{LotID: st.Lot.ID, Qty: n, From: "NORTH-STORE",
		To: pick(s.maker, shiftBags...), Reason: inventory.ReasonStow}})
	return err
}

// late is a use or check that was made before the bag changed.
func (s *shifts) late() error {
	bag := pick(s.maker, shiftBags...)
	seen := max(0, s.bag(bag).Position-int64(s.between(1, 3)))
	if s.oneIn(2) {
		return s.use(bag, bag, seen)
	}
	c := s.checkOf(bag)
	c.SeenPosition = seen
	return s.record(c)
}

func (s *shifts) decide() error {
	how := pick(s.maker, inventory.DecideAccept, inventory.DecideAccept, inventory.DecideEdit, inventory.DecideReject)
	waiting := inventory.RecordFilter{Status: inventory.StatusToReview}
	if s.oneIn(2) {
		uses, err := s.s.Shift.Uses(s.ctx, admin, waiting, inventory.Page{Limit: 5})
		if err != nil || len(uses) == 0 {
			return err
		}
		u := pick(s.maker, uses...)
		in := shift.UseDecision{Decision: how, Reason: "looked"}
		if how == inventory.DecideEdit {
			st, n := s.some(s.in(u.Bag))
			in.Lines = []inventory.UseLine{{LotID: st.Lot.ID, Qty: n}}
		}
		_, err = s.s.Shift.DecideUse(s.ctx, keeper, u.ID, in)
		return err
	}
	checks, err := s.s.Shift.Checks(s.ctx, admin, waiting, inventory.Page{Limit: 5})
	if err != nil || len(checks) == 0 {
		return err
	}
	c := pick(s.maker, checks...)
	in := shift.CheckDecision{Decision: how, Reason: "looked"}
	if how == inventory.DecideEdit {
		in.Lines = s.checkOf(c.Bag).Lines
	}
	_, err = s.s.Shift.DecideCheck(s.ctx, keeper, c.ID, in)
	return err
}

func (s *shifts) toTraining() error {
	from := pick(s.maker, "NORTH-STORE", "SOUTH-STORE", "N-01", "NORTH-QUARANTINE")
	st, n := s.some(s.in(from))
	_, err := s.s.Ledger.Move(s.ctx, keeper, []inventory.Movement{{LotID: st.Lot.ID, Qty: n, From: from, To: pick(s.maker,
		"NORTH-TRAINING", "T-01", "NORTH-TRAINING-QUARANTINE"),
		Reason: inventory.ReasonToTraining}})
	return err
}

func (s *shifts) class() error {
	place := pick(s.maker, "NORTH-TRAINING", "NORTH-TRAINING", "T-01", "NORTH-STORE")
	st, n := s.some(s.in(place))
	in := ledger.Class{Place: place, Class: "Basics", Lines: []ledger.ClassLine{{LotID: st.Lot.ID, Qty: n}}}
	if st.Lot.Device() {
		in.Lines, in.Devices, n = nil, []ledger.ClassDevice{{LotID: st.Lot.ID, Cycles: s.between(1, 30)}}, 0
	}
	_, err := s.s.Ledger.RecordClass(s.ctx, keeper, in)
	if err == nil {
		s.trained += n
	}
	return err
}

// dispose writes units off anywhere, or tries to bring training stock back.
func (s *shifts) dispose() error {
	st, n := s.some(inventory.StockFilter{})
	m := inventory.Movement{LotID: st.Lot.ID, Qty: n, From: st.Place, To: "disposed", Reason: inventory.ReasonDisposed,
		Cause: pick(s.maker, inventory.CauseExpired, inventory.CauseDamaged)}
	if st.Lot.Training && s.oneIn(2) {
		m.To, m.Reason, m.Cause = "NORTH-STORE", inventory.ReasonTransfer, ""
	} else if s.oneIn(3) {
		m.To, m.Reason, m.Cause = "lost", inventory.ReasonLost, inventory.CauseMissing
	}
	_, err := s.s.Ledger.Move(s.ctx, keeper, []inventory.Movement{m})
	return err
}
