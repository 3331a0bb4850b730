package services_test

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/count"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/transfer"
)

// naiveEvent is something that happened to units of a batch, as it should have been recorded: what was mistyped is
// set right in its place.
type naiveEvent struct {
	batch, from, to string
	left, came      string // the stations that both places belonged to on that day
	qty             int
}

// naiveBooks keeps books a second time, as on paper, and shares no function with the program.
type naiveBooks struct {
	events  []*naiveEvent
	item    map[string]string // batch → item
	station map[string]string // place → station
}

func (b *naiveBooks) note(batch, from, to string, qty int) *naiveEvent {
	e := &naiveEvent{batch, from, to, b.station[from], b.station[to], qty}
	b.events = append(b.events, e)
	return e
}

// held is what lies in each place, by batch.
func (b *naiveBooks) held() map[string]map[string]int {
	out := map[string]map[string]int{}
	for place := range b.station {
		out[place] = map[string]int{}
	}
	for _, e := range b.events {
		if out[e.from] != nil {
			out[e.from][e.batch] -= e.qty
		}
		if out[e.to] != nil {
			out[e.to][e.batch] += e.qty
		}
	}
	for place := range out {
		maps.DeleteFunc(out[place], func(_ string, n int) bool { return n == 0 })
	}
	return out
}

// flows are what became of each item at some stations.
func (b *naiveBooks) flows(stations ...string) map[string]map[string]int {
	out := map[string]map[string]int{}
	for _, e := range b.events {
		item := b.item[e.batch]
		if out[item] == nil {
			out[item] = map[string]int{}
		}
		leaves, comes := slices.Contains(stations, e.left), slices.Contains(stations, e.came)
		switch {
		case e.from == "converted" && comes:
			out[item]["converted"] += e.qty
		case e.to == "converted" && leaves:
			out[item]["converted"] -= e.qty
		case comes && !leaves && e.from == "supplier":
			out[item]["received"] += e.qty
		case comes && !leaves:
			out[item]["moved in"] += e.qty
		case leaves && !comes && e.came == "":
			out[item][e.to] += e.qty
		case leaves && !comes:
			out[item]["moved out"] += e.qty
		}
		if comes {
			out[item]["stock"] += e.qty
		}
		if leaves {
			out[item]["stock"] -= e.qty
		}
	}
	for item := range out {
		maps.DeleteFunc(out[item], func(_ string, n int) bool { return n == 0 })
	}
	maps.DeleteFunc(out, func(_ string, f map[string]int) bool { return len(f) == 0 })
	return out
}

// booksWalk is a service of three stations in which, day by day, stock comes, moves and goes, receipts and items are
// mistyped and corrected, and one of the stations is closed and opened again.
type booksWalk struct {
	*fixture.House
	*inventorytest.Maker
	naiveBooks
	lots     map[string]int64 // batch → its lot as received
	receipts map[int64]*naiveEvent
	bags     []string
	closed   bool
	done     map[string]int
}

func newBooksWalk(t *testing.T) *booksWalk {
	w := &booksWalk{House: fixture.New(t, storetest.OpenSQLite(t)), Maker: inventorytest.NewMaker(26),
		naiveBooks: naiveBooks{item: map[string]string{}, station: map[string]string{}}, lots: map[string]int64{},
		receipts: map[int64]*naiveEvent{}, bags: []string{"N-01", "S-01"}, done: map[string]int{}}
	for _, code := range []string{"WRAP-A", "WRAP-B"} {
		_, err := w.S.Lists.CreateItem(w.Ctx, fixture.Admin, inventory.Item{Code: code, Name: code,
			Category: inventory.CategoryPlainDressing, Unit: "each", TrackedBy: inventory.ByLot})
		require.NoError(t, err)
	}
	_, err := w.S.Lists.CreateStation(w.Ctx, fixture.Admin, inventory.Station{Code: "EAST", Name: "East", Timezone: "UTC"})
	require.NoError(t, err)
	for _, s := range []string{"NORTH", "SOUTH", "EAST"} {
		w.station[s+"-STORE"], w.station[s+"-QUARANTINE"] = s, s
	}
	w.station["N-01"], w.station["S-01"] = "NORTH", "SOUTH"
	w.newBag()
	return w
}

