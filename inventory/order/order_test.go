package order_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/money"
	"stowkeeper/inventory/order"
	"stowkeeper/inventory/store/storetest"
)

func TestTake(t *testing.T) {
	lines := []order.OrderedLine{{Product: 1, Item: "PEN", Packs: 2, PackSize: 10},
		{Product: 2, Item: "PEN", Packs: 1, PackSize: 5},
		{Product: 3, Item: "GAUZE", Packs: 4, PackSize: 1}}
	for name, c := range map[string]struct {
		came    []order.Unit
		want    []int
		status  order.Status
		foreign int
	}{
		"nothing":             {nil, []int{0, 0, 0}, order.Sent, 0},
		"a part":              {[]order.Unit{{1, "PEN", 10}}, []int{10, 0, 0}, order.PartReceived, 0},
		"more of one":         {[]order.Unit{{1, "PEN", 99}}, []int{99, 0, 0}, order.PartReceived, 0},
		"of no product":       {[]order.Unit{{0, "PEN", 20}, {0, "PEN", 3}}, []int{20, 3, 0}, order.PartReceived, 0},
		"another pack of it":  {[]order.Unit{{9, "GAUZE", 4}}, []int{0, 0, 4}, order.PartReceived, 0},
		"what nobody ordered": {[]order.Unit{{7, "TABLET", 4}}, []int{0, 0, 0}, order.Sent, 1},
		"all": {[]order.Unit{{2, "PEN", 5}, {1, "PEN", 20}, {3, "GAUZE", 4}}, []int{20, 5, 4},
			order.Received, 0},
		"one short of it all": {[]order.Unit{{2, "PEN", 5}, {1, "PEN", 19}, {3, "GAUZE", 9}}, []int{19, 5, 9},
			order.PartReceived, 0},
		"in two parts, of all": {[]order.Unit{{2, "PEN", 2}, {1, "PEN", 20}, {2, "PEN", 3}, {3, "GAUZE", 4}},
			[]int{20, 5, 4}, order.Received, 0},
	} {
		o := order.Order{Status: order.Sent, Lines: append([]order.OrderedLine{}, lines...)}
		foreign := o.Take(c.came)
		var got []int
		for _, l := range o.Lines {
			got = append(got, l.Received)
		}
		assert.Equal(t, []any{c.want, c.status, c.foreign}, []any{got, o.Status, len(foreign)}, name)
	}
}

func TestMay(t *testing.T) {
	none, some := []order.OrderedLine{{Packs: 1, PackSize: 5}}, []order.OrderedLine{{Packs: 1, PackSize: 5, Received: 1}}
	steps := []order.Status{order.Sent, order.Received, order.Closed, order.Cancelled}
	for status, allowed := range map[order.Status][4]bool{order.Draft: {true, false, false, true},
		order.Sent: {false, true, true, true}, order.PartReceived: {false, true, true, false}, order.Received: {},
		order.Closed: {}, order.Cancelled: {}} {
		o := order.Order{Status: status, Lines: none}
		if status == order.PartReceived {
			o.Lines = some
		}
		for i, step := range steps {
			want := inventory.Conflict
			if allowed[i] {
				want = ""
			}
			assert.Equal(t, want, inventory.KindOf(o.May(step)), "%s: %s", status, step)
		}
	}
}

func TestLate(t *testing.T) {
	for _, c := range []struct {
		status order.Status
		due    inventory.Day
		want   bool
	}{{order.Sent, 99, true}, {order.Sent, 100, false}, {order.PartReceived, 99, true}, {order.Draft, 99, false},
		{order.Received, 99, false}, {order.Sent, 0, false}} {
		assert.Equal(t, c.want, order.Order{Status: c.status, DueOn: c.due}.Late(100), "%v", c)
	}
}

