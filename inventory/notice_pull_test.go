package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/storetest"
)

// TestPreviewNotice: what a notice would mean is told, and nothing changes.
func TestPreviewNotice(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	lot := h.receive("DRESSING", "B1", 20, "2028-02")
	h.receive("DRESSING", "B2", 7, "2028-03")
	h.move(lot.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.move(lot.ID, 1, "N-01", "used", inventory.ReasonUsed)
	before := h.everything()
	in := inventory.Notice{Reference: "RC-1", Action: inventory.NoticeWithdraw, Item: "dressing",
		BatchNos: []string{"b 1"}}
	story, err := h.s.Notice.PreviewNotice(h.ctx, keeper, in)
	require.NoError(t, err)
	assert.Equal(t, []int{19, 19, 0, 0}, []int{story.Units, story.Outstanding, story.Pulled, story.Unclear})
	assert.Len(t, story.Incidents, 1)
	assert.Equal(t, "N-01", story.PullFrom[0].Place)
	assert.Equal(t, before, h.everything())

	issued, err := h.s.Notice.CreateNotice(h.ctx, keeper, in)
	require.NoError(t, err)
	now, err := h.s.Notice.Notice(h.ctx, keeper, issued.ID)
	require.NoError(t, err)
	assert.Equal(t, now.PullFrom, story.PullFrom, "what was shown is what it does")

	_, err = h.s.Notice.PreviewNotice(h.ctx, keeper, inventory.Notice{Action: inventory.NoticeInform, Item: "DRESSING"})
	requireFields(t, err, "reference")
	_, err = h.s.Notice.PreviewNotice(h.ctx, keeper, inventory.Notice{Reference: "X", Action: inventory.NoticeInform,
		Item: "NONE"})
	requireFields(t, err, "item")
	_, err = h.s.Notice.PreviewNotice(h.ctx, manager, in)
	requireKind(t, inventory.Forbidden, err)
}

// TestPull moves all that is outstanding in one place, and only that.
func TestPull(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		one, two, other := h.receive("DRESSING", "B1", 20, "2028-02"), h.receive("DRESSING", "B2", 7, "2028-03"),
			h.receive("DRESSING", "B3", 7, "2028-03")
		for _, lot := range []inventory.Lot{one, two, other} {
			h.move(lot.ID, 3, "NORTH-STORE", "N-01", inventory.ReasonStow)
		}
		h.move(one.ID, 2, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		n, err := h.s.Notice.CreateNotice(h.ctx, keeper, inventory.Notice{Reference: "RC-1", Action: inventory.NoticeWithdraw,
			Item: "DRESSING", BatchNos: []string{"B1", "B2"}})
		require.NoError(t, err)
		done, err := h.s.Notice.Pull(h.ctx, keeper, n.ID, "n-01")
		require.NoError(t, err)
		assert.Len(t, done, 2)
		assert.Equal(t, "RC-1", done[0].Reference)
		assert.Equal(t, map[int64]int{other.ID: 3}, h.holds("N-01"))
		assert.Equal(t, map[int64]int{one.ID: 3, two.ID: 3}, h.holds("NORTH-QUARANTINE"))

		_, err = h.s.Notice.Pull(h.ctx, keeper, n.ID, "N-01")
		requireKind(t, inventory.Conflict, err)
		north := inventory.Actor{Name: "Nell", Role: inventory.Quartermaster, Stations: []string{"NORTH"}}
		_, err = h.s.Notice.Pull(h.ctx, north, n.ID, "SOUTH-STORE")
		requireKind(t, inventory.Forbidden, err)
		_, err = h.s.Notice.Pull(h.ctx, crew, n.ID, "NORTH-STORE")
		requireKind(t, inventory.Forbidden, err)
		for _, place := range []string{"NORTH-STORE", "SOUTH-STORE"} {
			_, err = h.s.Notice.Pull(h.ctx, keeper, n.ID, place)
			require.NoError(t, err, place)
		}
		story, err := h.s.Notice.Notice(h.ctx, keeper, n.ID)
		require.NoError(t, err)
		assert.Equal(t, []int{27, 27, 0}, []int{story.Units, story.Pulled, story.Outstanding})
		h.verify()

		look, err := h.s.Notice.CreateNotice(h.ctx, keeper, inventory.Notice{Reference: "FSN-1",
			Action: inventory.NoticeInspect, Item: "DRESSING"})
		require.NoError(t, err)
		_, err = h.s.Notice.Pull(h.ctx, keeper, look.ID, "N-01")
		requireKind(t, inventory.Conflict, err)
		_, err = h.s.Notice.Pull(h.ctx, keeper, 99, "N-01")
		requireKind(t, inventory.NotFound, err)
	})
}
