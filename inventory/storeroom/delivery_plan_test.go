package storeroom_test

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/storeroom"
)

// drawLine makes a line that may have anything right or wrong.
func drawLine(rt *rapid.T, n int, products []inventory.Product) inventory.DeliveryLine {
	pr := rapid.SampledFrom(products).Draw(rt, "product")
	any := func(what string, from ...string) string { return rapid.SampledFrom(from).Draw(rt, what) }
	l := inventory.DeliveryLine{N: n, Scheme: barcode.GS1, Code: barcode.GTIN14(pr.GTIN), Product: pr.ID, Item: pr.Item,
		BatchNo: any("batch", "A", "B"), EndPrinted: "2028-06", EndWording: "expiry", Packs: 1}
	if rapid.SampledFrom([]bool{false, false, false, false, true}).Draw(rt, "odd") {
		l.BatchNo, l.MadeOn = any("batch", "A", "B", "W", ""), any("made", "", "", "2026-01", "2028-01")
		l.EndPrinted = any("end", "2028-06", "2028-07", "2027-05", "", "soon")
		l.EndWording = inventory.Wording(any("wording", "expiry", "expiry", "use_before", ""))
		l.Packs, l.Stated = rapid.IntRange(1, 3).Draw(rt, "packs"), rapid.SampledFrom([]int{0, 0, 0, 7}).Draw(rt, "stated")
		l.Way = inventory.WayIn(any("way", "", "place", "training", "quarantine", "disposed"))
		l.OnConflict, l.Reason = inventory.OnConflict(any("conflict", "", "keep", "correct")), any("reason", "", "looked")
	}
	if pr.Item == "TQ" {
		l.Serial, l.Packs = any("serial", "S1", "s 1", "S2", "S3"), 1
	}
	if rapid.IntRange(0, 3).Draw(rt, "unnamed") == 0 {
		l.Product, l.Item = 0, ""
	}
	return l
}

// knownDock is a dock where some batches are known and some are withdrawn, with
// its products.
func knownDock(t *testing.T) (dock, []inventory.Product) {
	d := newDock(t, storetest.OpenSQLite(t))
	_, err := d.S.Lists.CreateItem(d.Ctx, fixture.Admin, inventory.Item{Code: "AMP", Name: "Ampoule",
		Category: "pain relief",
		Unit:     "ampoule", TrackedBy: inventory.ByLot, Dated: true, Controlled: true, Strength: "1 mg", Form: "ampoule"})
	require.NoError(t, err)
	_, err = d.S.Lists.CreateProduct(d.Ctx, fixture.Keeper, inventory.Product{Item: "AMP", GTIN: "09520000000059",
		PackSize: 5})
	require.NoError(t, err)
	products, err := d.S.Lists.Products(d.Ctx, fixture.Keeper, inventory.ProductFilter{}, inventory.Page{})
	require.NoError(t, err)
	for _, pr := range products {
		if pr.Item != "TQ" && pr.Item != "AMP" {
			_, err := d.S.Ledger.Receive(d.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-QUARANTINE", Item: pr.Item,
				Product: pr.ID, BatchNo: "A", EndPrinted: "2028-06", EndWording: "expiry", Qty: 1})
			require.NoError(t, err)
		}
	}
	d.Receive("TQ", "S1", 1, "")
	for _, n := range []inventory.Notice{{Item: "DRESSING", NoticeScope: inventory.NoticeScope{BatchNos: []string{"W"}}},
		{Item: "TABLET", NoticeScope: inventory.NoticeScope{MadeFrom: inventory.MustDay("2026-01-01"),
			MadeTo: inventory.MustDay("2026-01-31")}}} {
		n.Reference, n.Action = "R-"+n.Item, inventory.NoticeWithdraw
		_, err := d.S.Notice.CreateNotice(d.Ctx, fixture.Keeper, n)
		require.NoError(t, err)
	}
	return d, products
}

