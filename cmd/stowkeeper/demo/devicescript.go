package demo

import (
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/stock"
)

// Days of the device script on which something begins.
const (
	recallDay = Days - 150
	beltDay   = Days - 130
)

// belt is where a tourniquet rides exposed.
const belt = "FM-BELT1"

// deviceScript lists what happens to devices, opened units and batches under notice.
func (s *scenario) deviceScript(d int) []event {
	fm, ht, ov, sq := s.station("FM"), s.station("HT"), s.station("OV"), s.station("SQ")
	var events []event
	if d%28 == 11 {
		for _, station := range []inventory.Station{fm, ov} {
			events = append(events, event{station, 14, 0, func() { s.class(station, d) }})
		}
	}
	switch d {
	case recallDay:
		events = append(events, event{fm, 9, 0, s.recallSeals})
	case recallDay + 4:
		events = append(events, event{fm, 10, 0, s.endRecall})
	case beltDay:
		events = append(events, event{fm, 8, 0, s.makeBelt})
	case beltDay + 42:
		events = append(events, event{fm, 8, 0, s.changeBelt})
	case Days - 24:
		events = append(events, event{ov, 11, 0, func() {
			s.sendAway("OV-RS2", shift.AwayTrip{Where: "workshop, display flickers", Holder: "Rescue supplier",
				DueBack: s.calendar(Days - 10), Reference: "repair 0417"})
		}})
	case Days - 9:
		events = append(events, event{ov, 19, 0, func() { s.open("OV", "OV-DB1", "MD-EYEW") }})
	case Days - 6:
		events = append(events, event{ht, 12, 0, s.looseMask})
	case Days - 3:
		events = append(events, event{fm, 17, 0, func() { s.open("FM", "FM-RS1", "PP-GEL") }})
	case Days - 2:
		events = append(events, event{ov, 7, 45, func() { s.fullCheckWith(s.bag("OV-TR2"), fraying) }},
			event{ht, 13, 0, s.withdrawMasks}, event{ht, 16, 0, s.lendSpare}, event{ov, 17, 0, s.vehicleOff})
	case Days - 1:
		events = append(events, event{ov, 12, 0, s.inspectNotice}, event{sq, 20, 0, func() {
			s.sendAway("SQ-RS1", shift.AwayTrip{Where: "hospital, admissions",
				DueBack: s.calendar(Days + 2)})
		}})
	}
	return events
}

// heldIn returns the units of an item in a place.
func (s *scenario) heldIn(place, item string) []stock.LotSummary {
	return slices.DeleteFunc(must(s.svc.Stock.StockAt(s.ctx, founder, place)),
		func(l stock.LotSummary) bool { return l.Item != item })
}

// open opens one unit of an item in a bag, where there is one.
func (s *scenario) open(crew, bag, item string) {
	if lots := s.heldIn(bag, item); len(lots) > 0 {
		must(s.svc.Ledger.OpenUnits(s.ctx, s.staff[crew], lots[0].ID, ledger.Opened{Place: bag, Qty: 1}))
	}
}

// sendAway leaves a bag's oximeter somewhere.
func (s *scenario) sendAway(bag string, trip shift.AwayTrip) {
	lots := s.heldIn(bag, "DG-OXI")
	if len(lots) == 0 {
		return
	}
	trip.From, trip.Lines = bag, []shift.AwayLine{{LotID: lots[0].ID, Qty: 1}}
	must(s.svc.Shift.SendAway(s.ctx, s.staff[s.bag(bag).Station], trip))
}

// makeBelt puts a tourniquet on a belt, where it rides exposed.
func (s *scenario) makeBelt() {
	must(s.svc.Lists.CreatePlace(s.ctx, s.staff["quartermaster"], inventory.Place{Code: belt, Station: "FM",
		Kind: inventory.KindCarrier, Purpose: inventory.ForIssue,
		Name: "Belt of the duty lead", Holder: "duty lead", Vehicle: "Far Meadow 3"}))
	s.wear()
}

// changeBelt brings the tourniquet inside again and puts another on the belt.
func (s *scenario) changeBelt() {
	for _, l := range s.heldIn(belt, "TQ-WIND") {
		back := inventory.Movement{LotID: l.ID, Qty: 1, From: belt, To: "FM-STORE", Reason: inventory.ReasonReturn,
			Note: "shared out with the others"}
		must(s.svc.Ledger.Move(s.ctx, s.staff["quartermaster"], []inventory.Movement{back}))
	}
	s.wear()
}

// wear inspects a tourniquet of the store that was never exposed and puts it on the belt.
func (s *scenario) wear() {
	for _, l := range s.heldIn("FM-STORE", "TQ-WIND") {
		if l.ExposedDays == 0 {
			in := ledger.InspectionReport{Points: answers(s.items[l.Item].Item, ""), ReleaseTo: belt}
			must(s.svc.Ledger.Inspect(s.ctx, s.staff["quartermaster"], l.ID, in))
			return
		}
	}
}

// lendSpare lends the spare bag to another station.
func (s *scenario) lendSpare() {
	at := "HT"
	must(s.svc.Lists.UpdateBag(s.ctx, s.staff["quartermaster"], spareBag, 0, ledger.BagChange{AtStation: &at}))
}

// vehicleOff takes a vehicle off the run.
func (s *scenario) vehicleOff() {
	must(s.svc.Shift.StopVehicle(s.ctx, s.staff["OV"], shift.VehicleChange{Station: "OV", Vehicle: "Old Viaduct 2",
		Reason: "brake warning, at the workshop"}))
}
