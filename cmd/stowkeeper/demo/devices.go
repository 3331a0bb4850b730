package demo

import (
	"context"
	"fmt"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/stock"
)

// wornDay is when a training device turns out to be worn.
const wornDay = Days - 20

// careless is the bag whose crew counts and does not inspect.
const careless = "SQ-TR1"

// fraying is the inspection point that devices of the scenario fail.
var fraying = inventory.WindlassPoints[3]

// receiveDevices books devices in one by one, each under a serial number of
// its own; qty of the receipt says how many.
func (s *scenario) receiveDevices(ctx context.Context, in inventory.Receipt) error {
	it := s.items[in.Item]
	if it.Life.MadeMonths > 0 {
		today := s.station(s.stationOfStore(in.Place)).Today(s.now)
		in.MadeOn = today.AddMonths(-s.dice.between(2, 14)).String()[:7]
	}
	for range in.Qty {
		s.devices++
		one := in
		one.Qty, one.Serial = 1, fmt.Sprintf("%s-%05d", serialPrefix[in.Item], 20400+s.devices)
		if _, err := s.svc.Ledger.Receive(ctx, s.staff["quartermaster"], one); err != nil {
			return err
		}
	}
	return nil
}

// serialPrefix is how the makers begin their serial numbers.
var serialPrefix = map[string]string{"TQ-WIND": "AW", "DG-OXI": "PX", "TL-LAMP": "HL"}

func (s *scenario) stationOfStore(place string) string {
	for _, station := range s.stations {
		if station.StoreCode() == place {
			return station.Code
		}
	}
	return ""
}

// inspections inspects the devices of a bag that are due before the next full
// check of it. fails is the point that the first of them fails, none if empty.
func (s *scenario) inspections(b inventory.Bag, r inventory.Readiness, fails string) []inventory.InspectedLine {
	if b.Code == careless && s.now > s.end.Add(-days(120)) {
		return nil
	}
	ahead := 31
	if b.Purpose == inventory.ForTraining {
		ahead = 85
	}
	var out []inventory.InspectedLine
	seen := map[int64]bool{}
	for _, l := range lotsOf(r) {
		due := l.InspectionDue != 0 && l.InspectionDue <= r.AsOf.AddDays(ahead)
		if l.Serial == "" || seen[l.LotID] || !due && (fails == "" || len(out) > 0) {
			continue
		}
		seen[l.LotID] = true
		out = append(out, inventory.InspectedLine{LotID: l.LotID, Points: answers(s.items[l.Item].Item, fails)})
		fails = ""
	}
	return out
}

// answers passes every point of an item but one.
func answers(it inventory.Item, fails string) []inventory.PointCheck {
	var out []inventory.PointCheck
	for _, p := range slices.Concat(it.Points(), it.InspectionNotes) {
		out = append(out, inventory.PointCheck{Point: p, Pass: p != fails})
	}
	return out
}

// inspectStore inspects the devices of a store that are due within two weeks,
// and what came back from use into quarantine.
func (s *scenario) inspectStore(ctx context.Context, station inventory.Station, lots []stock.LotSummary) error {
	qm := s.staff["quartermaster"]
	for _, l := range lots {
		due, ok := inventory.InspectionDue(s.items[l.Item].Item, l.Lot)
		if !ok || due > station.Today(s.now).AddDays(14) {
			continue
		}
		if _, err := s.svc.Ledger.Inspect(ctx, qm, l.ID, ledger.InspectionReport{Points: answers(s.items[l.Item].Item,
			"")}); err != nil {
			return err
		}
	}
	if s.reused[station.Code] == 0 {
		return nil
	}
	s.reused[station.Code] = 0
	apart, err := s.svc.Stock.StockAt(ctx, qm, station.QuarantineCode(inventory.ForIssue))
	if err != nil {
		return err
	}
	for _, l := range apart {
		if it := s.items[l.Item]; inventory.Reusable(it.Item, l.Lot) {
			in := ledger.InspectionReport{Points: answers(it.Item, ""), Note: "cleaned after use",
				ReleaseTo: station.StoreCode()}
			if _, err := s.svc.Ledger.Inspect(ctx, qm, l.ID, in); err != nil {
				return err
			}
		}
	}
	return nil
}

// class is a training class: every training device of the bag is applied, and
// one of the store that wears out over the year. A few dressings are used up.
func (s *scenario) class(ctx context.Context, station inventory.Station, d int) error {
	bag := s.bag(station.Code + "-TRAIN1")
	if d%84 == 11 {
		if err := s.fullCheck(ctx, bag); err != nil {
			return err
		}
	}
	held, err := s.svc.Stock.StockAt(ctx, founder, bag.Code)
	if err != nil {
		return err
	}
	in := ledger.Class{Place: bag.Code, Class: fmt.Sprintf("B%02d-%s", 1+d/28, station.Code)}
	for _, l := range held {
		switch {
		case l.Device():
			in.Devices = append(in.Devices, ledger.ClassDevice{LotID: l.ID, Cycles: s.dice.between(6, 14)})
		case l.Item == "DR-PRES-M" && len(in.Lines) == 0:
			in.Lines = []ledger.ClassLine{{LotID: l.ID, Qty: 1}}
		}
	}
	if station.Code == "FM" && d < wornDay {
		worn, err := s.deviceNamed(ctx, wornSerial)
		if err != nil {
			return err
		}
		in.Devices = append(in.Devices, ledger.ClassDevice{LotID: worn.ID, Cycles: 17})
	}
	if _, err = s.svc.Ledger.RecordClass(ctx, s.staff["quartermaster"], in); err != nil || d%84 != 11 {
		return err
	}
	spare, err := s.svc.Stock.StockAt(ctx, founder, station.TrainingStoreCode())
	if err != nil {
		return err
	}
	for _, l := range spare {
		if l.Device() {
			if _, err := s.svc.Ledger.Inspect(ctx, s.staff["quartermaster"], l.ID,
				ledger.InspectionReport{Points: answers(s.items[l.Item].Item, "")}); err != nil {
				return err
			}
		}
	}
	return nil
}

// deviceNamed finds a device by its serial number.
func (s *scenario) deviceNamed(ctx context.Context, serial string) (stock.DeviceSummary, error) {
	found, err := s.svc.Stock.Devices(ctx, founder, stock.DeviceFilter{Serial: serial}, inventory.Page{})
	if err != nil || len(found) != 1 {
		return stock.DeviceSummary{}, fmt.Errorf("one device with serial number %s: found %d, %w", serial, len(found), err)
	}
	return found[0], nil
}

// wornDevice inspects the training device that classes wore out: it fails, and
// goes into the quarantine of training stock.
func (s *scenario) wornDevice(ctx context.Context) error {
	d, err := s.deviceNamed(ctx, wornSerial)
	if err != nil {
		return err
	}
	_, err = s.svc.Ledger.Inspect(ctx, s.staff["quartermaster"], d.ID,
		ledger.InspectionReport{Points: answers(s.items[d.LotSummary.Item].Item, fraying),
			Note: "strap pulls out after a long season of classes"})
	return err
}