// holdsLines gives the delivery these lines.
func (d dock) holdsLines(ls []inventory.DeliveryLine) {
	_, err := inventory.Write(d.Ctx, d.store, func(w inventory.Writer) (int, error) {
		kept, err := w.Delivery(d.id)
		require.NoError(d.T, err)
		kept.Lines = ls
		return 0, w.SetDelivery(kept)
	})
	require.NoError(d.T, err)
}

var errTried = errors.New("tried")

// tried does something in a unit of work that is given up.
func (d dock) tried(t require.TestingT, do func(d dock)) {
	err := d.store.Write(d.Ctx, func(ctx context.Context, _ inventory.Writer) error {
		inside := *d.House
		inside.T, inside.Ctx = t, ctx
		do(dock{&inside, d.store, d.id})
		return errTried
	})
	require.ErrorIs(t, err, errTried)
}

// received is what receiving a line alone says.
func (d dock) received(row storeroom.DeliveryRow, to string) (said error) {
	d.tried(d.T, func(d dock) {
		_, said = d.S.Ledger.Receive(d.Ctx, fixture.Keeper, inventory.Receipt{Place: to, Item: row.Item, Product: row.Product,
			BatchNo: row.BatchNo, Serial: row.Serial, MadeOn: row.MadeOn, EndPrinted: row.EndPrinted,
			EndWording: row.EndWording, Qty: row.InAll, OnConflict: row.OnConflict, CorrectionReason: row.Reason})
	})
	return said
}

// TestDeliveryIsAsReceived: the trouble of a line alone is what receiving it
// says.
func TestDeliveryIsAsReceived(t *testing.T) {
	t.Parallel()
	d, products := knownDock(t)
	rapid.Check(t, func(rt *rapid.T) {
		l := drawLine(rt, 1, products)
		d.tried(rt, func(d dock) {
			d.holdsLines([]inventory.DeliveryLine{l})
			d.asReceived(rt)
		})
	})
}

// asReceived receives the only line of a delivery, and finds that the plan said
// so.
func (d dock) asReceived(t require.TestingT) {
	v := d.view()
	row, to := v.Rows[0], map[inventory.WayIn]string{inventory.InPlace: "NORTH-STORE",
		inventory.InTraining:   "NORTH-TRAINING",
		inventory.InQuarantine: "NORTH-QUARANTINE", inventory.InDisposed: "NORTH-QUARANTINE"}
	if ps := row.Problems; len(ps) == 1 && ps[0].Path == "packs" { // how many units are they?
		require.Equal(t, storeroom.TroubleMissing, row.Trouble)
		return
	}
	if row.Trouble == storeroom.TroublePast || row.Trouble == storeroom.TroubleNotice { // it needs a way
		inventorytest.RequireKind(t, inventory.Conflict, d.received(row, to[inventory.InPlace]))
		require.NotContains(t, row.Ways, inventory.InPlace)
		for _, way := range row.Ways {
			err := d.received(row, to[way])
			require.True(t, err == nil || errors.Is(err, account.ErrUnsigned), "%s: %v", way, err)
		}
		return
	}
	way := inventory.InPlace
	if slices.Contains(row.Ways, row.Way) {
		way = row.Way
	}
	err := d.received(row, to[way])
	require.Equal(t, errors.Is(err, account.ErrUnsigned), v.Unsigned)
	require.Equal(t, err == nil || v.Unsigned, row.Trouble == storeroom.TroubleNone, "%+v: %v", row.DeliveryLine, err)
	if !v.Unsigned {
		require.Equal(t, []any{inventory.MessageOf(err).String(), inventory.FieldsOf(err)}, []any{row.Problem.String(),
			row.Problems})
	}
}