// TestStillToBuy: what is on order, a draft too, is taken off; what is left comes in whole packs, and not fewer than
// are sent.
func TestStillToBuy(t *testing.T) {
	items := map[string]inventory.Item{"PEN": {LeadTimeDays: 9}}
	products := map[int64]inventory.Product{1: {ID: 1, Supplier: "Alder", PackSize: 10, MinimumPacks: 3,
		Prices: []inventory.Price{{Amount: money.Amount{Minor: 250, Currency: "EUR"}, ValidFrom: 50}}}}
	pens := func(packs, received int) []order.OrderedLine {
		return []order.OrderedLine{{Item: "PEN", Packs: packs, PackSize: 10, Received: received}}
	}
	orders := []order.Order{{Station: "N", Status: order.Draft, Lines: pens(1, 0)},
		{Station: "N", Status: order.PartReceived, Lines: pens(2, 15)},
		{Station: "N", Status: order.Closed, Lines: pens(9, 0)}, {Station: "S", Status: order.Sent, Lines: pens(1, 12)}}
	coming := order.Coming(orders)
	assert.Equal(t, map[order.At]int{{"N", "PEN"}: 15, {"S", "PEN"}: 0}, coming)
	for qty, want := range map[int]int{15: 0, 16: 3, 45: 3, 46: 4} {
		got := order.StillToBuy([]inventory.Buy{{Station: "N", Item: "PEN", Qty: qty, Packs: 9, PackSize: 10, Product: 1}},
			coming, items, products, 100)
		if want == 0 {
			assert.Empty(t, got)
			continue
		}
		assert.Equal(t, []any{want, qty - 15, qty, 15, "Alder", 9, "2.50 EUR"}, []any{got[0].Packs, got[0].Qty,
			got[0].Missing,
			got[0].OnOrder, got[0].Supplier, got[0].LeadDays, got[0].Price.String()})
	}
	bare := order.StillToBuy([]inventory.Buy{{Station: "S", Item: "PEN", Qty: 2}}, coming, items, products, 100)
	assert.Equal(t, []any{2, 0, ""}, []any{bare[0].Qty, bare[0].Packs, bare[0].Price.String()})
}

// bought is a house where dressings and pens can be ordered.
func bought(t *testing.T, s inventory.Store) (h *fixture.House, in order.OrderRequest) {
	h = fixture.New(t, s)
	in = order.OrderRequest{Supplier: "Alder Supplies", Station: "north"}
	for _, p := range []inventory.Product{{Item: "DRESSING", PackSize: 10, MinimumPacks: 2, Prices: []inventory.Price{
		{Amount: money.Amount{Minor: 1250, Currency: "EUR"}, ValidFrom: h.Now.InUTC()}}}, {Item: "PEN", PackSize: 5}} {
		pr, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, p)
		require.NoError(t, err)
		in.Lines = append(in.Lines, order.OrderLineRequest{Product: pr.ID, Packs: 2})
		it, err := h.S.Lists.Item(h.Ctx, fixture.Keeper, p.Item)
		require.NoError(t, err)
		it.LeadTimeDays = 10
		_, err = h.S.Lists.UpdateItem(h.Ctx, fixture.Keeper, it)
		require.NoError(t, err)
	}
	return h, in
}

func dressings(batch string, packs int, product int64) inventory.Receipt {
	return inventory.Receipt{Item: "DRESSING", Product: product, BatchNo: batch, EndPrinted: "2031-06", Qty: 10 * packs}
}