// newBag gives the third station a bag of its own.
func (w *booksWalk) newBag() {
	code := "E-" + strconv.Itoa(len(w.bags))
	_, err := w.S.Lists.CreateBag(w.Ctx, fixture.Admin, inventory.Bag{Code: code, Station: "EAST", Name: code,
		KitList: "GRAB"})
	require.NoError(w.T, err)
	w.bags, w.station[code] = append(w.bags, code), "EAST"
}

func (w *booksWalk) receive() error {
	batch := fmt.Sprintf("B%d", len(w.lots))
	place := inventorytest.Pick(w.Maker, "NORTH-STORE", "SOUTH-STORE", "EAST-STORE", "EAST-QUARANTINE")
	item, qty := inventorytest.Pick(w.Maker, "WRAP-A", "WRAP-B"), w.Between(1, 60)
	lot, err := w.S.Ledger.Receive(w.Ctx, fixture.Admin, inventory.Receipt{Place: place, Item: item, BatchNo: batch,
		EndPrinted: "2039-02", Qty: qty})
	if err != nil {
		return err
	}
	w.lots[batch], w.item[batch] = lot.ID, item
	ms, err := w.S.Ledger.Movements(w.Ctx, fixture.Admin, inventory.MovementFilter{LotID: lot.ID}, inventory.Page{})
	require.NoError(w.T, err)
	w.receipts[ms[0].ID] = w.note(batch, "supplier", place, qty)
	return nil
}

// move sends some units on from where they lie: to another place, or out.
func (w *booksWalk) move() error {
	from := inventorytest.Pick(w.Maker, slices.Sorted(maps.Keys(w.station))...)
	here := w.held()[from]
	if len(here) == 0 {
		return inventory.Refuse(inventory.Conflict, "nothing there")
	}
	batch := inventorytest.Pick(w.Maker, slices.Sorted(maps.Keys(here))...)
	to := inventorytest.Pick(w.Maker, append([]string{"used", "disposed", "lost", "supplier", "supplier"},
		slices.Sorted(maps.Keys(w.station))...)...)
	m := inventory.Movement{LotID: w.lots[batch], Qty: w.Between(1, here[batch]), From: from, To: to, Reference: "CN-1"}
	for _, m.Reason = range inventory.Reasons {
		m.Cause = inventorytest.CauseFor(m.Reason)
		if _, err := w.S.Ledger.Move(w.Ctx, fixture.Admin, []inventory.Movement{m}); err == nil {
			w.note(batch, from, to, m.Qty)
			w.done[string(m.Reason)]++
			return nil
		}
	}
	return inventory.Refuse(inventory.Conflict, "no way there")
}

// send transfers units of a batch to another station, which receives some of them; the sender settles the rest. The
// store that they came to is counted then, and lacks one of them.
func (w *booksWalk) send() error {
	from, to := inventorytest.Pick(w.Maker, "NORTH-STORE", "SOUTH-STORE", "EAST-STORE"),
		inventorytest.Pick(w.Maker, "NORTH-STORE", "SOUTH-STORE", "EAST-STORE")
	here := w.held()[from]
	if len(here) == 0 {
		return inventory.Refuse(inventory.Conflict, "nothing there")
	}
	batch := inventorytest.Pick(w.Maker, slices.Sorted(maps.Keys(here))...)
	lot, qty := w.lots[batch], w.Between(1, here[batch])
	t, err := w.S.Transfer.Ask(w.Ctx, fixture.Admin, transfer.TransferRequest{From: from, To: to,
		Lines: []transfer.AskedLine{{Item: w.item[batch], LotID: lot, Qty: qty}}})
	if err != nil {
		return err
	}
	require.Equal(w.T, map[int64]int{lot: qty}, t.Suggest)
	t, err = w.S.Transfer.Send(w.Ctx, fixture.Admin, t.ID, []transfer.LotQuantity{{LotID: lot, Qty: qty}}, "")
	require.NoError(w.T, err)
	w.station[t.Transit] = w.station[from]
	w.note(batch, from, t.Transit, qty)
	n := w.Between(0, qty)
	t, err = w.S.Transfer.Receive(w.Ctx, fixture.Admin, t.ID, transfer.Arrival{
		Lines: []transfer.LotQuantity{{LotID: lot, Qty: n}}})
	require.NoError(w.T, err)
	w.note(batch, t.Transit, to, n)
	if n < qty {
		o := inventorytest.Pick(w.Maker, transfer.Found, transfer.Returned, transfer.Lost)
		w.note(batch, t.Transit, map[transfer.Outcome]string{transfer.Found: to, transfer.Returned: from,
			transfer.Lost: "lost"}[o], qty-n)
		t, err = w.S.Transfer.Settle(w.Ctx, fixture.Admin, t.ID, transfer.Settlement{Outcome: o, Reason: "looked"})
		require.NoError(w.T, err)
	}
	require.Equal(w.T, transfer.Received, t.Status)
	require.Empty(w.T, w.held()[t.Transit])
	delete(w.station, t.Transit)
	w.count(to)
	return nil
}

