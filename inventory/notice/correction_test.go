package notice_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// ria is a quartermaster who corrects nothing.
var ria = inventory.Actor{Name: "Ria", Role: inventory.Quartermaster, Stations: []string{"NORTH"}}

func renumber(h *fixture.House, lot int64, no string) inventory.BatchCorrection {
	c, err := h.S.Ledger.CorrectLot(h.Ctx, fixture.Keeper, lot, inventory.LotCorrection{BatchNo: &no, Reason: "misread"})
	require.NoError(h.T, err)
	return c
}

// TestRecallStaysWhateverIsTyped: a batch under notice, in a bag, on a belt, in repair and lent, has its number
// corrected. The recall holds as before: nothing of it counts, and the notice stays open. A correction towards a
// recalled number is caught at once.
func TestRecallStaysWhateverIsTyped(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s) // N-01 holds six of batch B1, the store fourteen
		h.Move(h.Dressings.ID, 1, "NORTH-STORE", "N-BELT", inventory.ReasonStow)
		h.Move(h.Dressings.ID, 1, "NORTH-STORE", "N-REPAIR", inventory.ReasonAway)
		h.Move(h.Dressings.ID, 2, "NORTH-STORE", "N-02", inventory.ReasonStow)
		south := "SOUTH"
		_, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "N-02", 0, ledger.BagChange{AtStation: &south})
		require.NoError(t, err)
		n := h.Issue(withdrawing)
		before := h.Notice(n.ID)
		assert.Equal(t, 20, before.Outstanding)

		renumber(h.House, h.Dressings.ID, "B-3")
		after := h.Notice(n.ID)
		assert.Equal(t, before.PullFrom[0].Qty, after.PullFrom[0].Qty)
		assert.Equal(t, []int{20, 20}, []int{after.Units, after.Outstanding})
		assert.Equal(t, inventory.NotReady, h.Readiness("N-01").State)
		assert.Equal(t, []string{"FSN-1"}, h.Lot(h.Dressings.ID).Withdrawn)
		_, err = h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, n.ID, "all done")
		inventorytest.RequireKind(t, inventory.Conflict, err)

		other := h.Receive("DRESSING", "C-9", 3, "2029-01")
		assert.Empty(t, h.Lot(other.ID).Withdrawn)
		renumber(h.House, other.ID, "b 1") // as the notice has it, otherwise written
		assert.Equal(t, []string{"FSN-1"}, h.Lot(other.ID).Withdrawn, "caught at once")
		assert.Equal(t, "corrected: batch number C-9 to b 1, because: misread",
			inventory.CorrectionText(h.Notice(n.ID).Corrections[1]).String())
		h.Verify()
	})
}

// TestReleasedFromARecall: somebody else who looked at the pack releases the batch, with a reason. It holds for the
// facts of that day: a later correction to a recalled number ends it, and so does a recall that is widened.
func TestReleasedFromARecall(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		lot := h.Receive("DRESSING", "B1", 4, "2029-02")
		n := h.Issue(withdrawing)
		c := renumber(h, lot.ID, "B8")
		release := func(by inventory.Actor, batch int64, reason string) error {
			_, err := h.S.Notice.Release(h.Ctx, by, n.ID, batch, reason)
			return err
		}
		withdrawn := func() []string { return h.Lot(lot.ID).Withdrawn }
		err := release(fixture.Keeper, c.BatchID, "I looked at the packs")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		assert.ErrorContains(t, err, "somebody else must release it")
		inventorytest.RequireKind(t, inventory.Forbidden, release(fixture.Crew, c.BatchID, "looked"))
		inventorytest.RequireKind(t, inventory.Forbidden, release(fixture.Manager, c.BatchID, "looked"))
		inventorytest.RequireFields(t, release(ria, c.BatchID, " "), "reason")
		inventorytest.RequireKind(t, inventory.NotFound, release(ria, 999, "looked"))
		assert.Equal(t, []string{"FSN-1"}, withdrawn())

		h.Pass(time.Hour)
		require.NoError(t, release(ria, c.BatchID, "all four packs say B8"))
		assert.Empty(t, withdrawn())
		story := h.Notice(n.ID)
		assert.Equal(t, []int{0, 0}, []int{story.Units, story.Outstanding})
		require.Len(t, story.Batches, 1)
		assert.Equal(t, []any{"Ria", "all four packs say B8", h.Now}, []any{story.Batches[0].Released.By,
			story.Batches[0].Released.Text, story.Batches[0].Released.RecordedAt})
		inventorytest.RequireKind(t, inventory.Conflict, release(ria, c.BatchID, "again"))

		end := "2029-03"
		_, err = h.S.Ledger.CorrectLot(h.Ctx, fixture.Keeper, lot.ID, inventory.LotCorrection{EndPrinted: &end, Reason: "x"})
		require.NoError(t, err)
		assert.Empty(t, withdrawn(), "another date, and the number that was released")
		renumber(h, lot.ID, "B1")
		assert.Equal(t, []string{"FSN-1"}, withdrawn(), "a later correction that matches ends it")
		renumber(h, lot.ID, "B8")
		assert.Equal(t, []string{"FSN-1"}, withdrawn(), "and it has ended")
		require.NoError(t, release(fixture.Admin, c.BatchID, "looked again: B8"))
		assert.Empty(t, withdrawn())

		_, err = h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, n.ID, "nothing is left")
		require.NoError(t, err)
		widen := func(numbers ...string) error {
			_, err := h.S.Notice.Widen(h.Ctx, ria, n.ID, inventory.NoticeScope{BatchNos: numbers}, "the maker extends it")
			return err
		}
		require.NoError(t, widen("B7"))
		assert.Empty(t, withdrawn(), "it never bore that")
		inventorytest.RequireFields(t, widen(), "batch_nos")
		require.NoError(t, widen("b-8"))
		assert.Equal(t, []string{"FSN-1"}, withdrawn(), "a widened notice that matches ends it")
		assert.Equal(t, []any{inventory.NoticeOpen, 4}, []any{h.Notice(n.ID).Status, h.Notice(n.ID).Outstanding})
		h.Verify()
	})
}

