package exchange_test

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/exchange"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/inventory/table"
)

// TestRecallMoves: a service moves to another database by its export. A batch whose number was corrected under a recall
// is recalled there too, what the recall was extended to holds, and what stations and supplier said is there. A release
// is not: there somebody looks again.
func TestRecallMoves(t *testing.T) {
	h := fixture.New(t, storetest.OpenSQLite(t))
	renumbered, widened := h.Receive("DRESSING", "B1", 4, "2029-02"), h.Receive("DRESSING", "B9", 2, "2029-02")
	n := h.Issue(inventory.Notice{Reference: "R-1", Action: inventory.NoticeWithdraw, Item: "DRESSING",
		NoticeScope: inventory.NoticeScope{BatchNos: []string{"B1"}}})
	no := "B 7"
	_, err := h.S.Ledger.CorrectLot(h.Ctx, fixture.Keeper, renumbered.ID, inventory.LotCorrection{BatchNo: &no,
		Reason: "x"})
	require.NoError(t, err)
	_, err = h.S.Notice.Widen(h.Ctx, fixture.Keeper, n.ID, inventory.NoticeScope{BatchNos: []string{"b-9"}}, "extended")
	require.NoError(t, err)
	_, err = h.S.Notice.Answer(h.Ctx, fixture.Keeper, n.ID, "NORTH", 6, "")
	require.NoError(t, err)
	_, err = h.S.Notice.Reply(h.Ctx, fixture.Keeper, n.ID, "destroy on site")
	require.NoError(t, err)
	_, err = h.S.Notice.Release(h.Ctx, fixture.Admin, n.ID, renumbered.Batch.ID, "looked")
	require.NoError(t, err)
	require.Equal(t, []int{2, 2}, []int{h.Notice(n.ID).Units, h.Notice(n.ID).Outstanding})
	require.Equal(t, []string{"R-1"}, h.Lot(widened.ID).Withdrawn)

	dir := filepath.Join(t.TempDir(), "export")
	sink, err := table.NewFolder(dir)
	require.NoError(t, err)
	require.NoError(t, h.S.Exchange.Export(h.Ctx, fixture.Admin, sink))
	require.NoError(t, sink.Close())
	there := services.New(storetest.OpenSQLite(t), func() inventory.Instant { return h.Now }, services.Options{})
	rep, err := there.Exchange.Import(h.Ctx, fixture.Admin, exchange.Import{Kind: exchange.ImportEverything,
		Source: table.Folder{Dir: dir, Names: exchange.TableNames()}})
	require.NoError(t, err)
	require.True(t, rep.Done, "%v", rep.Lines)
	moved, err := there.Notice.Notice(h.Ctx, fixture.Admin, 1)
	require.NoError(t, err)
	assert.Equal(t, []int{6, 6, 1}, []int{moved.Units, moved.Outstanding, moved.Unanswered})
	require.Len(t, moved.Steps, 3)
	assert.Equal(t, "destroy on site", moved.Steps[2].Text)
	lots, err := there.Stock.Lots(h.Ctx, fixture.Admin, inventory.LotFilter{BatchNo: "b1"}, 0, inventory.Page{})
	require.NoError(t, err)
	require.Len(t, lots, 1)
	assert.Equal(t, "B 7", lots[0].BatchNo)
	report, err := there.Verify.Verify(h.Ctx)
	require.NoError(t, err)
	assert.NotEmpty(t, report.Movements)
	assert.Empty(t, report.Faults)
}
