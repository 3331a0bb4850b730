package storeroom_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/storeroom"
)

// TestPlanDelivery is the table of what is in the way of a line and where it
// goes. The day is 14 June 2027; product 1 is of a dressing, 2 of an ampoule for
// which two signatures required, 3 and 4 have one code.
func TestPlanDelivery(t *testing.T) {
	station := inventory.Station{Code: "N"}
	facts := storeroom.DeliveryFacts{Store: station.StationPlaces()[0], Station: station,
		Today: inventory.MustDay("2027-06-14"),
		Products: []inventory.Product{{ID: 1, Item: "D", GTIN: "9521234543213", PackSize: 10}, {ID: 2, Item: "A",
			PackSize: 5},
			{ID: 3, Item: "D", HIBC: "X1", PackSize: 1}, {ID: 4, Item: "A", HIBC: "X1", PackSize: 1}},
		Items: []inventory.Item{{Code: "A", Category: "pain relief", TrackedBy: inventory.ByLot, Dated: true,
			Controlled: true},
			{Code: "D", Category: "plain dressing", TrackedBy: inventory.ByLot, Dated: true}},
		Notices: []inventory.Notice{{Reference: "R-1", Item: "D", Action: inventory.NoticeWithdraw,
			Status: inventory.NoticeClosed, NoticeScope: inventory.NoticeScope{BatchNos: []string{"W"}}}},
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
		trouble storeroom.Trouble
		to      string
	}{
		{"in date", line(1, "D", "N", "2028-06"), "", "N-STORE"},
		{"named since it was scanned", inventory.DeliveryLine{Scheme: barcode.GS1, Code: "09521234543213", BatchNo: "N",
			EndPrinted: "2028-06", EndWording: "expiry", Packs: 1}, "", "N-STORE"},
		{"of no product", inventory.DeliveryLine{Scheme: barcode.GS1, Code: "09520000000028"}, storeroom.TroubleUnknown, ""},
		{"of two", inventory.DeliveryLine{Scheme: barcode.HIBC, Code: "X1"}, storeroom.TroubleUnknown, ""},
		{"no date", line(1, "D", "N", ""), storeroom.TroubleMissing, ""},
		{"no date, and a way", sent(line(1, "D", "N", ""), inventory.InTraining), storeroom.TroubleMissing, ""},
		{"past its day", line(1, "D", "N", "2027-05"), storeroom.TroublePast, ""},
		{"past its day, to training", sent(line(1, "D", "N", "2027-05"), inventory.InTraining), "", "N-TRAINING"},
		{"past its day, disposed of", sent(line(1, "D", "N", "2027-05"), inventory.InDisposed), "", "disposed"},
		{"past its day, into quarantine", sent(line(1, "D", "N", "2027-05"), inventory.InQuarantine), storeroom.TroublePast,
			""},
		{"withdrawn", line(1, "D", "W", "2028-06"), storeroom.TroubleNotice, ""},
		{"withdrawn, set apart", sent(line(1, "D", "W", "2028-06"), inventory.InQuarantine), "", "N-QUARANTINE"},
		{"known with another date", line(1, "D", "K", "2028-07"), storeroom.TroubleConflict, ""},
		{"which is right, and not past", kept, "", "N-STORE"},
		{"another item's product", line(2, "D", "N", "2028-06"), storeroom.TroubleMissing, ""},
		{"controlled", line(2, "A", "N", "2028-06"), "", "N-STORE"},
	} {
		d := inventory.Delivery{Status: inventory.DeliveryOpen, Lines: []inventory.DeliveryLine{tt.line}}
		for _, signed := range []bool{false, true} {
			facts.Signed = signed
			p := storeroom.PlanDelivery(d, facts)
			assert.Equal(t, []any{tt.trouble, tt.to, tt.trouble == ""}, []any{p.Rows[0].Trouble, p.Rows[0].To, p.Ready}, tt.name)
			assert.Equal(t, p.Rows[0].Is.Controlled && !signed, p.Unsigned, tt.name)
			assert.Equal(t, tt.trouble == "", p.Rows[0].Problem == nil, tt.name)
		}
		d.Status = inventory.DeliveryDropped
		p := storeroom.PlanDelivery(d, facts)
		assert.Equal(t, []any{false, storeroom.TroubleNone}, []any{p.Ready, p.Rows[0].Trouble}, "it has ended")
	}
	assert.False(t, storeroom.PlanDelivery(inventory.Delivery{Status: inventory.DeliveryOpen}, facts).Ready, "empty")
}
