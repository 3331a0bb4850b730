package inventory_test

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
	"stowkeeper/inventory/store/storetest"
)

// TestPlanDelivery is the table of what is in the way of a line and where it
// goes. The day is 14 June 2027; product 1 is of a dressing, 2 of an ampoule for
// which two people sign, 3 and 4 have one code.
func TestPlanDelivery(t *testing.T) {
	station := inventory.Station{Code: "N"}
	facts := inventory.DeliveryFacts{Store: station.StationPlaces()[0], Station: station,
		Today: inventory.MustDay("2027-06-14"),
		Products: []inventory.Product{{ID: 1, Item: "D", GTIN: "9521234543213", PackSize: 10}, {ID: 2, Item: "A",
			PackSize: 5},
			{ID: 3, Item: "D", HIBC: "X1", PackSize: 1}, {ID: 4, Item: "A", HIBC: "X1", PackSize: 1}},
		Items: []inventory.Item{{Code: "A", Category: "pain relief", TrackedBy: inventory.ByLot, Dated: true,
			Controlled: true},
			{Code: "D", Category: "plain dressing", TrackedBy: inventory.ByLot, Dated: true}},
		Notices: []inventory.Notice{{Reference: "R-1", Item: "D", Action: inventory.NoticeWithdraw,
			Status: inventory.NoticeClosed, BatchNos: []string{"W"}}},
		Batches: []inventory.Batch{{ID: 1, Item: "D", Product: 1, BatchNo: "K", EndPrinted: "2028-06", EndWording: "expiry",
			LastUsable: inventory.MustDay("2028-06-30")}}}
	line := func(product int64, item, batchNo, end string) inventory.DeliveryLine {
		return inventory.DeliveryLine{Product: product, Item: item, BatchNo: batchNo, EndPrinted: end, EndWording: "expiry",
			Packs: 2}
	}
	sent := func(l inventory.DeliveryLine, way inventory.WayIn) inventory.DeliveryLine { l.Way = way; return l }
	kept := line(1, "D", "K", "2027-05")
	kept.OnConflict = inventory.KeepEarlier
	for _, tt := range []struct {
		name    string
		line    inventory.DeliveryLine
		trouble inventory.Trouble
		to      string
	}{
		{"in date", line(1, "D", "N", "2028-06"), "", "N-STORE"},
		{"named since it was scanned", inventory.DeliveryLine{Scheme: barcode.GS1, Code: "09521234543213", BatchNo: "N",
			EndPrinted: "2028-06", EndWording: "expiry", Packs: 1}, "", "N-STORE"},
		{"of no product", inventory.DeliveryLine{Scheme: barcode.GS1, Code: "09520000000028"}, inventory.TroubleUnknown, ""},
		{"of two", inventory.DeliveryLine{Scheme: barcode.HIBC, Code: "X1"}, inventory.TroubleUnknown, ""},
		{"no date", line(1, "D", "N", ""), inventory.TroubleMissing, ""},
		{"no date, and a way", sent(line(1, "D", "N", ""), inventory.InTraining), inventory.TroubleMissing, ""},
		{"past its day", line(1, "D", "N", "2027-05"), inventory.TroublePast, ""},
		{"past its day, to training", sent(line(1, "D", "N", "2027-05"), inventory.InTraining), "", "N-TRAINING"},
		{"past its day, disposed of", sent(line(1, "D", "N", "2027-05"), inventory.InDisposed), "", "disposed"},
		{"past its day, into quarantine", sent(line(1, "D", "N", "2027-05"), inventory.InQuarantine), inventory.TroublePast,
			""},
		{"withdrawn", line(1, "D", "W", "2028-06"), inventory.TroubleNotice, ""},
		{"withdrawn, set apart", sent(line(1, "D", "W", "2028-06"), inventory.InQuarantine), "", "N-QUARANTINE"},
		{"known with another date", line(1, "D", "K", "2028-07"), inventory.TroubleConflict, ""},
		{"which is right, and not past", kept, "", "N-STORE"},
		{"another item's product", line(2, "D", "N", "2028-06"), inventory.TroubleMissing, ""},
		{"controlled", line(2, "A", "N", "2028-06"), "", "N-STORE"},
	} {
		d := inventory.Delivery{Status: inventory.DeliveryOpen, Lines: []inventory.DeliveryLine{tt.line}}
		for _, signed := range []bool{false, true} {
			facts.Signed = signed
			p := inventory.PlanDelivery(d, facts)
			assert.Equal(t, []any{tt.trouble, tt.to, tt.trouble == ""}, []any{p.Rows[0].Trouble, p.Rows[0].To, p.Ready}, tt.name)
			assert.Equal(t, p.Rows[0].Is.Controlled && !signed, p.Unsigned, tt.name)
			assert.Equal(t, tt.trouble == "", p.Rows[0].Problem == "", tt.name)
		}
		d.Status = inventory.DeliveryDropped
		p := inventory.PlanDelivery(d, facts)
		assert.Equal(t, []any{false, inventory.TroubleNone}, []any{p.Ready, p.Rows[0].Trouble}, "it has ended")
	}
	assert.False(t, inventory.PlanDelivery(inventory.Delivery{Status: inventory.DeliveryOpen}, facts).Ready, "empty")
}

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
	_, err := d.s.Lists.CreateItem(d.ctx, admin, inventory.Item{Code: "AMP", Name: "Ampoule", Category: "pain relief",
		Unit: "ampoule", TrackedBy: inventory.ByLot, Dated: true, Controlled: true, Strength: "1 mg", Form: "ampoule"})
	require.NoError(t, err)
	_, err = d.s.Lists.CreateProduct(d.ctx, keeper, inventory.Product{Item: "AMP", GTIN: "09520000000059", PackSize: 5})
	require.NoError(t, err)
	products, err := d.s.Lists.Products(d.ctx, keeper, inventory.ProductFilter{}, inventory.Page{})
	require.NoError(t, err)
	for _, pr := range products {
		if pr.Item != "TQ" && pr.Item != "AMP" {
			_, err := d.s.Ledger.Receive(d.ctx, keeper, inventory.Receipt{Place: "NORTH-QUARANTINE", Item: pr.Item,
				Product: pr.ID, BatchNo: "A", EndPrinted: "2028-06", EndWording: "expiry", Qty: 1})
			require.NoError(t, err)
		}
	}
	d.receive("TQ", "S1", 1, "")
	for _, n := range []inventory.Notice{{Item: "DRESSING", BatchNos: []string{"W"}}, {Item: "TABLET",
		MadeFrom: inventory.MustDay("2026-01-01"), MadeTo: inventory.MustDay("2026-01-31")}} {
		n.Reference, n.Action = "R-"+n.Item, inventory.NoticeWithdraw
		_, err := d.s.Notice.CreateNotice(d.ctx, keeper, n)
		require.NoError(t, err)
	}
	return d, products
}

