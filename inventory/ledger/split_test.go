package ledger_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/store/storetest"
)

// TestSplitEnds follows one batch whose units are stowed, carried exposed,
// opened and given to training: each split has its own governing date and rule.
func TestSplitEnds(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	it, err := h.S.Lists.Item(h.Ctx, fixture.Admin, "GAUZE")
	require.NoError(t, err)
	it.Life.OpenedDays = 10
	_, err = h.S.Lists.UpdateItem(h.Ctx, fixture.Admin, it)
	require.NoError(t, err)
	lot := h.Receive("GAUZE", "G1", 50, "2028-02") // stowed: 12 months, exposed: 30 days
	stowed := h.Move(lot.ID, 10, "NORTH-STORE", "N-01", inventory.ReasonStow).IntoLotID
	riding := h.Move(lot.ID, 10, "NORTH-STORE", "N-BELT", inventory.ReasonStow).IntoLotID
	opened, err := h.S.Ledger.OpenUnits(h.Ctx, fixture.Crew, stowed, ledger.Opened{Place: "N-01", Qty: 2})
	require.NoError(t, err)
	training := h.Move(lot.ID, 5, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining).IntoLotID
	trainingOpened, err := h.S.Ledger.OpenUnits(h.Ctx, fixture.Keeper, training, ledger.Opened{Place: "NORTH-TRAINING",
		Qty: 1})
	require.NoError(t, err)
	story := h.Lot(lot.ID)
	got := map[int64]string{}
	for _, l := range append(story.SameBatch, story.LotSummary) {
		got[l.ID] = fmt.Sprintf("%s %s, %d ends, %d units", l.UsableThrough, l.Rule, len(l.Ends), l.Where[0].Qty)
	}
	assert.Equal(t, map[int64]string{
		lot.ID:            "2028-02-29 printed, 1 ends, 25 units",
		stowed:            "2028-02-29 printed, 2 ends, 8 units",
		riding:            "2027-07-13 exposed, 2 ends, 10 units",
		opened.ID:         "2027-06-24 opened, 3 ends, 2 units",
		training:          "2028-02-29 printed, 1 ends, 4 units",
		trainingOpened.ID: "2027-06-24 opened, 2 ends, 1 units",
	}, got)
	h.Verify()
}
