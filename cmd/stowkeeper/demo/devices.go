package demo

import (
	"fmt"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/stock"
)

// wornDay is when a training device turns out to be worn.
const wornDay = Days - 20

// careless is the bag whose crew counts and does not inspect.
const careless = "SQ-TR1"

// fraying is the inspection point that devices of the scenario fail.
var fraying = lists.WindlassPoints[3]

// receiveDevices books devices in one by one, each under a serial number of
// its own; qty of the receipt says how many.
func (s *scenario) receiveDevices(in inventory.Receipt) {
	it := s.items[in.Item]
	if it.Life.MadeMonths > 0 {
		today := s.station(s.stationOfStore(in.Place)).Today(s.now)
		in.MadeOn = today.AddMonths(-s.dice.between(2, 14)).String()[:7]
	}
	for range in.Qty {
		s.devices++
		one := in
		one.Qty, one.Serial = 1, fmt.Sprintf("%s-%05d", serialPrefix[in.Item], 20400+s.devices)
		must(s.svc.Ledger.Receive(s.ctx, s.staff["quartermaster"], one))
	}
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
func (s *scenario) inspectStore(station inventory.Station, lots []stock.LotSummary) {
	qm := s.staff["quartermaster"]
	for _, l := range lots {
		due, ok := inventory.InspectionDue(s.items[l.Item].Item, l.Lot)
		if !ok || due > station.Today(s.now).AddDays(14) {
			continue
		}
		in := ledger.InspectionReport{Points: answers(s.items[l.Item].Item, "")}
		must(s.svc.Ledger.Inspect(s.ctx, qm, l.ID, in))
	}
	if s.reused[station.Code] == 0 {
		return
	}
	s.reused[station.Code] = 0
	for _, l := range must(s.svc.Stock.StockAt(s.ctx, qm, station.QuarantineCode(inventory.ForIssue))) {
		if it := s.items[l.Item]; inventory.Reusable(it.Item, l.Lot) {
			in := ledger.InspectionReport{Points: answers(it.Item, ""), Note: "cleaned after use",
				ReleaseTo: station.StoreCode()}
			must(s.svc.Ledger.Inspect(s.ctx, qm, l.ID, in))
		}
	}
}

// class is a training class: every training device of the bag is applied, and
// one of the store that wears out over the year. A few dressings are used up.
func (s *scenario) class(station inventory.Station, d int) {
	bag := s.bag(station.Code + "-TRAIN1")
	if d%84 == 11 {
		s.fullCheck(bag)
	}
	held := must(s.svc.Stock.StockAt(s.ctx, founder, bag.Code))
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
		worn := s.deviceNamed(wornSerial)
		in.Devices = append(in.Devices, ledger.ClassDevice{LotID: worn.ID, Cycles: 17})
	}
	must(s.svc.Ledger.RecordClass(s.ctx, s.staff["quartermaster"], in))
	if d%84 != 11 {
		return
	}
	for _, l := range must(s.svc.Stock.StockAt(s.ctx, founder, station.TrainingStoreCode())) {
		if l.Device() {
			must(s.svc.Ledger.Inspect(s.ctx, s.staff["quartermaster"], l.ID,
				ledger.InspectionReport{Points: answers(s.items[l.Item].Item, "")}))
		}
	}
}

// deviceNamed finds a device by its serial number.
func (s *scenario) deviceNamed(serial string) stock.DeviceSummary {
	found := must(s.svc.Stock.Devices(s.ctx, founder, stock.DeviceFilter{Serial: serial}, inventory.Page{}))
	if len(found) != 1 {
		panic(failure{fmt.Errorf("one device with serial number %s: found %d", serial, len(found))})
	}
	return found[0]
}

// wornDevice inspects the training device that classes wore out: it fails, and
// goes into the quarantine of training stock.
func (s *scenario) wornDevice() {
	d := s.deviceNamed(wornSerial)
	must(s.svc.Ledger.Inspect(s.ctx, s.staff["quartermaster"], d.ID,
		ledger.InspectionReport{Points: answers(s.items[d.LotSummary.Item].Item, fraying),
			Note: "strap pulls out after a long season of classes"}))
}
