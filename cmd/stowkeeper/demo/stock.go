package demo

import (
	"fmt"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/stock"
)

// openingStock counts in what the stations own when the service starts, stows
// every bag and checks it for the first time.
func (s *scenario) openingStock() {
	for _, station := range s.stations {
		for _, code := range s.stocked(station) {
			s.receive(station, code, 2*s.parAt(station, code)+2, s.dice.between(5, 20), true)
		}
	}
	s.trainingStock()
	for _, b := range s.bags {
		s.restock(b)
		s.fullCheck(b)
	}
}

// trainingStock counts in what the two training bags are filled from.
func (s *scenario) trainingStock() {
	var in []inventory.Receipt
	for n := range 12 {
		place := []string{"FM-TRAINING", "OV-TRAINING"}[n%2]
		in = append(in, inventory.Receipt{Place: place, Item: "TQ-WIND-TR", Serial: fmt.Sprintf("TR-%04d", 31+n), Qty: 1,
			Opening: true})
	}
	for _, station := range []string{"FM", "OV"} {
		place := station + "-TRAINING"
		in = append(in,
			inventory.Receipt{Place: place, Item: "DR-PRES-M", BatchNo: "OLD-" + station,
				EndPrinted: s.station(station).Today(s.now).AddMonths(30).String()[:7], Qty: 8, Opening: true},
			inventory.Receipt{Place: place, Item: "BD-TRI", Qty: 8, Opening: true},
			inventory.Receipt{Place: place, Item: "MARK-PERM", Qty: 4, Opening: true})
	}
	for _, r := range in {
		must(s.svc.Ledger.Receive(s.ctx, s.staff["quartermaster"], r))
	}
}

// stocked lists the items that a station's store keeps: those of its bags.
func (s *scenario) stocked(station inventory.Station) []string {
	var codes []string
	for _, b := range s.bags {
		if b.Station != station.Code || b.Purpose != inventory.ForIssue {
			continue
		}
		for _, l := range s.lists[b.KitList].Lines {
			if !slices.Contains(codes, l.Item) && l.CarriedElsewhere == "" {
				codes = append(codes, l.Item)
			}
		}
	}
	slices.Sort(codes)
	return codes
}

// parAt adds up what a station's bags want of an item.
func (s *scenario) parAt(station inventory.Station, item string) int {
	n := 0
	for _, b := range s.bags {
		if b.Station != station.Code || b.Purpose != inventory.ForIssue {
			continue
		}
		for _, l := range s.lists[b.KitList].Lines {
			if par, _ := l.Wanted(); l.Item == item {
				n += par
			}
		}
	}
	return n
}

// receive books a lot in. months is how long it still lasts, where the item bears a date.
func (s *scenario) receive(station inventory.Station, code string, qty, months int, opening bool) {
	it := s.items[code]
	today := station.Today(s.now)
	in := inventory.Receipt{Place: station.StoreCode(), Item: code, Product: it.product, Qty: qty, Opening: opening}
	s.received[station.Code]++
	if it.TrackedBy == inventory.BySerial {
		s.receiveDevices(in)
		return
	}
	s.lots++
	if it.Dated || s.dice.chance(60) {
		in.BatchNo = fmt.Sprintf("%s%02d-%04d", string("ABCDEFGHJK"[s.dice.between(0, 9)]), s.dice.between(21, 26),
			s.lots%10000)
	}
	if it.Dated {
		end := today.AddMonths(min(months, max(1, it.shelfMonths-1)))
		in.EndPrinted, in.EndWording = end.String()[:7], inventory.WordExpiry
		if s.dice.chance(35) {
			in.EndPrinted = end.String()
		}
		if !it.Category.Medicinal() && s.dice.chance(50) {
			in.EndWording = inventory.WordHourglass
		}
	}
	must(s.svc.Ledger.Receive(s.ctx, s.staff["quartermaster"], in))
}

// weekly is the quartermaster's round: dispose of what ran out in the store, order what runs low, bring bags with
// gaps back to their lists, and once a month give old dressings to training.
func (s *scenario) weekly(station inventory.Station, d int) {
	lots := must(s.svc.Stock.StockAt(s.ctx, founder, station.StoreCode()))
	s.inspectStore(station, lots)
	s.disposeExpired(station, lots)
	s.replenish(station, lots)
	bags := must(s.svc.Shift.BagList(s.ctx, founder, inventory.BagFilter{AtStations: []string{station.Code}},
		inventory.Page{}, lists.Outlook{Horizon: 0}))
	for _, b := range bags {
		if b.State == inventory.Ready || b.Code == tourBag && d > Days-45 || b.Purpose == inventory.ForTraining && d%28 != 2 {
			continue
		}
		if s.idle[b.Code] == s.restockKey(station.Code, b.Position) {
			continue
		}
		if b.State == inventory.ReadyWithGaps && d%14 != 2 { // a gap that stops nothing may wait a week
			continue
		}
		s.restock(b.Bag)
	}
	if d%28 == 9 {
		s.toTraining(station)
	}
}

func (s *scenario) disposeExpired(station inventory.Station, lots []stock.LotSummary) {
	var ms []inventory.Movement
	for _, l := range lots {
		if l.UsableThrough != 0 && l.UsableThrough < station.Today(s.now) {
			ms = append(ms, inventory.Movement{LotID: l.ID, Qty: l.Where[0].Qty, From: station.StoreCode(), To: "disposed",
				Reason: inventory.ReasonDisposed, Cause: inventory.CauseExpired})
		}
	}
	if len(ms) > 0 {
		must(s.svc.Ledger.Move(s.ctx, s.staff["quartermaster"], ms))
	}
}

// replenish orders items of which the store holds less than half of what the bags want, not counting what soon runs
// out; now and then a supplier cannot deliver.
func (s *scenario) replenish(station inventory.Station, lots []stock.LotSummary) {
	held := map[string]int{}
	for _, l := range lots {
		if l.UsableThrough == 0 || l.UsableThrough > station.Today(s.now).AddDays(90) {
			held[l.Item] += l.Where[0].Qty
		}
	}
	for _, code := range s.stocked(station) {
		want := s.parAt(station, code)
		if held[code] >= (want+1)/2 || s.dice.chance(20) {
			continue
		}
		pack := s.items[code].pack
		qty := (want + pack) / pack * pack
		s.receive(station, code, qty, s.dice.between(6, 30), false)
	}
}

// toTraining gives a few of the oldest dressings to training.
func (s *scenario) toTraining(station inventory.Station) {
	lots := must(s.svc.Stock.StockAt(s.ctx, founder, station.StoreCode()))
	for _, l := range lots {
		if l.Item == "DR-PRES-M" && l.Where[0].Qty > 5 {
			must(s.svc.Ledger.Move(s.ctx, s.staff["quartermaster"], []inventory.Movement{{LotID: l.ID, Qty: 2,
				From: station.StoreCode(), To: station.TrainingStoreCode(), Reason: inventory.ReasonToTraining}}))
			return
		}
	}
}