// holdsLines gives the delivery these lines.
func (d dock) holdsLines(ls []inventory.DeliveryLine) {
	_, err := inventory.Write(d.ctx, d.store, func(w inventory.Writer) (int, error) {
		kept, err := w.Delivery(d.id)
		require.NoError(d.t, err)
		kept.Lines = ls
		return 0, w.SetDelivery(kept)
	})
	require.NoError(d.t, err)
}

var errTried = errors.New("tried")

// tried does something in a unit of work that is given up.
func (d dock) tried(t require.TestingT, do func(d dock)) {
	err := d.store.Write(d.ctx, func(ctx context.Context, _ inventory.Writer) error {
		inside := *d.house
		inside.t, inside.ctx = t, ctx
		do(dock{&inside, d.store, d.id})
		return errTried
	})
	require.ErrorIs(t, err, errTried)
}

// received is what receiving a line alone says.
func (d dock) received(row inventory.DeliveryRow, to string) (said error) {
	d.tried(d.t, func(d dock) {
		_, said = d.s.Ledger.Receive(d.ctx, keeper, inventory.Receipt{Place: to, Item: row.Item, Product: row.Product,
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
		require.Equal(t, inventory.TroubleMissing, row.Trouble)
		return
	}
	if row.Trouble == inventory.TroublePast || row.Trouble == inventory.TroubleNotice { // it needs a way
		requireKind(t, inventory.Conflict, d.received(row, to[inventory.InPlace]))
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
	require.Equal(t, err == nil || v.Unsigned, row.Trouble == inventory.TroubleNone, "%+v: %v", row.DeliveryLine, err)
	if !v.Unsigned {
		require.Equal(t, []any{inventory.MessageOf(err), inventory.FieldsOf(err)}, []any{row.Problem, row.Problems})
	}
}

// TestDeliveryReadyIsPutAway: a delivery is put away if and only if the plan says
// so, and as it says.
func TestDeliveryReadyIsPutAway(t *testing.T) {
	t.Parallel()
	d, products := knownDock(t)
	ready := 0
	rapid.Check(t, func(rt *rapid.T) {
		by := keeper
		if rapid.Bool().Draw(rt, "signed") {
			by.Proof = inventory.Proof{First: "Quinn", Second: "Wil", At: d.now}
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
	before, holding := d.everything(), map[string]map[int64]int{}
	for _, place := range []string{"NORTH-STORE", "NORTH-TRAINING", "NORTH-QUARANTINE"} {
		holding[place] = d.holds(place)
	}
	plan, err := d.s.Storeroom.Delivery(d.ctx, by, d.id)
	require.NoError(t, err)
	put, err := d.s.Storeroom.PutAway(d.ctx, by, d.id, "DN")
	if !plan.Ready || plan.Unsigned {
		require.Error(t, err)
		require.Equal(t, plan.Unsigned, errors.Is(err, account.ErrUnsigned))
		require.Equal(t, before, d.everything(), "all or none")
		return false
	}
	require.NoError(t, err)
	came := map[string]map[int64]int{}
	for i, row := range put.Rows {
		require.Equal(t, []any{plan.Rows[i].To, plan.Rows[i].InAll}, []any{row.To, row.InAll})
		lot, err := d.s.Stock.Lot(d.ctx, keeper, row.LotID)
		require.NoError(t, err)
		require.Equal(t, []any{row.Item, row.BatchNo, row.Through}, []any{lot.Item, lot.BatchNo, lot.LastUsable})
		if came[row.To] == nil {
			came[row.To] = map[int64]int{}
		}
		came[row.To][row.LotID] += row.InAll
	}
	for place, held := range holding {
		for lot, n := range d.holds(place) {
			require.Equal(t, came[place][lot], n-held[lot], "%s: %d", place, lot)
		}
	}
	d.verify()
	return true
}

// TestDeliveryPageAsksTheSame: a delivery of many lines is shown with as many
// statements as one of few, and without writing.
func TestDeliveryPageAsksTheSame(t *testing.T) {
	var asked []storetest.Counts
	for _, n := range []int{10, 100} {
		d := newDock(t, storetest.OpenCounting(t))
		v := d.view()
		pr, err := d.s.Lists.Products(d.ctx, keeper, inventory.ProductFilter{Item: "DRESSING"}, inventory.Page{})
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
		_, err = d.s.Storeroom.PutAway(d.ctx, keeper, d.id, "")
		require.NoError(t, err)
		t.Logf("%d lines are put away with %+v", n, storetest.Counted().Since(before))
	}
	assert.Equal(t, asked[0], asked[1])
	assert.Equal(t, []int64{1, 0}, []int64{asked[0].Reads, asked[0].Writes})
	assert.LessOrEqual(t, asked[0].Statements, int64(10))
}
