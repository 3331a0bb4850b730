package notice_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// TestCorrectionsAndNotices: a correction makes a batch one that a notice means,
// and takes it out again; every trace tells it.
func TestCorrectionsAndNotices(t *testing.T) {
	h := fixture.New(t, storetest.OpenSQLite(t))
	lot := h.Receive("DRESSING", "B1", 4, "2029-02")
	n, err := h.S.Notice.CreateNotice(h.Ctx, fixture.Keeper, inventory.Notice{Reference: "FSN-1",
		Action: inventory.NoticeWithdraw,
		Item:   "DRESSING", BatchNos: []string{"B7"}})
	require.NoError(t, err)
	withdrawn := func() []string {
		s, err := h.S.Stock.Lot(h.Ctx, fixture.Keeper, lot.ID)
		require.NoError(t, err)
		return s.Withdrawn
	}
	assert.Empty(t, withdrawn())
	correct := func(no string) {
		_, err := h.S.Ledger.CorrectLot(h.Ctx, fixture.Keeper, lot.ID, inventory.LotCorrection{BatchNo: &no,
			Reason: "misread"})
		require.NoError(t, err)
	}
	correct("B7")
	assert.Equal(t, []string{"FSN-1"}, withdrawn())
	story, err := h.S.Notice.Notice(h.Ctx, fixture.Keeper, n.ID)
	require.NoError(t, err)
	require.Len(t, story.Corrections, 1)
	assert.Equal(t, "corrected: batch number B1 to B7, because: misread", inventory.CorrectionText(story.Corrections[0]))
	correct("B8")
	assert.Empty(t, withdrawn())

	tq := h.Receive("TQ", "S1", 1, "")
	serial, made := "S2", "2026-05"
	_, err = h.S.Ledger.CorrectLot(h.Ctx, fixture.Keeper, tq.ID, inventory.LotCorrection{Serial: &serial, MadeOn: &made,
		Reason: "worn print"})
	require.NoError(t, err)
	d, err := h.S.Stock.Device(h.Ctx, fixture.Keeper, tq.ID)
	require.NoError(t, err)
	assert.Equal(t, "S2", d.Serial)
	assert.Equal(t, stock.StoryLine{HappenedAt: h.Now, Kind: "correction",
		Text: "corrected: serial number S1 to S2, made on none to 2026-05-01, because: worn print", By: "Quinn"},
		d.Story[len(d.Story)-1], "after the receipt that it corrects")
	_, err = h.S.Ledger.CorrectLot(h.Ctx, fixture.Keeper, 999, inventory.LotCorrection{Reason: "x"})
	inventorytest.RequireKind(t, inventory.NotFound, err)
	h.Verify()
}
