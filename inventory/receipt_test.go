package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// TestJudgeReceipt is the table of what becomes of a receipt, and of why it is
// refused. The day is 14 June 2027.
func TestJudgeReceipt(t *testing.T) {
	const item, product, other = "I", int64(1), int64(2)
	day := inventory.MustDay("2027-06-14")
	place := func(kind inventory.PlaceKind, purpose inventory.Purpose) inventory.Place {
		return inventory.Place{Code: "P", Station: "N", Kind: kind, Purpose: purpose}
	}
	store, training := place(inventory.KindStore, inventory.ForIssue), place(inventory.KindStore, inventory.ForTraining)
	apart := place(inventory.KindQuarantine, inventory.ForIssue)
	bag := place(inventory.KindBag, inventory.ForIssue)
	dressing := inventory.Item{Code: item, Category: "plain dressing", TrackedBy: inventory.ByLot, Dated: true}
	tablet := inventory.Item{Code: item, Category: "medicine", TrackedBy: inventory.ByLot, Dated: true}
	device := inventory.Item{Code: item, Category: "tourniquet", TrackedBy: inventory.BySerial}
	undated := inventory.Item{Code: item, Category: "marker", TrackedBy: inventory.ByLot}
	batches := []inventory.Batch{
		{ID: 1, Item: item, Product: product, BatchNo: "A", EndPrinted: "2028-06", EndWording: "expiry",
			LastUsable: inventory.MustDay("2028-06-30")},
		{ID: 2, Item: item, Product: product, BatchNo: "B", EndPrinted: "2028-06", EndWording: "expiry"},
		{ID: 3, Item: item, Product: other, BatchNo: "B", EndPrinted: "2028-07", EndWording: "expiry"},
		{ID: 4, Item: item, Serial: "S 1"}, {ID: 5, Item: item, MadeOn: inventory.MustDay("2026-01-01")},
		{ID: 6, Item: "ELSE", BatchNo: "Z"},
	}
	back := []inventory.Lot{{ID: 7, Batch: inventory.Batch{ID: 7, Item: item, Serial: "S 7"}},
		{ID: 8, Batch: inventory.Batch{ID: 8, Item: item, Serial: "S 8"}, Clocks: inventory.Clocks{Training: true}}}
	batches = append(batches, back[0].Batch, back[1].Batch)
	notices := []inventory.Notice{
		{Reference: "R-1", Item: item, Action: inventory.NoticeWithdraw, Status: inventory.NoticeOpen,
			NoticeScope: inventory.NoticeScope{BatchNos: []string{"W"}}},
		{Reference: "R-2", Item: "ELSE", Action: inventory.NoticeWithdraw, Status: inventory.NoticeOpen},
	}
	of := func(batchNo, end string) inventory.Receipt {
		return inventory.Receipt{Item: item, Product: product, BatchNo: batchNo, EndPrinted: end, EndWording: "expiry",
			Qty: 1}
	}
	with := func(in inventory.Receipt, change func(*inventory.Receipt)) inventory.Receipt { change(&in); return in }
	keep := func(in *inventory.Receipt) { in.OnConflict = inventory.KeepEarlier }
	correct := func(in *inventory.Receipt) { in.OnConflict = inventory.CorrectEarlier }
	opening := func(in *inventory.Receipt) { in.Opening = true }
	unnamed := func(in *inventory.Receipt) { in.Product = 0 }
	none := func(in *inventory.Receipt) { *in = inventory.Receipt{Item: item, Qty: 1, Unidentified: true} }
	because := func(in *inventory.Receipt) { correct(in); in.CorrectionReason = "looked at it" }
	for _, tt := range []struct {
		name  string
		item  inventory.Item
		place inventory.Place
		in    inventory.Receipt
		batch int64  // 0 for one to be made
		field string // that is wrong
		says  string // why the rules forbid it
	}{
		{name: "a new batch", item: dressing, place: store, in: of("N", "2028-06")},
		{name: "a known one", item: dressing, place: store, in: of("A", "2028-06"), batch: 1},
		{name: "its product left out", item: dressing, place: store, in: with(of("A", "2028-06"), unnamed), batch: 1},
		{name: "of two products it could be either", item: dressing, place: store, in: with(of("B", "2028-06"), unnamed)},
		{name: "a file names products or means none", item: dressing, place: store,
			in: with(of("A", "2028-06"), func(in *inventory.Receipt) { unnamed(in); opening(in) })},
		{name: "no end date", item: dressing, place: store, in: of("N", ""), field: "end_printed"},
		{name: "another item's product", item: dressing, place: store,
			in: with(of("N", "2028-06"), func(in *inventory.Receipt) { in.Product = 3 }), field: "product"},
		{name: "another date", item: dressing, place: store, in: of("A", "2028-07"),
			says: "recorded before with expiry 2028-06"},
		{name: "the earlier is right", item: dressing, place: store, in: with(of("A", "2028-07"), keep), batch: 1},
		{name: "the earlier is wrong", item: dressing, place: store, in: with(of("A", "2028-07"), because), batch: 1},
		{name: "but why?", item: dressing, place: store, in: with(of("A", "2028-07"), correct), field: "correction_reason"},
		{name: "it would be past its day then", item: dressing, place: store, in: with(of("A", "2027-05"), because),
			says: "expired"},
		{name: "past its day, but the earlier is right", item: dressing, place: store, in: with(of("A", "2027-05"), keep),
			batch: 1},
		{name: "its last day is today", item: dressing, place: store, in: of("N", "2027-06-14")},
		{name: "past its day", item: dressing, place: store, in: of("N", "2027-06-13"), says: "in quarantine or training"},
		{name: "past its day, for training", item: dressing, place: training, in: of("N", "2027-06-13")},
		{name: "past its day, set apart", item: dressing, place: apart, in: of("N", "2027-06-13")},
		{name: "past its day, counted in", item: dressing, place: bag, in: with(of("N", "2027-06-13"), opening)},
		{name: "a medicine past its day", item: tablet, place: training, in: of("N", "2027-06-13"),
			says: "expired: put it in quarantine"},
		{name: "withdrawn", item: dressing, place: store, in: of("W", "2028-06"), says: "under notice R-1"},
		{name: "withdrawn, set apart", item: dressing, place: apart, in: of("W", "2028-06")},
		{name: "into a bag", item: dressing, place: bag, in: of("N", "2028-06"), says: "stock cannot move|choose one of"},
		{name: "unidentified", item: dressing, place: store, in: with(of("", ""), none), says: "stay in quarantine"},
		{name: "unidentified, set apart", item: dressing, place: apart, in: with(of("", ""), none)},
		{name: "a device", item: device, place: store, in: inventory.Receipt{Item: item, Serial: "S2", Qty: 1}},
		{name: "received once", item: device, place: store, in: inventory.Receipt{Item: item, Serial: "S 1", Qty: 1},
			says: "received before"},
		{name: "written otherwise", item: device, place: store, in: inventory.Receipt{Item: item, Serial: "s1", Qty: 1},
			says: "received before"},
		{name: "back from its supplier", item: device, place: store, batch: 7,
			in: inventory.Receipt{Item: item, Serial: "S 7", Qty: 1}},
		{name: "for training before it went back", item: device, place: store,
			in: inventory.Receipt{Item: item, Serial: "S 8", Qty: 1}, says: "training stock never returns"},
		{name: "for training again", item: device, place: training, batch: 8,
			in: inventory.Receipt{Item: item, Serial: "S 8", Qty: 1}},
		{name: "no number, known by its date", item: undated, place: store,
			in: inventory.Receipt{Item: item, MadeOn: "2026-01", Qty: 1}, batch: 5},
		{name: "no number, another date", item: undated, place: store,
			in: inventory.Receipt{Item: item, MadeOn: "2026-02", Qty: 1}},
	} {
		facts := inventory.NewReceiptFacts(tt.item, []inventory.Product{{ID: product, Item: item}, {ID: other, Item: item},
			{ID: 3, Item: "ELSE"}}, notices, batches, back)
		plan, err := inventory.JudgeReceipt(tt.in, inventory.Carried{}, tt.place, day, facts)
		switch {
		case tt.field != "":
			inventorytest.RequireFields(t, err, tt.field)
		case tt.says != "":
			inventorytest.RequireKind(t, inventory.Conflict, err)
			assert.Regexp(t, tt.says, err.Error(), tt.name)
		default:
			require.NoError(t, err, tt.name)
			assert.Equal(t, tt.batch, plan.Batch.ID, tt.name)
			assert.Equal(t, tt.place.Purpose == inventory.ForTraining, plan.Clocks.Training, tt.name)
			assert.Equal(t, tt.in.OnConflict == inventory.CorrectEarlier, plan.Corrects != nil, tt.name)
			assert.Equal(t, []any{"supplier", "P", 1}, []any{plan.Movement.From, plan.Movement.To, plan.Movement.Qty}, tt.name)
		}
	}
}
