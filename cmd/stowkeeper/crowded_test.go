package main

import (
	"cmp"
	"context"
	"fmt"
	"strconv"
	"time"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/shift"
)

// crowd fills a composed service up to n stations with n bags each. Most of it
// goes straight to the store, since the use cases would take minutes.
type crowd struct {
	*composed
	w     inventory.Writer
	n     int
	now   inventory.Instant
	gauze map[string]int64   // station → the lot of which every bag has two
	items map[string][]int64 // station → a lot of each item in its store
}

// crowd makes it n of everything: stations and bags, lists and who gets in, and
// at N1 what hangs on the bag, the device, the delivery and the register that
// its routes name. A bag beside those has the same in it however many there are.
func (c *composed) crowd(n int) {
	c.Helper()
	g := &crowd{composed: c, n: n, now: c.svc.Now(), gauze: map[string]int64{}, items: map[string][]int64{}}
	g.write(g.lists)
	stations := []string{"N1", "S2"}
	for i := len(stations); i < n; i++ {
		stations = append(stations, fmt.Sprintf("X%02d", i))
	}
	for i, station := range stations {
		g.write(func() error { return g.station(i, station) })
		g.write(func() error { return g.records(i, station) })
	}
	g.write(g.namedBag)
	g.write(g.namedRegister)
	g.namedThings()
}

// write runs one step of it in a unit of work.
func (g *crowd) write(fn func() error) {
	g.Helper()
	require.NoError(g, g.svc.Store.Write(g.Context(), func(_ context.Context, w inventory.Writer) error {
		g.w = w
		return fn()
	}))
}

func code(prefix string, i int) string { return fmt.Sprintf("%s-%02d", prefix, i) }

// lists adds items, kit lists and products, people, tokens and terminals.
func (g *crowd) lists() error {
	var err error
	for i := range g.n {
		item, name := code("ITEM", i), fmt.Sprint("number ", i)
		err = cmp.Or(err,
			g.w.AddCategory(inventory.Category(name)),
			g.w.AddItem(inventory.Item{Code: item, Name: item, Category: inventory.CategoryOther, Unit: "each",
				TrackedBy: inventory.ByLot, Dated: true}),
			g.w.AddKitList(inventory.KitList{Code: code("LIST", i), Version: 1, Name: name, FullCheckDays: 30,
				Lines: []inventory.Line{{Item: "GAUZE", Par: 3, Minimum: 1}, {Item: item, Par: 3, Minimum: 2}}}),
			only(g.w.AddProduct(inventory.Product{Item: item, PackSize: 10 + i, Supplier: "a supplier"})),
			only(g.w.AddNotice(inventory.Notice{Reference: name, Action: inventory.NoticeInform, Item: item,
				Text: "Read the leaflet.", Status: inventory.NoticeOpen, IssuedAt: g.now, IssuedBy: crew(i)})),
			only(g.w.AddPerson(inventory.Person{Name: crew(i), Role: inventory.Crew, Stations: []string{"N1"}})),
			only(g.w.AddToken(inventory.Token{Name: name, Hash: name, Role: inventory.Manager, CreatedAt: g.now,
				CreatedBy: "x", EndsAt: g.now.Add(account.TokenLife)})),
			only(g.w.AddTerminal(inventory.Terminal{Name: name, CreatedAt: g.now, CreatedBy: "x"})))
	}
	return err
}

func only[T any](_ T, err error) error { return err }

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func crew(i int) string { return fmt.Sprint("crew ", i) }

// station adds a station, where it is not one of the first two, with stock and
// bags.
func (g *crowd) station(i int, station string) error {
	if g.things[station] == nil {
		s := inventory.Station{Code: station, Name: "Station " + station, Timezone: "Europe/London"}
		if err := g.w.AddStation(s); err != nil {
			return err
		}
		for _, p := range s.StationPlaces() {
			if err := g.w.AddPlace(p); err != nil {
				return err
			}
		}
	}
	ms := []inventory.Movement{g.receive(station, inventory.Batch{Item: "GAUZE", BatchNo: "L-" + station}, 20*g.n)}
	g.gauze[station] = ms[0].LotID
	for j := range g.n {
		b := inventory.Batch{Item: code("ITEM", j), BatchNo: "B-" + station, EndPrinted: "2099-12",
			EndWording: inventory.WordExpiry, LastUsable: inventory.MustDay("2099-12-31")}
		ms = append(ms, g.receive(station, b, 50))
		g.items[station] = append(g.items[station], ms[j+1].LotID)
	}
	first, err := g.w.Bags(inventory.BagFilter{AtStations: []string{station}}, inventory.Page{})
	for j := range g.n {
		if j < len(first) {
			continue
		}
		b := g.bag(station, j)
		err = cmp.Or(err, g.w.AddBag(b))
		ms = append(ms, g.move(g.gauze[station], 2, station+"-STORE", b.Code),
			g.move(g.items[station][j], 1, station+"-STORE", b.Code))
	}
	return cmp.Or(err, only(g.w.AppendMovements(ms)))
}

