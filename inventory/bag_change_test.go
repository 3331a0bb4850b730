package inventory_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/store/storetest"
)

// TestUpdateBagTwoWriters: of two changes made at the same time, of different
// fields, both stay.
func TestUpdateBagTwoWriters(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		changed, done := make(chan struct{}), make(chan error, 1)
		go func() {
			<-changed
			_, err := h.s.Lists.UpdateBag(h.ctx, keeper, "N-01", 0, ledger.BagChange{Vehicle: ptr("Van 2")})
			done <- err
		}()
		err := s.Write(h.ctx, func(ctx context.Context, _ inventory.Writer) error {
			if _, err := h.s.Lists.UpdateBag(ctx, crew, "N-01", 0, ledger.BagChange{OutOfService: ptr("zip torn")}); err != nil {
				return err
			}
			close(changed)
			time.Sleep(200 * time.Millisecond) // long enough for the other one to come as far as it can
			return nil
		})
		require.NoError(t, err)
		require.NoError(t, <-done)
		b := h.bag("N-01")
		require.NotNil(t, b.OutOfService, "the other change did not put it back on the run")
		assert.Equal(t, []string{"zip torn", "Van 2"}, []string{b.OutOfService.Reason, b.Vehicle})
	})
}

// TestLendingBags: who may send a bag where, and who calls it back.
func TestLendingBags(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		north := inventory.Actor{Name: "Nell", Role: inventory.Quartermaster, Stations: []string{"NORTH"}}
		south := inventory.Actor{Name: "Sam", Role: inventory.Quartermaster, Stations: []string{"SOUTH"}}
		to := func(by inventory.Actor, station string, more ...func(*ledger.BagChange)) error {
			ch := ledger.BagChange{AtStation: &station}
			for _, m := range more {
				m(&ch)
			}
			_, err := h.s.Lists.UpdateBag(h.ctx, by, "N-01", 0, ch)
			return err
		}
		rename := func(ch *ledger.BagChange) { ch.Name = ptr("Mine") }
		requireKind(t, inventory.Forbidden, to(north, "SOUTH"))
		requireKind(t, inventory.Forbidden, to(south, "SOUTH"))
		requireKind(t, inventory.Forbidden, to(crew, "NORTH", rename))
		require.NoError(t, to(keeper, "SOUTH"))
		requireKind(t, inventory.Forbidden, to(south, "NORTH"))
		requireKind(t, inventory.Forbidden, to(north, "NORTH", rename))
		requireKind(t, inventory.Forbidden, to(crew, "NORTH"))
		require.NoError(t, to(north, "NORTH"), "who owns it calls it back")
		assert.Equal(t, "NORTH", h.bag("N-01").AtStation)
	})
}

// TestLentBagIsWhereItIs: stock is moved into and out of a lent bag by the
// station where it is, by that station's day; unidentified finds go to that
// station's quarantine; the owner sees what lies in it.
func TestLentBagIsWhereItIs(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		gauze := h.receive("GAUZE", "G1", 4, "2029-01")
		h.move(gauze.ID, 4, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		h.now = at("2027-06-14T13:00:00Z") // the next day in Auckland
		_, err := h.s.Lists.UpdateBag(h.ctx, admin, "N-01", 0, ledger.BagChange{AtStation: ptr("SOUTH")})
		require.NoError(t, err)
		north := inventory.Actor{Name: "Nell", Role: inventory.Quartermaster, Stations: []string{"NORTH"}}
		south := inventory.Actor{Name: "Sam", Role: inventory.Quartermaster, Stations: []string{"SOUTH"}}
		used := []inventory.Movement{{LotID: h.pens.ID, Qty: 1, From: "N-01", To: "used", Reason: inventory.ReasonUsed}}
		_, err = h.s.Ledger.Move(h.ctx, north, used)
		requireKind(t, inventory.Forbidden, err)
		_, err = h.s.Ledger.Move(h.ctx, south, used)
		require.NoError(t, err)
		for _, by := range []inventory.Actor{north, south} {
			_, err = h.s.Stock.StockAt(h.ctx, by, "N-01")
			require.NoError(t, err, by.Name)
		}
		_, err = h.s.Stock.StockAt(h.ctx, inventory.Actor{Name: "Wes", Role: inventory.Quartermaster,
			Stations: []string{"WEST"}}, "N-01")
		requireKind(t, inventory.Forbidden, err)

		ms, err := h.s.Ledger.Move(h.ctx, south, []inventory.Movement{{LotID: gauze.ID, Qty: 1, From: "SOUTH-STORE",
			To: "N-01", Reason: inventory.ReasonStow}})
		require.NoError(t, err)
		lot, err := h.s.Stock.Lot(h.ctx, admin, ms[0].IntoLotID)
		require.NoError(t, err)
		assert.Equal(t, "2027-06-15", lot.StowedOn.String(), "the day where the bag is")

		c := h.fullCheck()
		c.Found = []inventory.FoundLine{{Item: "TABLET", Qty: 1, Unidentified: true}}
		c, err = h.s.Shift.RecordCheck(h.ctx, inventory.Actor{Name: "Sol", Role: inventory.Crew, Stations: []string{"SOUTH"}},
			c, "")
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, c.Status, c.ReviewBecause)
		assert.Len(t, h.holds("SOUTH-QUARANTINE"), 1)
		assert.Empty(t, h.holds("NORTH-QUARANTINE"))
		h.verify()
	})
}
