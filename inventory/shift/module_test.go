package shift_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

// TestSpareModules: modules of the wanted list at the bag's station that are in
// no bag, those that may go in first, the others with the reason why not.
func TestSpareModules(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	for _, k := range []inventory.KitList{
		{Code: "POD", Name: "Pod", Lines: []inventory.Line{{Item: "PEN", Par: 1, Minimum: 1}}},
		{Code: "SACK", Name: "Rucksack", Lines: []inventory.Line{{Item: "PEN", Par: 1}},
			Modules: []inventory.Module{{KitList: "POD", Count: 1}}},
	} {
		_, err := h.S.Lists.CreateKitList(h.Ctx, fixture.Admin, k)
		require.NoError(t, err)
	}
	for _, b := range []inventory.Bag{{Code: "R-1", Station: "NORTH", KitList: "SACK"},
		{Code: "P-1", Station: "NORTH", KitList: "POD", Inside: "R-1"}, {Code: "P-2", Station: "NORTH", KitList: "POD"},
		{Code: "P-3", Station: "NORTH", KitList: "POD"}, {Code: "P-4", Station: "SOUTH", KitList: "POD"}} {
		b.Name = b.Code
		_, err := h.S.Lists.CreateBag(h.Ctx, fixture.Admin, b)
		require.NoError(t, err)
	}
	pens := h.Receive("PEN", "", 9, "")
	h.Restock("P-3", "", inventory.RestockLine{LotID: pens.ID, Qty: 1})
	for _, out := range []string{"p-1", ""} {
		spare, err := h.S.Shift.SpareModules(h.Ctx, fixture.Crew, "r-1", out)
		require.NoError(t, err)
		require.Len(t, spare, 2, "P-1 is in the bag, P-4 at another station, N-01 of another list")
		assert.Equal(t, []string{"P-3", ""}, []string{spare[0].Code, spare[0].Why.String()})
		assert.Equal(t, "P-2", spare[1].Code)
		assert.Contains(t, spare[1].Why.String(), "Do not use", "it is empty")
	}
	for _, c := range []struct {
		bag, out string
		kind     inventory.ErrorKind
	}{{"R-1", "P-2", inventory.Conflict}, {"R-9", "", inventory.NotFound}, {"R-1", "P-9", inventory.NotFound},
		{"S-01", "", inventory.Forbidden}} {
		_, err := h.S.Shift.SpareModules(h.Ctx, fixture.Crew, c.bag, c.out)
		inventorytest.RequireKind(t, c.kind, err)
	}
	ready, err := h.S.Shift.SwapModule(h.Ctx, fixture.Crew, "R-1", shift.Swap{Out: "P-1", In: "P-3"})
	require.NoError(t, err)
	assert.NotEmpty(t, ready.Findings, "the rucksack itself lacks its marker")
	spare, err := h.S.Shift.SpareModules(h.Ctx, fixture.Crew, "R-1", "P-3")
	require.NoError(t, err)
	assert.Equal(t, []string{"P-1", "P-2"}, []string{spare[0].Code, spare[1].Code}, "what came out is spare now")
}
