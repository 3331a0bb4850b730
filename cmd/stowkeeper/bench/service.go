package bench

import (
	"context"
	"fmt"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/secret"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store"
)

const (
	lines                   = 40 // of the kit list, each of an item of its own
	keeper                  = "Keeper"
	phrase                  = "a phrase for benchmarks"
	manyBatches, fewBatches = "ITEM-00", "ITEM-01" // at the last station
	everywhere              = "ITEM-39"            // one batch of it is in every bag
	inAll                   = "ALL"                // its number
)

var by = inventory.Actor{Name: "bench", Role: inventory.Administrator}

func station(n int) string { return fmt.Sprintf("S%02d", n) }

func bagCode(station, n int) string { return fmt.Sprintf("B%02d-%03d", station, n) }

func itemCode(n int) string { return fmt.Sprintf("ITEM-%02d", n) }

// service is a database with an invented service.
type service struct {
	*services.All
	file           string
	stations, bags int // bags of each station
	short          int // of all bags, those that lack something, which are spread evenly
	batches        int // of one item, at the last station, which no page looks at
	day            inventory.Day
}

// create makes the database: stations with bags of forty lines each.
func (s *service) create(ctx context.Context) error {
	db, err := store.Open(ctx, s.file, store.Options{Tell: func(string) {}})
	if err != nil {
		return err
	}
	defer db.Close()
	s.All = services.New(db, func() inventory.Instant { return inventory.InstantOf(time.Now()) }, services.Options{})
	if err := s.Ledger.Together(ctx, s.lists); err != nil {
		return err
	}
	for n := range s.stations {
		if err := s.Ledger.Together(ctx, func(ctx context.Context) error { return s.stow(ctx, n) }); err != nil {
			return err
		}
	}
	_, err = s.Account.CreatePerson(ctx, by, inventory.Person{Name: keeper, Role: inventory.Quartermaster,
		Stations: []string{station(0)}}, phrase, secret.Argon2id{})
	return err
}

func (s *service) lists(ctx context.Context) error {
	list := inventory.KitList{Code: "KIT", Name: "Forty lines", FullCheckDays: 30, Sealed: true, SealCheckHours: 24}
	for n := range lines {
		it := inventory.Item{Code: itemCode(n), Name: "Item " + itemCode(n), Category: inventory.CategoryOther,
			Unit: "each", TrackedBy: inventory.ByLot, Dated: true}
		if _, err := s.Lists.CreateItem(ctx, by, it); err != nil {
			return err
		}
		list.Lines = append(list.Lines, inventory.Line{Item: it.Code, Pouch: fmt.Sprintf("pouch %d", n/10), Par: 2,
			Minimum: 1})
	}
	_, err := s.Lists.CreateKitList(ctx, by, list)
	return err
}

// stow makes one station, with stock of each item, and fills its bags.
func (s *service) stow(ctx context.Context, of int) error {
	made, err := s.Lists.CreateStation(ctx, by, inventory.Station{Code: station(of), Name: "Station " + station(of),
		Timezone: "Europe/London"})
	if err != nil {
		return err
	}
	s.day = made.Today(s.Now())
	if of == s.stations-1 {
		for item, batches := range map[string]int{manyBatches: s.batches, fewBatches: min(10, s.batches)} {
			for n := range batches {
				if _, err := s.Ledger.Receive(ctx, by, s.receipt(of, item, fmt.Sprint(n), 500, 1)); err != nil {
					return err
				}
			}
		}
	}
	lots, err := s.stock(ctx, of)
	if err != nil {
		return err
	}
	for b := range s.bags {
		if err := s.fill(ctx, of, b, lots); err != nil {
			return err
		}
	}
	return nil
}

// stock receives two batches of each item at a station.
func (s *service) stock(ctx context.Context, of int) (lots [2][lines]int64, err error) {
	for batch := range lots {
		for n := range lines {
			no, days := fmt.Sprintf("%d-%d", of, batch), 400+300*batch
			if itemCode(n) == everywhere {
				no, days = inAll, 400
			}
			lot, err := s.Ledger.Receive(ctx, by, s.receipt(of, itemCode(n), no, days, 3*s.bags+1))
			if err != nil {
				return lots, err
			}
			lots[batch][n] = lot.ID
		}
	}
	return lots, nil
}

// fill makes a bag, stows what it holds, and seals it with a seal of its own.
func (s *service) fill(ctx context.Context, of, b int, lots [2][lines]int64) error {
	code, all := bagCode(of, b), of*s.bags+b
	bag := inventory.Bag{Code: code, Station: station(of), Name: "Bag " + code, KitList: "KIT", Priority: 1 + b%9,
		Vehicle: fmt.Sprintf("V%02d-%d", of, b/6)}
	if _, err := s.Lists.CreateBag(ctx, by, bag); err != nil {
		return err
	}
	var ms []inventory.Movement
	for n := range lines {
		if qty := s.quantity(all, n); qty > 0 {
			ms = append(ms, inventory.Movement{LotID: lots[(b+n)%2][n], Qty: qty, From: station(of) + "-STORE", To: code,
				Reason: inventory.ReasonStow})
		}
	}
	if _, err := s.Ledger.Move(ctx, by, ms); err != nil {
		return err
	}
	_, err := s.Shift.ReportSeal(ctx, by, code, shift.SealReport{Opened: true, SealSet: fmt.Sprint(100_000 + all)})
	return err
}

func (s *service) receipt(at int, item, batch string, days, qty int) inventory.Receipt {
	return inventory.Receipt{Place: station(at) + "-STORE", Item: item, BatchNo: batch,
		EndPrinted: s.day.AddDays(days).String(), Qty: qty, Opening: true}
}

// quantity is what a bag holds on a line: what it needs, but for one line of each that is short. Half of these hold
// less than the minimum. Services with as many short bags lack the same, however large they are.
func (s *service) quantity(bag, line int) int {
	all := s.stations * s.bags
	nth := bag * s.short / all
	if bag*s.short%all >= s.short || line != nth%lines {
		return 2
	}
	return (nth + nth/lines) % 2
}