// TestDeliveryReadyIsPutAway: a delivery is put away if and only if the plan says
// so, and as it says.
func TestDeliveryReadyIsPutAway(t *testing.T) {
	t.Parallel()
	d, products := knownDock(t)
	ready := 0
	rapid.Check(t, func(rt *rapid.T) {
		by := fixture.Keeper
		if rapid.Bool().Draw(rt, "signed") {
			by.Proof = inventory.Proof{First: "Quinn", Second: "Wil", At: d.Now}
		}
		var ls []inventory.DeliveryLine
		for i := range rapid.IntRange(1, 5).Draw(rt, "lines") {
			ls = append(ls, drawLine(rt, i+1, products))
		}
		d.tried(rt, func(d dock) {
			d.holdsLines(ls)
			if d.putAway(rt, by) {
				ready++
			}
		})
	})
	assert.Positive(t, ready, "some are ready")
}

// putAway puts a delivery away if it can be, and finds that the plan said so.
func (d dock) putAway(t require.TestingT, by inventory.Actor) bool {
	before, holding := d.Everything(), map[string]map[int64]int{}
	for _, place := range []string{"NORTH-STORE", "NORTH-TRAINING", "NORTH-QUARANTINE"} {
		holding[place] = d.Holds(place)
	}
	plan, err := d.S.Storeroom.Delivery(d.Ctx, by, d.id)
	require.NoError(t, err)
	put, err := d.S.Storeroom.PutAway(d.Ctx, by, d.id, "DN")
	if !plan.Ready || plan.Unsigned {
		require.Error(t, err)
		require.Equal(t, plan.Unsigned, errors.Is(err, account.ErrUnsigned))
		require.Equal(t, before, d.Everything(), "all or none")
		return false
	}
	require.NoError(t, err)
	came := map[string]map[int64]int{}
	for i, row := range put.Rows {
		require.Equal(t, []any{plan.Rows[i].To, plan.Rows[i].InAll}, []any{row.To, row.InAll})
		lot, err := d.S.Stock.Lot(d.Ctx, fixture.Keeper, row.LotID)
		require.NoError(t, err)
		require.Equal(t, []any{row.Item, row.BatchNo, row.Through}, []any{lot.Item, lot.BatchNo, lot.LastUsable})
		if came[row.To] == nil {
			came[row.To] = map[int64]int{}
		}
		came[row.To][row.LotID] += row.InAll
	}
	for place, held := range holding {
		for lot, n := range d.Holds(place) {
			require.Equal(t, came[place][lot], n-held[lot], "%s: %d", place, lot)
		}
	}
	d.Verify()
	return true
}

// TestDeliveryPageAsksTheSame: a delivery of many lines is shown with as many
// statements as one of few, and without writing.
func TestDeliveryPageAsksTheSame(t *testing.T) {
	var asked []storetest.Counts
	for _, n := range []int{10, 100} {
		d := newDock(t, storetest.OpenCounting(t))
		v := d.view()
		pr, err := d.S.Lists.Products(d.Ctx, fixture.Keeper, inventory.ProductFilter{Item: "DRESSING"}, inventory.Page{})
		require.NoError(t, err)
		for i := range n {
			v.Lines = append(v.Lines, inventory.DeliveryLine{N: i + 1, Product: pr[0].ID, Item: "DRESSING",
				BatchNo: strconv.Itoa(i), EndPrinted: "2028-06", EndWording: "expiry", Packs: 1})
		}
		d.holdsLines(v.Lines)
		before := storetest.Counted()
		require.True(t, d.view().Ready)
		asked = append(asked, storetest.Counted().Since(before))
		before = storetest.Counted()
		_, err = d.S.Storeroom.PutAway(d.Ctx, fixture.Keeper, d.id, "")
		require.NoError(t, err)
		t.Logf("%d lines are put away with %+v", n, storetest.Counted().Since(before))
	}
	assert.Equal(t, asked[0], asked[1])
	assert.Equal(t, []int64{1, 0}, []int64{asked[0].Reads, asked[0].Writes})
	assert.LessOrEqual(t, asked[0].Statements, int64(10))
}