// TestOrder: an order is drafted by the manager, sent with fewer packs, received in parts by the quartermaster, then
// closed. What came counts by the receipts that name it, whichever way they were made, and as corrected.
func TestOrder(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h, in := bought(t, s)
		o, err := h.S.Order.Draft(h.Ctx, fixture.Manager, in)
		require.NoError(t, err)
		assert.Equal(t, []any{order.Draft, "NORTH-STORE", 10, "25.00 EUR"}, []any{o.Status, o.Place, o.LeadDays,
			o.Total[0].String()})
		on := func() int {
			all, err := h.S.Order.OnOrder(h.Ctx, fixture.Manager, "NORTH")
			require.NoError(t, err)
			return all["DRESSING"]
		}
		assert.Equal(t, 20, on())
		_, err = h.S.Order.Receive(h.Ctx, fixture.Keeper, o.ID, order.OrderArrival{Lines: []inventory.Receipt{
			dressings("B1", 1, in.Lines[0].Product)}})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		o, err = h.S.Order.Send(h.Ctx, fixture.Manager, o.ID, []order.PackCount{{in.Lines[0].Product, 3},
			{in.Lines[1].Product, 1}}, "by post")
		require.NoError(t, err)
		today := h.Now.In(time.UTC)
		assert.Equal(t, []any{order.Sent, "37.50 EUR", today.AddDays(10)}, []any{o.Status, o.Total[0].String(), o.DueOn})
		assert.Equal(t, 30, on())
		assert.Empty(t, h.Holds("NORTH-STORE"), "what is on order is not there")
		o, err = h.S.Order.Receive(h.Ctx, fixture.Keeper, o.ID, order.OrderArrival{Note: "one box",
			Lines: []inventory.Receipt{dressings("B1", 1, in.Lines[0].Product), {Item: "PEN", Qty: 5}}})
		require.NoError(t, err)
		assert.Equal(t, []any{order.PartReceived, 10, 5, 20}, []any{o.Status, o.Lines[0].Received, o.Lines[1].Received,
			o.Missing()})
		lot, err := h.S.Order.Book(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING",
			BatchNo: "B2", EndPrinted: "2031-07", Qty: 15, Reference: o.Reference()})
		require.NoError(t, err)
		assert.Equal(t, 5, on(), "a receipt that names the order counts, however it was made")
		ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Keeper, inventory.MovementFilter{LotID: lot.ID}, inventory.Page{})
		require.NoError(t, err)
		_, err = h.S.Ledger.CorrectReceipt(h.Ctx, fixture.Keeper, ms[0].ID, ledger.ReceiptCorrection{Qty: 12, Reason: "12"})
		require.NoError(t, err)
		assert.Equal(t, 8, on(), "as it was corrected")
		h.Pass(11 * 24 * time.Hour)
		open, err := h.S.Order.Orders(h.Ctx, fixture.Keeper, inventory.DocumentFilter{Open: true}, inventory.Page{})
		require.NoError(t, err)
		assert.True(t, open[0].Late(h.Now.In(time.UTC)))
		_, err = h.S.Order.Cancel(h.Ctx, fixture.Keeper, o.ID, "too late")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		_, err = h.S.Order.Close(h.Ctx, fixture.Keeper, o.ID, "")
		inventorytest.RequireFields(t, err, "reason")
		_, err = h.S.Order.Close(h.Ctx, fixture.Keeper, o.ID, "the rest is no longer made")
		require.NoError(t, err)
		assert.Zero(t, on())
		o, err = h.S.Order.Order(h.Ctx, fixture.Keeper, o.ID)
		require.NoError(t, err)
		assert.Equal(t, []any{order.Closed, 22, 5}, []any{o.Status, o.Lines[0].Received, len(o.Steps)})
		h.Verify()
	})
}

