package notice_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

// TestPreviewNotice: what a notice would mean is told, and nothing changes.
func TestPreviewNotice(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	lot := h.Receive("DRESSING", "B1", 20, "2028-02")
	h.Receive("DRESSING", "B2", 7, "2028-03")
	h.Move(lot.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.Move(lot.ID, 1, "N-01", "used", inventory.ReasonUsed)
	before := h.Everything()
	in := inventory.Notice{Reference: "RC-1", Action: inventory.NoticeWithdraw, Item: "dressing",
		NoticeScope: inventory.NoticeScope{BatchNos: []string{"b 1"}}}
	story, err := h.S.Notice.PreviewNotice(h.Ctx, fixture.Keeper, in)
	require.NoError(t, err)
	assert.Equal(t, []int{19, 19, 0, 0}, []int{story.Units, story.Outstanding, story.Pulled, story.Unclear})
	assert.Len(t, story.Incidents, 1)
	assert.Equal(t, "N-01", story.PullFrom[0].Place)
	assert.Equal(t, before, h.Everything())

	issued, err := h.S.Notice.CreateNotice(h.Ctx, fixture.Keeper, in)
	require.NoError(t, err)
	now, err := h.S.Notice.Notice(h.Ctx, fixture.Keeper, issued.ID)
	require.NoError(t, err)
	assert.Equal(t, now.PullFrom, story.PullFrom, "what was shown is what it does")

	_, err = h.S.Notice.PreviewNotice(h.Ctx, fixture.Keeper, inventory.Notice{Action: inventory.NoticeInform,
		Item: "DRESSING"})
	inventorytest.RequireFields(t, err, "reference")
	_, err = h.S.Notice.PreviewNotice(h.Ctx, fixture.Keeper, inventory.Notice{Reference: "X",
		Action: inventory.NoticeInform,
		Item:   "NONE"})
	inventorytest.RequireFields(t, err, "item")
	_, err = h.S.Notice.PreviewNotice(h.Ctx, fixture.Manager, in)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}

// TestPull moves all that is outstanding in one place, and only that.
func TestPull(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		one, two, other := h.Receive("DRESSING", "B1", 20, "2028-02"), h.Receive("DRESSING", "B2", 7, "2028-03"),
			h.Receive("DRESSING", "B3", 7, "2028-03")
		for _, lot := range []inventory.Lot{one, two, other} {
			h.Move(lot.ID, 3, "NORTH-STORE", "N-01", inventory.ReasonStow)
		}
		h.Move(one.ID, 2, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		n, err := h.S.Notice.CreateNotice(h.Ctx, fixture.Keeper, inventory.Notice{Reference: "RC-1",
			Action: inventory.NoticeWithdraw,
			Item:   "DRESSING", NoticeScope: inventory.NoticeScope{BatchNos: []string{"B1", "B2"}}})
		require.NoError(t, err)
		done, err := h.S.Notice.Pull(h.Ctx, fixture.Keeper, n.ID, "n-01")
		require.NoError(t, err)
		assert.Len(t, done, 2)
		assert.Equal(t, "RC-1", done[0].Reference)
		assert.Equal(t, map[int64]int{other.ID: 3}, h.Holds("N-01"))
		assert.Equal(t, map[int64]int{one.ID: 3, two.ID: 3}, h.Holds("NORTH-QUARANTINE"))

		_, err = h.S.Notice.Pull(h.Ctx, fixture.Keeper, n.ID, "N-01")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		north := inventory.Actor{Name: "Nell", Role: inventory.Quartermaster, Stations: []string{"NORTH"}}
		_, err = h.S.Notice.Pull(h.Ctx, north, n.ID, "SOUTH-STORE")
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		_, err = h.S.Notice.Pull(h.Ctx, fixture.Crew, n.ID, "NORTH-STORE")
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		for _, place := range []string{"NORTH-STORE", "SOUTH-STORE"} {
			_, err = h.S.Notice.Pull(h.Ctx, fixture.Keeper, n.ID, place)
			require.NoError(t, err, place)
		}
		story, err := h.S.Notice.Notice(h.Ctx, fixture.Keeper, n.ID)
		require.NoError(t, err)
		assert.Equal(t, []int{27, 27, 0}, []int{story.Units, story.Pulled, story.Outstanding})
		h.Verify()

		look, err := h.S.Notice.CreateNotice(h.Ctx, fixture.Keeper, inventory.Notice{Reference: "FSN-1",
			Action: inventory.NoticeInspect, Item: "DRESSING"})
		require.NoError(t, err)
		_, err = h.S.Notice.Pull(h.Ctx, fixture.Keeper, look.ID, "N-01")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		_, err = h.S.Notice.Pull(h.Ctx, fixture.Keeper, 99, "N-01")
		inventorytest.RequireKind(t, inventory.NotFound, err)
	})
}