// count counts a store, in which one unit of one batch is missing.
func (w *booksWalk) count(place string) {
	c, err := w.S.Count.Start(w.Ctx, fixture.Admin, place, false)
	require.NoError(w.T, err)
	var lines []count.CountEntry
	here := w.held()[place]
	for _, batch := range slices.Sorted(maps.Keys(here)) {
		lines = append(lines, count.CountEntry{LotID: w.lots[batch], Counted: here[batch]})
		if len(lines) == 1 {
			lines[0].Counted--
			w.note(batch, place, "lost", 1)
		}
	}
	if len(lines) > 0 {
		_, err = w.S.Count.Enter(w.Ctx, fixture.Admin, c.ID, lines)
		require.NoError(w.T, err)
		_, err = w.S.Count.Post(w.Ctx, fixture.Admin, c.ID, []count.Explained{{LotID: lines[0].LotID,
			Reason: inventory.CountMissing}})
		require.NoError(w.T, err)
	}
}

// correctReceipt sets right how many came in, where as many as have left are enough.
func (w *booksWalk) correctReceipt() error {
	if len(w.receipts) == 0 {
		return inventory.Refuse(inventory.Conflict, "no receipts")
	}
	id := inventorytest.Pick(w.Maker, slices.Sorted(maps.Keys(w.receipts))...)
	e := w.receipts[id]
	qty := w.Between(0, 2*e.qty)
	left := w.held()[e.to][e.batch] + qty - e.qty
	ms, err := w.S.Ledger.CorrectReceipt(w.Ctx, fixture.Admin, id, ledger.ReceiptCorrection{Qty: qty, Reason: "misread"})
	if err != nil {
		require.True(w.T, left < 0 || qty == e.qty || w.closed && w.station[e.to] == "EAST" && qty > 0, "%v", err)
		return err
	}
	require.GreaterOrEqual(w.T, left, 0)
	delete(w.receipts, id)
	if e.qty = qty; qty > 0 {
		w.receipts[ms[0].ID] = e
	}
	return nil
}

// correctItem finds that a batch is of the other item.
func (w *booksWalk) correctItem() error {
	if len(w.lots) == 0 {
		return inventory.Refuse(inventory.Conflict, "no batches")
	}
	batch := inventorytest.Pick(w.Maker, slices.Sorted(maps.Keys(w.lots))...)
	other := map[string]string{"WRAP-A": "WRAP-B", "WRAP-B": "WRAP-A"}[w.item[batch]]
	_, err := w.S.Ledger.CorrectLot(w.Ctx, fixture.Admin, w.lots[batch], inventory.LotCorrection{Item: &other,
		Reason: "wrong item chosen"})
	if err == nil {
		w.item[batch] = other
	}
	return err
}

// closeOrOpen closes the third station into one of the others, or opens it again with a new bag.
func (w *booksWalk) closeOrOpen() error {
	if w.closed {
		_, err := w.S.Lists.ReopenStation(w.Ctx, fixture.Admin, "EAST")
		require.NoError(w.T, err)
		w.closed = false
		w.newBag()
		return nil
	}
	into := inventorytest.Pick(w.Maker, "NORTH", "SOUTH")
	_, err := w.S.Lists.CloseStation(w.Ctx, fixture.Admin, "EAST", into)
	require.NoError(w.T, err)
	held := w.held()
	for _, place := range []string{"STORE", "QUARANTINE"} {
		for batch, n := range held["EAST-"+place] {
			w.note(batch, "EAST-"+place, into+"-"+place, n)
		}
	}
	for _, bag := range w.bags {
		if w.station[bag] == "EAST" {
			w.station[bag] = into
			for batch, n := range held[bag] {
				w.note(batch, bag, bag, n).left = "EAST"
			}
		}
	}
	w.closed = true
	return nil
}