// TestOrderRefuses: who may not, what cannot be ordered, and what somebody else has ordered meanwhile.
func TestOrderRefuses(t *testing.T) {
	t.Parallel()
	h, in := bought(t, storetest.OpenSQLite(t))
	_, err := h.S.Order.Draft(h.Ctx, fixture.Crew, in)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	south := inventory.Actor{Name: "Sam", Role: inventory.Manager, Stations: []string{"SOUTH"}}
	_, err = h.S.Order.Draft(h.Ctx, south, in)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	wrong := order.OrderRequest{Station: "NORTH", Place: "NORTH-QUARANTINE", Lines: []order.OrderLineRequest{
		{Product: in.Lines[0].Product, Packs: 1}, {Product: 99, Packs: 1}, {Product: in.Lines[0].Product, Packs: 2,
			Price: &money.Amount{Minor: 1, Currency: "XXX"}}}}
	_, err = h.S.Order.Draft(h.Ctx, fixture.Keeper, wrong)
	inventorytest.RequireFields(t, err, "place", "supplier", "lines[0].packs", "lines[1].product", "lines[2].price",
		"lines[2].product")
	none := 0
	in.Lines[0].Seen, in.Lines[1].Seen = &none, &none
	o, err := h.S.Order.Draft(h.Ctx, fixture.Keeper, in)
	require.NoError(t, err)
	_, err = h.S.Order.Draft(h.Ctx, fixture.Manager, in)
	inventorytest.RequireKind(t, inventory.Conflict, err)
	buy, err := h.S.Order.Plan(h.Ctx, fixture.Manager, []inventory.Buy{{Station: "NORTH", Item: "DRESSING", Qty: 20,
		PackSize: 10, Product: in.Lines[0].Product}, {Station: "SOUTH", Item: "DRESSING", Qty: 20}})
	require.NoError(t, err)
	assert.Len(t, buy, 1, "nothing is ordered twice")
	_, err = h.S.Order.Close(h.Ctx, fixture.Keeper, o.ID, "why")
	inventorytest.RequireKind(t, inventory.Conflict, err)
	_, err = h.S.Order.Send(h.Ctx, fixture.Keeper, o.ID, []order.PackCount{{99, 1}, {in.Lines[0].Product, -1}}, "")
	inventorytest.RequireFields(t, err, "lines[0].product", "lines[1].packs")
	_, err = h.S.Order.Send(h.Ctx, fixture.Keeper, o.ID, nil, "")
	require.NoError(t, err)
	_, err = h.S.Order.Send(h.Ctx, fixture.Keeper, o.ID, nil, "")
	inventorytest.RequireKind(t, inventory.Conflict, err)
	_, err = h.S.Order.Receive(h.Ctx, fixture.Manager, o.ID, order.OrderArrival{})
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = h.S.Order.Receive(h.Ctx, fixture.Keeper, o.ID, order.OrderArrival{Lines: []inventory.Receipt{{Item: "TABLET",
		BatchNo: "T1", EndPrinted: "2031-06", EndWording: inventory.WordExpiry, Qty: 1}}})
	inventorytest.RequireFields(t, err, "lines")
	_, err = h.S.Order.Receive(h.Ctx, fixture.Keeper, o.ID, order.OrderArrival{Lines: []inventory.Receipt{{Item: "NONE",
		Qty: 1}}})
	inventorytest.RequireFields(t, err, "lines[0].item")
	assert.Empty(t, h.Holds("NORTH-STORE"))
	_, err = h.S.Order.Cancel(h.Ctx, fixture.Keeper, o.ID, "ordered by mistake")
	require.NoError(t, err)
	_, err = h.S.Order.Order(h.Ctx, south, o.ID)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = h.S.Order.Order(h.Ctx, fixture.Keeper, 999)
	inventorytest.RequireKind(t, inventory.NotFound, err)
	h.Verify()
}

// TestDeliveryOfOrder: a delivery that is scanned and put away for an order is what came of it, and ends it.
func TestDeliveryOfOrder(t *testing.T) {
	t.Parallel()
	h, in := bought(t, storetest.OpenSQLite(t))
	pr, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: "DRESSING", GTIN: "09521234543213",
		PackSize: 10})
	require.NoError(t, err)
	in.Lines = []order.OrderLineRequest{{Product: pr.ID, Packs: 2}}
	o, err := h.S.Order.Draft(h.Ctx, fixture.Keeper, in)
	require.NoError(t, err)
	_, err = h.S.Order.Send(h.Ctx, fixture.Keeper, o.ID, nil, "")
	require.NoError(t, err)
	for _, want := range []order.Status{order.PartReceived, order.Received} {
		d, err := h.S.Storeroom.StartDelivery(h.Ctx, fixture.Keeper, "NORTH-STORE", "")
		require.NoError(t, err)
		_, err = h.S.Storeroom.ScanPack(h.Ctx, fixture.Keeper, d.ID, "010952123454321317310630"+"10L1")
		require.NoError(t, err)
		_, err = h.S.Storeroom.PutAway(h.Ctx, fixture.Keeper, d.ID, o.Reference())
		require.NoError(t, err)
		o, err = h.S.Order.Order(h.Ctx, fixture.Keeper, o.ID)
		require.NoError(t, err)
		assert.Equal(t, want, o.Status)
	}
	open, err := h.S.Order.Orders(h.Ctx, fixture.Keeper, inventory.DocumentFilter{Open: true}, inventory.Page{})
	require.NoError(t, err)
	assert.Empty(t, open)
	h.Verify()
}
