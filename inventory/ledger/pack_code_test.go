package ledger_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

// TestBarcodeDaysOutOfRange: HIBC labels have years of four digits, and days
// are kept from 1900 to 2199.
func TestBarcodeDaysOutOfRange(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	for text, fits := range map[string]bool{"+A99912345/$10X3/14D20270614": true, "+A99912345/$10X3/14D18991231": false,
		"+A99912345/$10X3/16D22000101": false} {
		f, err := h.S.Ledger.ReadBarcode(h.Ctx, fixture.Crew, text+fixture.HIBCCheck(text))
		if fits {
			require.NoError(t, err, text)
			assert.Equal(t, "2027-06-14", f.Through.String())
			continue
		}
		inventorytest.RequireFields(t, err, "text")
		assert.ErrorContains(t, err, "outside 1900 to 2199")
	}
}

// TestReceiveByHIBC: the code of a whole label may be given for a product, and
// units come in by packs.
func TestReceiveByHIBC(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	primary := "+A99912340"
	pr, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: "DRESSING",
		HIBC: primary + fixture.HIBCCheck(primary), PackSize: 5})
	require.NoError(t, err)
	assert.Equal(t, "A99912340", pr.HIBC)
	_, err = h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: "GAUZE", HIBC: "A99912340",
		PackSize: 5})
	inventorytest.RequireFields(t, err, "hibc")
	text := primary + "/$$3280229X1"
	lot, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE",
		Barcode: text + fixture.HIBCCheck(text),
		Packs:   2})
	require.NoError(t, err)
	assert.Equal(t, []any{"DRESSING", "X1", "2028-02-29", pr.ID}, []any{lot.Item, lot.BatchNo, lot.EndPrinted,
		lot.Product})
	assert.Equal(t, map[int64]int{lot.ID: 10}, h.Holds("NORTH-STORE"))
}

// TestReceiveExpiredMedicine: a medicine past its end is no training stock.
func TestReceiveExpiredMedicine(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-TRAINING", Item: "TABLET",
		BatchNo:    "T",
		EndPrinted: "2027-05", EndWording: inventory.WordExpiry, Qty: 1})
	inventorytest.RequireKind(t, inventory.Conflict, err)
}
