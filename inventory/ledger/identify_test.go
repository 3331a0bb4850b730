package ledger_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/store/storetest"
)

// TestIdentifyDevice: a device without its number turns out to be the one that
// was lost.
func TestIdentifyDevice(t *testing.T) {
	h := fixture.New(t, storetest.OpenSQLite(t))
	lost := h.Receive("TQ", "S1", 1, "")
	kept := h.Receive("TQ", "S2", 1, "")
	h.Move(lost.ID, 1, "NORTH-STORE", "lost", inventory.ReasonLost)
	blank, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-QUARANTINE", Item: "TQ",
		Qty:          1,
		Unidentified: true})
	require.NoError(t, err)
	as := func(serial string) (inventory.Lot, error) {
		return h.S.Ledger.Identify(h.Ctx, fixture.Keeper, blank.ID, ledger.Identification{Place: "NORTH-QUARANTINE", Qty: 1,
			Serial: serial, Note: "read with a lamp"})
	}
	_, err = as(kept.Serial)
	inventorytest.RequireKind(t, inventory.Conflict, err)
	lot, err := as("S1")
	require.NoError(t, err)
	assert.Equal(t, lost.ID, lot.ID)
	assert.Equal(t, map[int64]int{lost.ID: 1}, h.Holds("NORTH-QUARANTINE"))
	_, err = as("S3")
	inventorytest.RequireKind(t, inventory.Conflict, err)
	h.Verify()
}
