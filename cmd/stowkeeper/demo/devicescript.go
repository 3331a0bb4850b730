package demo

import (
	"context"
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

// deviceScript lists what happens to devices, opened units and batches under
// notice.
func (s *scenario) deviceScript(d int) []event {
	fm, ht, ov, sq := s.station("FM"), s.station("HT"), s.station("OV"), s.station("SQ")
	var events []event
	if d%28 == 11 {
		for _, station := range []inventory.Station{fm, ov} {
			events = append(events, event{station, 14, 0, func(ctx context.Context) error { return s.class(ctx, station, d) }})
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
		events = append(events, event{ov, 11, 0, func(ctx context.Context) error {
			return s.sendAway(ctx, "OV-RS2", shift.AwayTrip{Where: "workshop, display flickers", Holder: "Tarrant Rescue Supply",
				DueBack: s.calendar(Days - 10), Reference: "repair 0417"})
		}})
	case Days - 9:
		events = append(events, event{ov, 19, 0, func(ctx context.Context) error {
			return s.open(ctx, "OV", "OV-DB1", "MD-EYEW")
		}})
	case Days - 6:
		events = append(events, event{ht, 12, 0, s.looseMask})
	case Days - 3:
		events = append(events, event{fm, 17, 0, func(ctx context.Context) error {
			return s.open(ctx, "FM", "FM-RS1", "PP-GEL")
		}})
	case Days - 2:
		events = append(events, event{ov, 7, 45, func(ctx context.Context) error {
			return s.fullCheckWith(ctx, s.bag("OV-TR2"), fraying)
		}},
			event{ht, 13, 0, s.withdrawMasks}, event{ht, 16, 0, s.lendSpare}, event{ov, 17, 0, s.vehicleOff})
	case Days - 1:
		events = append(events, event{ov, 12, 0, s.inspectNotice}, event{sq, 20, 0, func(ctx context.Context) error {
			return s.sendAway(ctx, "SQ-RS1", shift.AwayTrip{Where: "Brackmoor hospital, admissions",
				DueBack: s.calendar(Days + 2)})
		}})
	}
	return events
}

// heldIn returns the units of an item in a place.
func (s *scenario) heldIn(ctx context.Context, place, item string) ([]stock.LotSummary, error) {
	lots, err := s.svc.Stock.StockAt(ctx, founder, place)
	return slices.DeleteFunc(lots, func(l stock.LotSummary) bool { return l.Item != item }), err
}

// open opens one unit of an item in a bag, where there is one.
func (s *scenario) open(ctx context.Context, crew, bag, item string) error {
	lots, err := s.heldIn(ctx, bag, item)
	if err != nil || len(lots) == 0 {
		return err
	}
	_, err = s.svc.Ledger.OpenUnits(ctx, s.staff[crew], lots[0].ID, ledger.Opened{Place: bag, Qty: 1})
	return err
}

// sendAway leaves a bag's oximeter somewhere.
func (s *scenario) sendAway(ctx context.Context, bag string, trip shift.AwayTrip) error {
	lots, err := s.heldIn(ctx, bag, "DG-OXI")
	if err != nil || len(lots) == 0 {
		return err
	}
	trip.From, trip.Lines = bag, []shift.AwayLine{{LotID: lots[0].ID, Qty: 1}}
	_, err = s.svc.Shift.SendAway(ctx, s.staff[s.bag(bag).Station], trip)
	return err
}

// makeBelt puts a tourniquet on a belt, where it rides exposed.
func (s *scenario) makeBelt(ctx context.Context) error {
	_, err := s.svc.Lists.CreatePlace(ctx, s.staff["quartermaster"], inventory.Place{Code: belt, Station: "FM",
		Kind: inventory.KindCarrier, Purpose: inventory.ForIssue,
		Name: "Belt of the duty lead", Holder: "duty lead", Vehicle: "Fennimoor 3"})
	if err != nil {
		return err
	}
	return s.wear(ctx)
}

// changeBelt brings the tourniquet inside again and puts another on the belt.
func (s *scenario) changeBelt(ctx context.Context) error {
	worn, err := s.heldIn(ctx, belt, "TQ-WIND")
	if err != nil {
		return err
	}
	for _, l := range worn {
		back := inventory.Movement{LotID: l.ID, Qty: 1, From: belt, To: "FM-STORE", Reason: inventory.ReasonReturn,
			Note: "shared out with the others"}
		if _, err := s.svc.Ledger.Move(ctx, s.staff["quartermaster"], []inventory.Movement{back}); err != nil {
			return err
		}
	}
	return s.wear(ctx)
}

// wear inspects a tourniquet of the store that was never exposed and puts it
// on the belt.
func (s *scenario) wear(ctx context.Context) error {
	lots, err := s.heldIn(ctx, "FM-STORE", "TQ-WIND")
	if err != nil {
		return err
	}
	for _, l := range lots {
		if l.ExposedDays > 0 {
			continue
		}
		in := ledger.InspectionReport{Points: answers(s.items[l.Item].Item, ""), ReleaseTo: belt}
		_, err := s.svc.Ledger.Inspect(ctx, s.staff["quartermaster"], l.ID, in)
		return err
	}
	return nil
}

// lendSpare lends the spare bag to another station.
func (s *scenario) lendSpare(ctx context.Context) error {
	at := "HT"
	_, err := s.svc.Lists.UpdateBag(ctx, s.staff["quartermaster"], spareBag, 0, ledger.BagChange{AtStation: &at})
	return err
}

// vehicleOff takes a vehicle off the run.
func (s *scenario) vehicleOff(ctx context.Context) error {
	_, err := s.svc.Shift.StopVehicle(ctx, s.staff["OV"], shift.VehicleChange{Station: "OV", Vehicle: "Ostrevik 2",
		Reason: "brake warning, at the workshop"})
	return err
}
