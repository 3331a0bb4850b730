package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/storetest"
)

// TestBarcodeDaysOutOfRange: HIBC labels have years of four digits, and days
// are kept from 1900 to 2199.
func TestBarcodeDaysOutOfRange(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	for text, fits := range map[string]bool{"+A99912345/$10X3/14D20270614": true, "+A99912345/$10X3/14D18991231": false,
		"+A99912345/$10X3/16D22000101": false} {
		f, err := h.s.Ledger.ReadBarcode(h.ctx, crew, text+hibcCheck(text))
		if fits {
			require.NoError(t, err, text)
			assert.Equal(t, "2027-06-14", f.Through.String())
			continue
		}
		requireFields(t, err, "text")
		assert.ErrorContains(t, err, "outside the years 1900 to 2199")
	}
}

// hibcCheck is the check character by ANSI/HIBC 2.6 appendix B, worked out
// apart from the parser.
func hibcCheck(s string) string {
	const set = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"
	sum := 0
	for _, c := range s {
		for i, k := range set {
			if k == c {
				sum += i
			}
		}
	}
	return set[sum%43 : sum%43+1]
}

// TestReceiveByHIBC: the code of a whole label may be given for a product, and
// units come in by packs.
func TestReceiveByHIBC(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	primary := "+A99912340"
	pr, err := h.s.Lists.CreateProduct(h.ctx, keeper, inventory.Product{Item: "DRESSING",
		HIBC: primary + hibcCheck(primary), PackSize: 5})
	require.NoError(t, err)
	assert.Equal(t, "A99912340", pr.HIBC)
	_, err = h.s.Lists.CreateProduct(h.ctx, keeper, inventory.Product{Item: "GAUZE", HIBC: "A99912340", PackSize: 5})
	requireFields(t, err, "hibc")
	text := primary + "/$$3280229X1"
	lot, err := h.s.Ledger.Receive(h.ctx, keeper, inventory.Receipt{Place: "NORTH-STORE", Barcode: text + hibcCheck(text),
		Packs: 2})
	require.NoError(t, err)
	assert.Equal(t, []any{"DRESSING", "X1", "2028-02-29", pr.ID}, []any{lot.Item, lot.BatchNo, lot.EndPrinted,
		lot.Product})
	assert.Equal(t, map[int64]int{lot.ID: 10}, h.holds("NORTH-STORE"))
}

// TestReceiveExpiredMedicine: a medicine past its end is no training stock.
func TestReceiveExpiredMedicine(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	_, err := h.s.Ledger.Receive(h.ctx, keeper, inventory.Receipt{Place: "NORTH-TRAINING", Item: "TABLET", BatchNo: "T",
		EndPrinted: "2027-05", EndWording: inventory.WordExpiry, Qty: 1})
	requireKind(t, inventory.Conflict, err)
}
