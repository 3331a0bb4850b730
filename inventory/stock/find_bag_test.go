package stock_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

func TestFindBag(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	for _, typed := range []string{"N-01", " n-01 ", "n01", "N.01", "n 01"} {
		b, err := h.S.Stock.FindBag(h.Ctx, fixture.Crew, typed)
		require.NoError(t, err, typed)
		assert.Equal(t, "N-01", b.Code)
	}
	for _, code := range []string{"N0-1"} {
		_, err := h.S.Lists.CreateBag(h.Ctx, fixture.Admin, inventory.Bag{Code: code, Station: "NORTH", Name: "Twin",
			KitList: "GRAB"})
		require.NoError(t, err)
	}
	_, err := h.S.Stock.FindBag(h.Ctx, fixture.Crew, "n01")
	inventorytest.RequireKind(t, inventory.NotFound, err) // two bags might be meant
	_, err = h.S.Stock.FindBag(h.Ctx, fixture.Crew, "S-01")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = h.S.Stock.FindBag(h.Ctx, fixture.Crew, "s01")
	inventorytest.RequireKind(t, inventory.NotFound, err)
}
