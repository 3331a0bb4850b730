package shift_test

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

// TestEndsBeforeFromTheDayAsked: what ends before the next check is counted
// from the day asked about.
func TestEndsBeforeFromTheDayAsked(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	lot := h.Receive("DRESSING", "B1", 4, "2027-09-10")
	h.Restock("N-01", "100", inventory.RestockLine{LotID: lot.ID, Qty: 4})
	ends := func(asOf string) int {
		c, err := h.S.Shift.Checklist(h.Ctx, fixture.Crew, "N-01", lists.Outlook{AsOf: inventorytest.Day(asOf), Horizon: -1})
		require.NoError(t, err)
		return len(c.EndsBefore)
	}
	assert.Zero(t, ends(""))
	assert.Zero(t, ends("2027-09-09"))
	assert.Equal(t, 1, ends("2027-09-10"), "it ends before the check of the next day")
}

func TestChecklistToCountAndConfirm(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	h.Restock("N-01", "102", inventory.RestockLine{LotID: h.Dressings.ID, Qty: 3},
		inventory.RestockLine{LotID: h.Receive("TABLET", "T1", 2, "2029-01").ID, Qty: 2})
	c, err := h.S.Shift.Checklist(h.Ctx, fixture.Crew, "N-01", lists.Outlook{Horizon: -1})
	require.NoError(t, err)
	assert.Equal(t, "102", c.SealToConfirm())
	counted := map[int64]int{}
	for _, g := range lists.ToCount(c) {
		for _, row := range g.Rows {
			for _, l := range row.Lots {
				counted[l.LotID] += l.Qty
			}
		}
	}
	assert.Equal(t, h.Holds("N-01"), counted, "every unit once, surplus and what is not on the list included")
	h.Record(fixture.SealCheck(h.Bag("N-01").Position, "7"))
	c, err = h.S.Shift.Checklist(h.Ctx, fixture.Crew, "N-01", lists.Outlook{Horizon: -1})
	require.NoError(t, err)
	assert.Empty(t, c.SealToConfirm(), "nothing to confirm once another was seen")
	assert.Len(t, c.Open, 1)
}

// TestChecklists: several bags at once come in the order in which they are asked for, each with its own items alone.
func TestChecklists(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	all, err := h.S.Shift.Checklists(h.Ctx, fixture.Crew, []string{"n-02", "N-01"}, lists.Outlook{Horizon: -1})
	require.NoError(t, err)
	for i, code := range []string{"N-02", "N-01"} {
		one, err := h.S.Shift.Checklist(h.Ctx, fixture.Crew, code, lists.Outlook{Horizon: -1})
		require.NoError(t, err)
		assert.Equal(t, one, all[i])
	}
	_, err = h.S.Shift.Checklists(h.Ctx, fixture.Crew, []string{"N-01", "NONE"}, lists.Outlook{})
	inventorytest.RequireKind(t, inventory.NotFound, err)
}
