package lists_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// TestUpdatePlace: who keeps lists changes a place; crew may say where what is
// away is and when it is due; nothing is changed from an old version.
func TestUpdatePlace(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		update := func(by inventory.Actor, code string, version int64, ch lists.PlaceChange) (inventory.Place, error) {
			return h.S.Lists.UpdatePlace(h.Ctx, by, code, version, ch)
		}
		belt, err := update(fixture.Keeper, " n-belt ", 1, lists.PlaceChange{Name: inventorytest.Ptr("Belt, left"),
			Vehicle: inventorytest.Ptr("Van  2")})
		require.NoError(t, err)
		assert.Equal(t, []any{"Belt, left", "Van 2", int64(2)}, []any{belt.Name, belt.Vehicle, belt.Version})
		_, err = update(fixture.Keeper, "N-BELT", 1, lists.PlaceChange{Name: inventorytest.Ptr("Belt")})
		inventorytest.RequireKind(t, inventory.Stale, err)
		_, err = update(fixture.Keeper, "N-BELT", 0, lists.PlaceChange{Name: inventorytest.Ptr("Belt")})
		require.NoError(t, err, "0 is any version")

		due := inventory.MustDay("2027-07-01")
		away, err := update(fixture.Crew, "N-REPAIR", 0, lists.PlaceChange{Holder: inventorytest.Ptr("the workshop"),
			DueBack: &due})
		require.NoError(t, err)
		assert.Equal(t, []any{"the workshop", due}, []any{away.Holder, away.DueBack})
		_, err = update(fixture.Crew, "N-BELT", 0, lists.PlaceChange{Name: inventorytest.Ptr("Mine")})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = update(fixture.Keeper, "N-BELT", 0, lists.PlaceChange{Name: inventorytest.Ptr("")})
		inventorytest.RequireFields(t, err, "name")
		for code, kind := range map[string]inventory.ErrorKind{"N-01": inventory.Conflict, "used": inventory.NotFound,
			"NOWHERE": inventory.NotFound} {
			_, err = update(fixture.Keeper, code, 0, lists.PlaceChange{Name: inventorytest.Ptr("x")})
			inventorytest.RequireKind(t, kind, err)
		}
	})
}

// TestUpdatePlaceHoldingControlled: a carrier with controlled items in it gets
// no other holder: they change hands by two signatures only.
func TestUpdatePlaceHoldingControlled(t *testing.T) {
	t.Parallel()
	h := fixture.NewDispensary(t, storetest.OpenSQLite(t))
	lot := h.ReceiveAmps(2)
	pass := func() error {
		_, err := h.S.Lists.UpdatePlace(h.Ctx, fixture.Keeper, "N-BELT", 0, lists.PlaceChange{
			Holder: inventorytest.Ptr("Wil")})
		return err
	}
	h.Amps(lot.ID, 2, "NORTH-STORE", "N-BELT", inventory.ReasonStow)
	inventorytest.RequireKind(t, inventory.Conflict, pass())
	ms, err := h.S.Stock.StockAt(h.Ctx, fixture.Keeper, "N-BELT")
	require.NoError(t, err)
	require.Len(t, ms, 1)
	h.Amps(ms[0].ID, 2, "N-BELT", "NORTH-STORE", inventory.ReasonReturn)
	require.NoError(t, pass())
}
