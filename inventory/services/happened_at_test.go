package services_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

// TestHappenedLongAgo: a time before the calendar that is kept is a wrong field.
func TestHappenedLongAgo(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		for _, when := range []string{"0001-01-01T00:00:00Z", "1900-01-01T23:59:59Z"} {
			c := h.FullCheck()
			c.HappenedAt = inventorytest.At(when)
			h.RefuseCheck(c, "happened_at")
			_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "PEN", Qty: 1,
				HappenedAt: inventorytest.At(when)})
			inventorytest.RequireFields(t, err, "happened_at")
			_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{{LotID: h.Dressings.ID, Qty: 1,
				From: "NORTH-STORE",
				To:   "used", Reason: inventory.ReasonUsed, HappenedAt: inventorytest.At(when)}})
			inventorytest.RequireFields(t, err, "movements[0].happened_at")
			_, err = h.S.Shift.RecordUse(h.Ctx, fixture.Crew, inventory.Use{Bag: "N-01", Incident: "I",
				HappenedAt:   inventorytest.At(when),
				SeenPosition: h.Bag("N-01").Position,
				Lines:        []inventory.UseLine{{LotID: h.Dressings.ID, Qty: 1}}}, "")
			inventorytest.RequireFields(t, err, "happened_at")
		}
		_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "PEN", Qty: 1,
			HappenedAt: inventorytest.At("1900-01-02T00:00:00Z")})
		require.NoError(t, err)
		h.Pass(time.Hour)
		h.Verify()
	})
}
