package lists_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/store/storetest"
)

// TestUpdateBagTwoWriters: of two changes made at the same time, of different
// fields, both stay.
func TestUpdateBagTwoWriters(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		changed, done := make(chan struct{}), make(chan error, 1)
		go func() {
			<-changed
			_, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "N-01", 0,
				ledger.BagChange{Vehicle: inventorytest.Ptr("Van 2")})
			done <- err
		}()
		err := h.S.Store.Write(h.Ctx, func(ctx context.Context, _ inventory.Writer) error {
			if _, err := h.S.Lists.UpdateBag(ctx, fixture.Crew, "N-01", 0,
				ledger.BagChange{OutOfService: inventorytest.Ptr("zip torn")}); err != nil {
				return err
			}
			close(changed)
			time.Sleep(200 * time.Millisecond) // long enough for the other one to come as far as it can
			return nil
		})
		require.NoError(t, err)
		require.NoError(t, <-done)
		b := h.Bag("N-01")
		require.NotNil(t, b.OutOfService, "the other change did not put it back on the run")
		assert.Equal(t, []string{"zip torn", "Van 2"}, []string{b.OutOfService.Reason, b.Vehicle})
	})
}

// TestLendingBags: who may send a bag where, and who calls it back.
func TestLendingBags(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		north := inventory.Actor{Name: "Nell", Role: inventory.Quartermaster, Stations: []string{"NORTH"}}
		south := inventory.Actor{Name: "Sam", Role: inventory.Quartermaster, Stations: []string{"SOUTH"}}
		to := func(by inventory.Actor, station string, more ...func(*ledger.BagChange)) error {
			ch := ledger.BagChange{AtStation: &station}
			for _, m := range more {
				m(&ch)
			}
			_, err := h.S.Lists.UpdateBag(h.Ctx, by, "N-01", 0, ch)
			return err
		}
		rename := func(ch *ledger.BagChange) { ch.Name = inventorytest.Ptr("Mine") }
		inventorytest.RequireKind(t, inventory.Forbidden, to(north, "SOUTH"))
		inventorytest.RequireKind(t, inventory.Forbidden, to(south, "SOUTH"))
		inventorytest.RequireKind(t, inventory.Forbidden, to(fixture.Crew, "NORTH", rename))
		require.NoError(t, to(fixture.Keeper, "SOUTH"))
		inventorytest.RequireKind(t, inventory.Forbidden, to(south, "NORTH"))
		inventorytest.RequireKind(t, inventory.Forbidden, to(north, "NORTH", rename))
		inventorytest.RequireKind(t, inventory.Forbidden, to(fixture.Crew, "NORTH"))
		require.NoError(t, to(north, "NORTH"), "who owns it calls it back")
		assert.Equal(t, "NORTH", h.Bag("N-01").AtStation)
	})
}

// TestLentBagIsWhereItIs: stock is moved into and out of a lent bag by the
// station where it is, by that station's day; unidentified finds go to that
// station's quarantine; the owner sees what lies in it.
func TestLentBagIsWhereItIs(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		gauze := h.Receive("GAUZE", "G1", 4, "2029-01")
		h.Move(gauze.ID, 4, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		h.Now = inventorytest.At("2027-06-14T13:00:00Z") // the next day in Auckland
		_, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Admin, "N-01", 0,
			ledger.BagChange{AtStation: inventorytest.Ptr("SOUTH")})
		require.NoError(t, err)
		north := inventory.Actor{Name: "Nell", Role: inventory.Quartermaster, Stations: []string{"NORTH"}}
		south := inventory.Actor{Name: "Sam", Role: inventory.Quartermaster, Stations: []string{"SOUTH"}}
		used := []inventory.Movement{{LotID: h.Pens.ID, Qty: 1, From: "N-01", To: "used", Reason: inventory.ReasonUsed}}
		_, err = h.S.Ledger.Move(h.Ctx, north, used)
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Ledger.Move(h.Ctx, south, used)
		require.NoError(t, err)
		for _, by := range []inventory.Actor{north, south} {
			_, err = h.S.Stock.StockAt(h.Ctx, by, "N-01")
			require.NoError(t, err, by.Name)
		}
		_, err = h.S.Stock.StockAt(h.Ctx, inventory.Actor{Name: "Wes", Role: inventory.Quartermaster,
			Stations: []string{"WEST"}}, "N-01")
		inventorytest.RequireKind(t, inventory.Forbidden, err)

		ms, err := h.S.Ledger.Move(h.Ctx, south, []inventory.Movement{{LotID: gauze.ID, Qty: 1, From: "SOUTH-STORE",
			To: "N-01", Reason: inventory.ReasonStow}})
		require.NoError(t, err)
		lot, err := h.S.Stock.Lot(h.Ctx, fixture.Admin, ms[0].IntoLotID)
		require.NoError(t, err)
		assert.Equal(t, "2027-06-15", lot.StowedOn.String(), "the day where the bag is")

		c := h.FullCheck()
		c.Found = []inventory.FoundLine{{Item: "TABLET", Qty: 1, Unidentified: true}}
		c, err = h.S.Shift.RecordCheck(h.Ctx, inventory.Actor{Name: "Sol", Role: inventory.Crew, Stations: []string{"SOUTH"}},
			c, "")
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, c.Status, c.ReviewBecause.String())
		assert.Len(t, h.Holds("SOUTH-QUARANTINE"), 1)
		assert.Empty(t, h.Holds("NORTH-QUARANTINE"))
		h.Verify()
	})
}
