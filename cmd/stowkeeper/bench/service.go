package bench

import (
	"context"
	"fmt"
	"path/filepath"
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
	manyBatches, fewBatches = "ITEM-00", "ITEM-01" // at the first station
)

var by = inventory.Actor{Name: "bench", Role: inventory.Administrator}

func station(n int) string { return fmt.Sprintf("S%02d", n) }

func bagCode(station, n int) string { return fmt.Sprintf("B%02d-%03d", station, n) }

func itemCode(n int) string { return fmt.Sprintf("ITEM-%02d", n) }

// service is a database with an invented service.
type service struct {
	*services.All
	file           string
	batches        int // of one item at the first station
	stations, bags int
	short          float64
	day            inventory.Day
}

// newService makes stations with bags of forty lines each, of which a share is short: half of them under a minimum.
func newService(ctx context.Context, folder, name string, batches, stations, bags int, short float64) (s *service,
	err error) {
	s = &service{file: filepath.Join(folder, name+".db"), batches: batches, stations: stations, bags: bags, short: short}
	db, err := store.Open(ctx, s.file, store.Options{Tell: func(string) {}})
	if err != nil {
		return nil, err
	}
	defer db.Close()
	s.All = services.New(db, func() inventory.Instant { return inventory.InstantOf(time.Now()) }, services.Options{})
	if err := s.Ledger.Together(ctx, s.lists); err != nil {
		return nil, err
	}
	for n := range stations {
		if err := s.Ledger.Together(ctx, func(ctx context.Context) error { return s.stow(ctx, n) }); err != nil {
			return nil, err
		}
	}
	_, err = s.Account.CreatePerson(ctx, by, inventory.Person{Name: keeper, Role: inventory.Quartermaster,
		Stations: []string{station(0)}}, phrase, secret.Argon2id{})
	return s, err
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

// stow makes one station, receives two batches of each item there, and fills its bags.
func (s *service) stow(ctx context.Context, of int) error {
	made, err := s.Lists.CreateStation(ctx, by, inventory.Station{Code: station(of), Name: "Station " + station(of),
		Timezone: "Europe/London"})
	if err != nil {
		return err
	}
	s.day = made.Today(s.Now())
	if of == 0 {
		for item, batches := range map[string]int{manyBatches: s.batches, fewBatches: min(10, s.batches)} {
			for n := range batches {
				if _, err := s.Ledger.Receive(ctx, by, s.receipt(of, item, fmt.Sprint(n), 500, 1)); err != nil {
					return err
				}
			}
		}
	}
	var lots [2][lines]int64
	for batch := range lots {
		for n := range lines {
			lot, err := s.Ledger.Receive(ctx, by,
				s.receipt(of, itemCode(n), fmt.Sprintf("%d-%d", of, batch), 400+300*batch, 3*s.bags+1))
			if err != nil {
				return err
			}
			lots[batch][n] = lot.ID
		}
	}
	for b := range s.bags {
		code := bagCode(of, b)
		bag := inventory.Bag{Code: code, Station: station(of), Name: "Bag " + code, KitList: "KIT", Priority: 1 + b%9,
			Vehicle: fmt.Sprintf("V%02d-%d", of, b/6)}
		if _, err := s.Lists.CreateBag(ctx, by, bag); err != nil {
			return err
		}
		var ms []inventory.Movement
		for n := range lines {
			if qty := s.quantity(of*s.bags+b, n); qty > 0 {
				ms = append(ms, inventory.Movement{LotID: lots[(b+n)%2][n], Qty: qty, From: station(of) + "-STORE", To: code,
					Reason: inventory.ReasonStow})
			}
		}
		if _, err := s.Ledger.Move(ctx, by, ms); err != nil {
			return err
		}
		if _, err := s.Shift.ReportSeal(ctx, by, code, shift.SealReport{Opened: true, SealSet: "100200"}); err != nil {
			return err
		}
	}
	return nil
}

func (s *service) receipt(at int, item, batch string, days, qty int) inventory.Receipt {
	return inventory.Receipt{Place: station(at) + "-STORE", Item: item, BatchNo: batch,
		EndPrinted: s.day.AddDays(days).String(), Qty: qty, Opening: true}
}

// quantity is what a bag holds on a line: what it needs, but for one line of the bags that are short.
func (s *service) quantity(bag, line int) int {
	if float64(bag%100) >= 100*s.short || line != bag%lines {
		return 2
	}
	return bag % 2
}