func (g *crowd) bag(station string, j int) inventory.Bag {
	b := inventory.Bag{Code: code("B"+station, j), Station: station, AtStation: station,
		Name: "Bag", KitList: code("LIST", j),
		KitListVersion: 1, Priority: 5, Purpose: inventory.ForIssue, Vehicle: "Van 9"}
	if j > 2 {
		b.Vehicle = fmt.Sprint("Van ", 100+j)
	}
	return b
}

// receive returns the movement that brings units of a new batch to a store.
func (g *crowd) receive(station string, b inventory.Batch, qty int) inventory.Movement {
	lots := must(g.w.EnsureLots([]inventory.Lot{{Batch: must(g.w.AddBatches([]inventory.Batch{b}))[0],
		ReceivedOn: g.now.In(time.UTC)}}))
	return g.move(lots[0].ID, qty, string(inventory.KindSupplier), station+"-STORE")
}

func (g *crowd) move(lot int64, qty int, from, to string) inventory.Movement {
	reason := inventory.ReasonStow
	if from == string(inventory.KindSupplier) {
		reason = inventory.ReasonReceipt
	}
	return inventory.Movement{LotID: lot, IntoLotID: lot, Qty: qty, From: from, To: to, Reason: reason,
		HappenedAt: g.now, RecordedAt: g.now, By: "x"}
}

// records writes down what the crew of a station did with each bag: checks and
// uses, counted and waiting, a restock, a seal, something seen.
func (g *crowd) records(i int, station string) error {
	bags, err := g.w.Bags(inventory.BagFilter{AtStations: []string{station}}, inventory.Page{})
	for j, b := range bags {
		by, lot := crew(i), g.gauze[station]
		check := inventory.Check{Bag: b.Code, Kind: inventory.FullCheck, HappenedAt: g.now, RecordedAt: g.now, By: by,
			Lines: []inventory.CheckLine{{LotID: lot, Counted: 1}}, Status: inventory.StatusAccepted}
		use := inventory.Use{Bag: b.Code, Incident: code("INC-"+station, j), HappenedAt: g.now, RecordedAt: g.now, By: by,
			Lines: []inventory.UseLine{{LotID: lot, Qty: 99}}, Status: inventory.StatusAccepted}
		openCheck, openUse := check, use
		openCheck.Status, openCheck.ReviewBecause = inventory.StatusToReview, message.M("it changed")
		openUse.Status, openUse.ReviewBecause = inventory.StatusToReview, message.M("there are not so many")
		err = cmp.Or(err,
			only(g.w.AddCheck(check, "")), only(g.w.AddCheck(openCheck, "")),
			only(g.w.AddUse(use, "")), only(g.w.AddUse(openUse, "")),
			only(g.w.AddRestock(inventory.Restock{Bag: b.Code, RecordedAt: g.now, By: by, SealSet: "7"})),
			g.w.AddSeal(inventory.SealEntry{Bag: b.Code, HappenedAt: g.now, By: by, Event: inventory.SealWasSet, Number: "7",
				Source: "restock 1"}),
			g.w.AddBagLog(inventory.BagLogEntry{Bag: b.Code, RecordedAt: g.now, By: by, Kind: "vehicle", New: "Van 9"}),
			only(g.w.AddObservation(inventory.Observation{Bag: b.Code, Kind: inventory.SawTrainingMark, Item: "GAUZE",
				LotID: lot, Text: message.M("red tape"), Source: "check 1", OpenedAt: g.now, OpenedBy: by})),
			g.w.SetBagRecord(b.Code, inventory.BagRecord{Seal: "7", SealState: inventory.SealIntact, SealSeenAt: g.now,
				LastSealCheck: g.now, LastFullCheck: g.now, LastUse: g.now, LastRestock: g.now}))
	}
	return err
}