// convert counts both items in halves of their unit, which what was mistyped before is no longer set right in.
func (w *booksWalk) convert(unit string) {
	held := w.held()
	for _, item := range []string{"WRAP-A", "WRAP-B"} {
		_, err := w.S.Lists.ConvertUnit(w.Ctx, fixture.Admin, item, lists.UnitConversion{Unit: unit, Old: 1, New: 2,
			Reason: "cut in half"})
		require.NoError(w.T, err)
	}
	for place, batches := range held {
		for batch, n := range batches {
			w.note(batch, place, "converted", n)
			w.note(batch, "converted", place, 2*n)
		}
	}
	for id := range w.receipts {
		_, err := w.S.Ledger.CorrectReceipt(w.Ctx, fixture.Admin, id, ledger.ReceiptCorrection{Qty: 1000, Reason: "late"})
		require.Error(w.T, err)
	}
	clear(w.receipts)
}

// compare holds both books against each other.
func (w *booksWalk) compare(day int) {
	for place, batches := range w.held() {
		got := map[string]int{}
		for lot, n := range w.Holds(place) {
			for batch, id := range w.lots {
				if id == lot {
					got[batch] += n
				}
			}
		}
		require.Equal(w.T, batches, got, "day %d, %s", day, place)
	}
	for _, stations := range [][]string{{"NORTH"}, {"SOUTH"}, {"EAST"}, {"EAST", "NORTH"}, {"EAST", "NORTH", "SOUTH"}} {
		rep, err := w.S.Report.Flows(w.Ctx, fixture.Manager, stations, 0, 0)
		require.NoError(w.T, err)
		got := map[string]map[string]int{}
		for _, f := range rep.Rows {
			require.True(w.T, f.Balanced(), "%+v", f)
			row := map[string]int{"received": f.Received, "moved in": f.MovedIn, "used": f.Used, "disposed": f.Waste(),
				"lost": f.Lost, "supplier": f.ToSupplier, "moved out": f.MovedOut, "converted": f.Converted,
				"stock": f.Stock}
			maps.DeleteFunc(row, func(_ string, n int) bool { return n == 0 })
			if len(row) > 0 {
				got[f.Item] = row
			}
		}
		require.Equal(w.T, w.flows(stations...), got, "day %d, %v", day, stations)
	}
	w.Verify()
}

// TestTwoYearsOfBooks: what was received, returned, used and lost, and what lies where, is after every month of two
// years what books on paper say, in which what was mistyped is set right where it stands.
func TestTwoYearsOfBooks(t *testing.T) {
	t.Parallel()
	w := newBooksWalk(t)
	steps := map[string]func() error{"a receive": w.receive, "b move": w.move, "c move": w.move, "d move": w.move,
		"e receipt corrected": w.correctReceipt, "f item corrected": w.correctItem, "h sent": w.send}
	names := slices.Sorted(maps.Keys(steps))
	for day := range 2 * 365 {
		w.Pass(24 * time.Hour)
		if day == 250 || day == 500 {
			w.convert(fmt.Sprintf("half of day %d", day))
		}
		name := inventorytest.Pick(w.Maker, names...)
		if w.OneIn(60) {
			name = "g closed or opened"
			require.NoError(t, w.closeOrOpen())
			w.done[name]++
		} else if err := steps[name](); err == nil {
			w.done[name]++
		} else {
			require.NotEqual(t, inventory.Internal, inventory.KindOf(err), "day %d, %s: %v", day, name, err)
		}
		if day%30 == 29 {
			w.compare(day)
		}
	}
	w.compare(2 * 365)
	t.Log(w.done)
	for name, least := range map[string]int{"a receive": 50, "e receipt corrected": 10, "f item corrected": 20,
		"h sent":             20,
		"g closed or opened": 6, "to_supplier": 3, "used": 5, "stow": 3, "transfer": 3} {
		require.GreaterOrEqual(t, w.done[name], least, "%s hardly ever happened: %v", name, w.done)
	}
}