// TestStationsAnswerARecall: each station says what it holds, and the notice shows who has not; what the supplier says
// is kept with it.
func TestStationsAnswerARecall(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		h.Receive("DRESSING", "B1", 4, "2029-02")
		n := h.Issue(withdrawing)
		answers := func() (out []string) {
			for _, a := range h.Notice(n.ID).Stations {
				said := "?"
				if a.Answer != nil {
					said = fmt.Sprint(a.Answer.Held, " by ", a.Answer.By)
				}
				out = append(out, fmt.Sprint(a.Station, " ", a.Recorded, ": ", said))
			}
			return out
		}
		answer := func(by inventory.Actor, station string, held int) error {
			_, err := h.S.Notice.Answer(h.Ctx, by, n.ID, station, held, "")
			return err
		}
		assert.Equal(t, []string{"NORTH 4: ?", "SOUTH 0: ?"}, answers())
		assert.Equal(t, 2, h.Notice(n.ID).Unanswered)
		inventorytest.RequireKind(t, inventory.Forbidden, answer(ria, "SOUTH", 0))
		inventorytest.RequireKind(t, inventory.Forbidden, answer(fixture.Crew, "NORTH", 0))
		inventorytest.RequireFields(t, answer(fixture.Admin, "NONE", 0), "station")
		inventorytest.RequireFields(t, answer(ria, "north", -1), "held")
		require.NoError(t, answer(ria, "north", 3))
		require.NoError(t, answer(ria, "north", 5))
		require.NoError(t, answer(fixture.Keeper, "SOUTH", 0))
		assert.Equal(t, []string{"NORTH 4: 5 by Ria", "SOUTH 0: 0 by Quinn"}, answers())
		assert.Zero(t, h.Notice(n.ID).Unanswered)
		_, err := h.S.Notice.Reply(h.Ctx, ria, n.ID, "Credit note follows; destroy on site.")
		require.NoError(t, err)
		_, err = h.S.Notice.Reply(h.Ctx, ria, n.ID, "")
		inventorytest.RequireFields(t, err, "text")
		_, err = h.S.Notice.Widen(h.Ctx, ria, n.ID, inventory.NoticeScope{BatchNos: []string{"B2"}}, "")
		require.NoError(t, err)
		assert.Equal(t, []string{"NORTH 4: ?", "SOUTH 0: ?"}, answers(), "of B2 nobody has said anything yet")
		steps := h.Notice(n.ID).Steps
		require.Len(t, steps, 5)
		assert.Equal(t, []any{inventory.StepReplied, "Ria", "Credit note follows; destroy on site."}, []any{steps[3].Kind,
			steps[3].By, steps[3].Text})
		_, err = h.S.Notice.CancelNotice(h.Ctx, fixture.Keeper, n.ID, "not ours")
		require.NoError(t, err)
		inventorytest.RequireKind(t, inventory.Conflict, answer(ria, "NORTH", 1))
		h.Verify()
	})
}

