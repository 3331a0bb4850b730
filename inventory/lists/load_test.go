package lists_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// TestBagSummaryKinds: the board is told each kind of finding once, and a
// training bag is never said to go out.
func TestBagSummaryKinds(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	bags, err := h.S.Shift.BagList(h.Ctx, fixture.Keeper, inventory.BagFilter{AtStations: []string{"NORTH"}},
		inventory.Page{},
		lists.Outlook{Horizon: 30})
	require.NoError(t, err)
	for _, b := range bags {
		seen := map[inventory.FindingKind]bool{}
		for _, k := range b.Kinds {
			assert.False(t, seen[k], "%s: %s", b.Code, k)
			seen[k] = true
		}
		assert.True(t, seen[inventory.FindBelowMinimum], b.Code)
		assert.Equal(t, inventory.FindBelowMinimum, b.Kinds[0], b.Code)
		if b.Purpose == inventory.ForTraining {
			assert.Contains(t, b.Headline.String(), "Not ready for training: ")
		}
	}
	training := inventory.Bag{Purpose: inventory.ForTraining}
	assert.Equal(t, "Ready for training", inventory.Headline(training,
		inventory.Readiness{State: inventory.Ready}).String())
	assert.Equal(t, "Ready for training, 1 gap", inventory.Headline(training,
		inventory.Readiness{State: inventory.ReadyWithGaps, Findings: []inventory.Finding{{}}}).String())
	training.OutOfService = &inventory.ServicePause{Reason: "torn"}
	assert.Equal(t, "Out of service: torn", inventory.Headline(training,
		inventory.Readiness{State: inventory.OutOfService}).String())
}