// namedBag gives the bag that the routes name n modules, n more lines on its
// list with a lot on each, and n of each kind of record.
func (g *crowd) namedBag() error {
	b, err := g.w.Bag(g.things["N1"]["bags/:code"])
	if err != nil {
		return err
	}
	list, err := g.w.KitList(b.KitList, 0)
	if err != nil {
		return err
	}
	var ms []inventory.Movement
	for j := range g.n {
		m := g.bag("N1", j)
		m.Code, m.Inside = code("MODULE", j), b.Code
		err = cmp.Or(err, g.w.AddBag(m))
		line := inventory.Line{Item: code("ITEM", j), Pouch: fmt.Sprint("pouch ", j%3), Par: 2, Minimum: 1}
		list.Lines = append(list.Lines, line)
		ms = append(ms, g.move(g.items["N1"][j], 1, "N1-STORE", b.Code))
	}
	list.Version++
	err = cmp.Or(err, g.w.AddKitList(list), only(g.w.AppendMovements(ms)))
	if err != nil {
		return err
	}
	if b, err = g.w.Bag(b.Code); err != nil {
		return err
	}
	b.KitListVersion = list.Version
	if _, err = g.w.UpdateBag(b); err != nil {
		return err
	}
	for i := range g.n {
		for _, o := range []inventory.Observation{{Kind: inventory.SawTrainingMark}, {Kind: inventory.SawOtherSeal}} {
			o.Bag, o.Item, o.Text, o.Source, o.OpenedAt, o.OpenedBy = b.Code, code("ITEM", i), message.M("seen"), "check 1",
				g.now, crew(i)
			err = cmp.Or(err, only(g.w.AddObservation(o)))
		}
	}
	return err
}

// namedRegister gives the register that the routes name n entries that owe a
// signature, and n balance checks.
func (g *crowd) namedRegister() error {
	amps := atoi(g.things["N1"]["amps"])
	ms := []inventory.Movement{g.move(amps, 2*g.n, string(inventory.KindSupplier), "N1-STORE")}
	for i := range g.n {
		m := g.move(amps, 1, "N1-STORE", string(inventory.KindUsed))
		m.Reason, m.By, m.Reference = inventory.ReasonUsed, crew(i), code("I", i)
		ms = append(ms, m)
	}
	ms, err := g.w.AppendMovements(ms)
	if err != nil {
		return err
	}
	for i, m := range ms[1:] {
		check := inventory.BalanceCheck{Item: "AMP", Place: "N1-STORE", Counted: 4 + g.n, Expected: 4 + g.n,
			HappenedAt: g.now, RecordedAt: g.now, By: crew(i), Witness: "x"}
		doubt := inventory.Discrepancy{Item: "AMP", Place: "N1-STORE", Entry: m.ID, OpenedAt: g.now, OpenedBy: crew(i),
			Text: message.M("given and wasted not recorded")}
		err = cmp.Or(err, g.w.AddOwed(m.ID, false), only(g.w.AddBalanceCheck(check)), only(g.w.AddDiscrepancy(doubt)))
	}
	return err
}

// namedThings gives N1 n devices and the one that the routes name n inspections,
// n lines of known packs to the delivery, n trips with units left behind, and
// units in quarantine.
func (g *crowd) namedThings() {
	g.Helper()
	ctx, things := g.Context(), g.things["N1"]
	known := inventory.Product{Item: "GAUZE", GTIN: "09521234543213", PackSize: 10}
	require.NoError(g, only(g.svc.Lists.CreateProduct(ctx, operator, known)))
	d, err := g.svc.Storeroom.StartDelivery(ctx, operator, "N1-STORE", "")
	require.NoError(g, err)
	things["deliveries/:delivery"] = itoa(d.ID)
	device, err := g.svc.Stock.Lot(ctx, operator, atoi(things["devices/:lot"]))
	require.NoError(g, err)
	for i := range g.n {
		scan := fmt.Sprintf("(01)09521234543213(10)D%d", i)
		require.NoError(g, only(g.svc.Storeroom.ScanPack(ctx, operator, d.ID, scan)))
		receipt := inventory.Receipt{Place: "N1-STORE", Item: "SPLINT", Serial: code("SN-N1", i), Qty: 1}
		require.NoError(g, only(g.svc.Ledger.Receive(ctx, operator, receipt)))
		trip := shift.AwayTrip{From: "N1-STORE", Where: fmt.Sprint("Hospital ", i),
			Lines: []shift.AwayLine{{LotID: g.gauze["N1"], Qty: 1}}}
		require.NoError(g, only(g.svc.Shift.SendAway(ctx, operator, trip)))
		g.write(func() error {
			return only(g.w.AddInspection(inventory.Inspection{BatchID: device.Batch.ID, LotID: device.ID, Item: "SPLINT",
				Place: "N1-STORE", HappenedAt: g.now, RecordedAt: g.now, By: crew(i), Role: inventory.Crew, Passed: true}))
		})
	}
	apart := g.move(g.gauze["N1"], 1, "N1-STORE", "N1-QUARANTINE")
	apart.Reason = inventory.ReasonQuarantine
	require.NoError(g, only(g.svc.Ledger.Move(ctx, operator, []inventory.Movement{apart})))
	things["/lots/:id/quarantine"] = "/lots/" + itoa(apart.LotID) + "/quarantine"
	notice := inventory.Notice{Reference: "FSN-2", Action: inventory.NoticeInspect, Item: "SPLINT", Text: "The buckle."}
	require.NoError(g, only(g.svc.Notice.CreateNotice(ctx, operator, notice)))
}

func atoi(text string) int64 { return must(strconv.ParseInt(text, 10, 64)) }