// TestMergedBatchesPassNoticesOn: what was typed as a batch of its own is one that is there already. Merged, both
// stand under every notice on either, whoever traces either number finds both, and nobody moved anything.
func TestMergedBatchesPassNoticesOn(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		right, wrong := h.Receive("DRESSING", "B1", 4, "2029-02"), h.Receive("DRESSING", "B7", 3, "2029-03")
		n := h.Issue(inventory.Notice{Reference: "FSN-7", Action: inventory.NoticeWithdraw, Item: "DRESSING",
			NoticeScope: inventory.NoticeScope{BatchNos: []string{"B7"}}})
		number := "B1"
		fix := inventory.LotCorrection{BatchNo: &number, Reason: "a 1 was read as a 7"}
		_, err := h.S.Ledger.CorrectLot(h.Ctx, fixture.Keeper, wrong.ID, fix)
		inventorytest.RequireKind(t, inventory.Conflict, err)
		assert.ErrorContains(t, err, "another batch has this number")
		assert.Empty(t, h.Lot(right.ID).Withdrawn)
		fix.Merge = true
		_, err = h.S.Ledger.CorrectLot(h.Ctx, fixture.Keeper, wrong.ID, fix)
		require.NoError(t, err)

		for _, lot := range []int64{right.ID, wrong.ID} {
			l := h.Lot(lot)
			assert.Equal(t, []any{"B1", "2029-02", []string{"FSN-7"}, 7}, []any{l.BatchNo, l.EndPrinted, l.Withdrawn,
				fixture.Units(l)})
			require.Len(t, l.History, 2, "the receipts of both, and nothing since")
			require.Len(t, l.Corrections, 1, "a merge is told once")
			assert.Equal(t, "merged: batch number B7, printed expiry 2029-03 is batch number B1, printed expiry "+
				"2029-02, because: a 1 was read as a 7", inventory.CorrectionText(l.Corrections[0]).String())
		}
		assert.Equal(t, 7, h.Notice(n.ID).Outstanding)
		_, err = h.S.Notice.Release(h.Ctx, fixture.Keeper, n.ID, right.Batch.ID, "looked")
		inventorytest.RequireKind(t, inventory.Conflict, err) // who merged it
		for _, batch := range []int64{right.Batch.ID, wrong.Batch.ID} {
			_, err = h.S.Notice.Release(h.Ctx, ria, n.ID, batch, "all seven say B1")
			require.NoError(t, err)
		}
		assert.Zero(t, h.Notice(n.ID).Outstanding)
		more := h.Receive("DRESSING", "B1", 2, "2029-02")
		assert.Equal(t, right.ID, more.ID, "later receipts are of the one that was there")
		third := h.Receive("DRESSING", "B9", 1, "2029-03")
		number = "B9"
		fix.Merge = true
		_, err = h.S.Ledger.CorrectLot(h.Ctx, fixture.Keeper, wrong.ID, fix)
		require.NoError(t, err)
		assert.Equal(t, 10, fixture.Units(h.Lot(third.ID)), "what was merged before goes along")
		assert.Equal(t, "B9", h.Lot(right.ID).BatchNo)
		h.Verify()
	})
}

// TestTraceByFormerNumber: a batch is found by every number that it ever bore, whatever its case, blanks and dashes.
func TestTraceByFormerNumber(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		lot := h.Receive("DRESSING", "T2-ß 4", 4, "2029-02")
		renumber(h, lot.ID, "T3")
		for _, typed := range []string{"T3", "t-3", "T2-ß 4", "t 2ß4", "T2–ß4"} {
			found, err := h.S.Search.Search(h.Ctx, fixture.Crew, typed)
			require.NoError(t, err)
			require.NotNil(t, found.Only, typed)
			assert.Equal(t, lot.ID, found.Only.Lot, typed)
			lots, err := h.S.Stock.Lots(h.Ctx, fixture.Keeper, inventory.LotFilter{BatchNo: typed}, 0, inventory.Page{})
			require.NoError(t, err)
			require.Len(t, lots, 1, typed)
			assert.Equal(t, "T2-ß 4", lots[0].Formerly[0].BatchNo, "kept as printed")
			entries, _, err := h.S.History.History(h.Ctx, fixture.Keeper, inventory.HistoryFilter{BatchNo: typed},
				inventory.Page{})
			require.NoError(t, err)
			assert.Len(t, entries, 2, typed)
		}
		found, err := h.S.Search.Search(h.Ctx, fixture.Keeper, "2-ß") // a part of what it was
		require.NoError(t, err)
		assert.Len(t, found.Lots, 1)
		for _, typed := range []string{"T4", "-", "- -"} {
			lots, err := h.S.Stock.Lots(h.Ctx, fixture.Keeper, inventory.LotFilter{BatchNo: typed}, 0, inventory.Page{})
			require.NoError(t, err)
			assert.Empty(t, lots, typed)
		}
	})
}

// TestDeviceCorrected: a device's story tells what was mistyped of it.
func TestDeviceCorrected(t *testing.T) {
	h := fixture.New(t, storetest.OpenSQLite(t))
	tq := h.Receive("TQ", "S1", 1, "")
	serial, made := "S2", "2026-05"
	_, err := h.S.Ledger.CorrectLot(h.Ctx, fixture.Keeper, tq.ID, inventory.LotCorrection{Serial: &serial, MadeOn: &made,
		Reason: "worn print"})
	require.NoError(t, err)
	d, err := h.S.Stock.Device(h.Ctx, fixture.Keeper, tq.ID)
	require.NoError(t, err)
	assert.Equal(t, "S2", d.Serial)
	last := d.Story[len(d.Story)-1]
	assert.Equal(t, stock.StoryLine{HappenedAt: h.Now, Kind: "correction", Text: last.Text, By: "Quinn"}, last,
		"after the receipt that it corrects")
	assert.Equal(t, "corrected: serial number S1 to S2, made on none to 2026-05-01, because: worn print",
		last.Text.String())
	_, err = h.S.Ledger.CorrectLot(h.Ctx, fixture.Keeper, 999, inventory.LotCorrection{Reason: "x"})
	inventorytest.RequireKind(t, inventory.NotFound, err)
	h.Verify()
}
