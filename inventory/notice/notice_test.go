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
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/notice"
	"stowkeeper/inventory/store/storetest"
)

// withdrawing is a notice on batch B1 of the dressings.
var withdrawing = inventory.Notice{Reference: "FSN-1", Action: inventory.NoticeWithdraw, Item: "dressing",
	NoticeScope: inventory.NoticeScope{BatchNos: []string{"B1"}}, Text: "seals may leak"}

// heldAt writes places in short: "place × quantity to quarantine".
func heldAt(units []notice.HeldUnits) []string {
	out := []string{}
	for _, u := range units {
		out = append(out, fmt.Sprintf("%s %d %s", u.Place, u.Qty, u.To))
	}
	return out
}

// TestWithdrawingNotice: every unit everywhere is unusable from that moment;
// the notice lists where they are, what to pull first, what is pulled and what
// is outstanding, and who used the batch before; it closes when nothing is
// outstanding.
func TestWithdrawingNotice(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s) // N-01 holds six of batch B1, the store fourteen
		h.Move(h.Dressings.ID, 3, "NORTH-STORE", "N-02", inventory.ReasonStow)
		h.Move(h.Dressings.ID, 2, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		h.Move(h.Dressings.ID, 1, "NORTH-STORE", "S-01", inventory.ReasonStow)
		h.Move(h.Dressings.ID, 1, "NORTH-STORE", "N-BELT", inventory.ReasonStow)
		h.Move(h.Dressings.ID, 1, "NORTH-STORE", "N-REPAIR", inventory.ReasonAway)
		given := h.Move(h.Dressings.ID, 2, "NORTH-STORE", "T-01", inventory.ReasonToTraining)
		h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 1}))
		other := h.Receive("DRESSING", "B2", 5, "2029-01")
		require.NotContains(t, fmt.Sprint(inventorytest.Findings(h.Readiness("N-01"))), "under_notice")
		h.Pass(time.Hour)

		n := h.Issue(withdrawing)
		assert.Equal(t, []any{"DRESSING", inventory.NoticeOpen, h.Now, "Quinn"}, []any{n.Item, n.Status, n.IssuedAt,
			n.IssuedBy})
		story := h.Notice(n.ID)
		assert.Equal(t, []any{19, 0, 19, 0}, []any{story.Units, story.Pulled, story.Outstanding, story.Unclear})
		assert.Equal(t, []string{"N-01 5 NORTH-QUARANTINE", "S-01 1 SOUTH-QUARANTINE", "N-02 3 NORTH-QUARANTINE",
			"T-01 2 NORTH-TRAINING-QUARANTINE",
			"N-BELT 1 NORTH-QUARANTINE", "N-REPAIR 1 NORTH-QUARANTINE", "NORTH-STORE 4 NORTH-QUARANTINE",
			"SOUTH-STORE 2 SOUTH-QUARANTINE"},
			heldAt(story.PullFrom), "bags by priority, then the rest")
		assert.Len(t, story.Held, 8)
		require.Len(t, story.Incidents, 1)
		assert.Equal(t, []any{"I-7", "N-01", 1}, []any{story.Incidents[0].Incident, story.Incidents[0].Bag,
			story.Incidents[0].Qty})
		assert.Empty(t, story.MightBe)
		for _, bag := range []string{"N-01", "N-02", "S-01"} {
			r := h.Readiness(bag)
			assert.Equal(t, inventory.NotReady, r.State, bag)
			assert.Contains(t, fmt.Sprint(inventorytest.Findings(r)), "stop under_notice DRESSING", bag)
		}
		assert.Equal(t, 0, h.Readiness("N-02").Lines[1].Usable)
		pl, err := h.S.Storeroom.RestockPlan(h.Ctx, fixture.Keeper, "N-02", lists.Outlook{})
		require.NoError(t, err)
		for _, l := range pl.Lines {
			assert.NotEqual(t, h.Dressings.ID, l.LotID, "it is never picked")
		}
		assert.Equal(t, other.ID, pl.Lines[0].LotID)
		require.Len(t, pl.TakeOut, 1)
		assert.Equal(t, []any{"NORTH-QUARANTINE", 3}, []any{pl.TakeOut[0].To, pl.TakeOut[0].Qty})

		// It goes nowhere but to quarantine, away or out.
		h.Refuse(inventory.Conflict, inventory.Movement{LotID: h.Dressings.ID, Qty: 1, From: "NORTH-STORE", To: "N-01",
			Reason: inventory.ReasonStow})
		h.Refuse(inventory.Conflict, inventory.Movement{LotID: h.Dressings.ID, Qty: 1, From: "N-01", To: "NORTH-STORE",
			Reason: inventory.ReasonReturn})
		_, err = h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, n.ID, "done")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		assert.ErrorContains(t, err, "19 outstanding")

		pull(h.House, h.Notice(n.ID).PullFrom[:6])
		story = h.Notice(n.ID)
		assert.Equal(t, []any{19, 13, 6}, []any{story.Units, story.Pulled, story.Outstanding})
		h.Refuse(inventory.Conflict, inventory.Movement{LotID: h.Dressings.ID, Qty: 1, From: "NORTH-QUARANTINE",
			To: "NORTH-STORE", Reason: inventory.ReasonRelease})
		h.Refuse(inventory.Conflict, inventory.Movement{LotID: given.IntoLotID, Qty: 1, From: "NORTH-TRAINING-QUARANTINE",
			To: "NORTH-TRAINING", Reason: inventory.ReasonRelease})
		pull(h.House, story.PullFrom[1:]) // all but the four in the store
		left, err := h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{{LotID: h.Dressings.ID, Qty: 4,
			From: "NORTH-STORE",
			To:   "disposed", Reason: inventory.ReasonDisposed, Cause: inventory.CauseRecalled}})
		require.NoError(t, err)
		require.Len(t, left, 1)
		story = h.Notice(n.ID)
		assert.Equal(t, []any{15, 15, 0}, []any{story.Units, story.Pulled, story.Outstanding})
		assert.Len(t, story.Incidents, 1, "pulling is no use")
		closed, err := h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, n.ID, "all pulled")
		require.NoError(t, err)
		assert.Equal(t, []any{inventory.NoticeClosed, h.Now, "Quinn", "all pulled"}, []any{closed.Status, closed.EndedAt,
			closed.EndedBy, closed.EndReason})
		h.Refuse(inventory.Conflict, inventory.Movement{LotID: h.Dressings.ID, Qty: 1, From: "NORTH-QUARANTINE",
			To: "NORTH-STORE", Reason: inventory.ReasonRelease})
		h.Verify()
	})
}

// pull moves units into the quarantine that the notice names.
func pull(h *fixture.House, units []notice.HeldUnits) {
	var ms []inventory.Movement
	for _, u := range units {
		ms = append(ms, inventory.Movement{LotID: u.LotID, Qty: u.Qty, From: u.Place, To: u.To,
			Reason: inventory.ReasonQuarantine, Reference: "FSN-1"})
	}
	_, err := h.S.Ledger.Move(h.Ctx, fixture.Keeper, ms)
	require.NoError(h.T, err)
}

// TestLaterReceipts: units of a batch under notice come into quarantine only,
// also of a batch that was never there before, and after the notice closed.
func TestLaterReceipts(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		n := h.Issue(withdrawing)
		for range 2 {
			in := inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING", BatchNo: "b 1", EndPrinted: "2029-01", Qty: 5}
			before := h.Everything()
			_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
			inventorytest.RequireKind(t, inventory.Conflict, err)
			assert.ErrorContains(t, err, "FSN-1")
			assert.Equal(t, before, h.Everything())
			in.Place = "NORTH-QUARANTINE"
			lot, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, in)
			require.NoError(t, err)
			assert.Equal(t, []string{"FSN-1"}, lot.Withdrawn)
			_, err = h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, n.ID, "nothing is outstanding")
			if n.Status == inventory.NoticeOpen {
				require.NoError(t, err)
				n.Status = inventory.NoticeClosed
			}
		}
		// A crew that finds units of it has them wait.
		c, err := h.S.Shift.RecordCheck(h.Ctx, fixture.Crew, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck,
			SeenPosition: h.Bag("N-01").Position,
			Found:        []inventory.FoundLine{{Item: "DRESSING", BatchNo: "B1", EndPrinted: "2029-01", Qty: 1}}}, "")
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusToReview, c.Status)
		assert.Contains(t, c.ReviewBecause.String(), "FSN-1")
		h.Verify()
	})
}

// TestCancelledNotice: a notice that was wrong is taken back with a reason,
// also when it had been closed; what it withdrew counts again, unless another
// notice means it too.
func TestCancelledNotice(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		first := h.Issue(withdrawing)
		second := withdrawing
		second.Reference, second.BatchNos, second.MadeFrom, second.MadeTo = "FSN-2", []string{"B1", "B9"}, 0, 0
		second = h.Issue(second)
		assert.Equal(t, []string{"FSN-2", "FSN-1"}, h.Lot(h.Dressings.ID).Withdrawn, "the newest first")
		_, err := h.S.Notice.CreateNotice(h.Ctx, fixture.Keeper, withdrawing)
		inventorytest.RequireKind(t, inventory.Conflict, err) // the same reference on the item
		_, err = h.S.Notice.CancelNotice(h.Ctx, fixture.Keeper, first.ID, " ")
		inventorytest.RequireFields(t, err, "reason")
		cancelled, err := h.S.Notice.CancelNotice(h.Ctx, fixture.Keeper, first.ID, "the wrong batch")
		require.NoError(t, err)
		assert.Equal(t, inventory.NoticeCancelled, cancelled.Status)
		assert.Equal(t, []string{"FSN-2"}, h.Lot(h.Dressings.ID).Withdrawn)
		assert.Equal(t, inventory.NotReady, h.Readiness("N-01").State)
		_, err = h.S.Notice.CancelNotice(h.Ctx, fixture.Keeper, second.ID, "the wrong batch as well")
		require.NoError(t, err)
		assert.Empty(t, h.Lot(h.Dressings.ID).Withdrawn)
		assert.Equal(t, inventory.Ready, h.Readiness("N-01").State)
		assert.Zero(t, h.Notice(second.ID).Outstanding, "it asks for nothing any more")
		for _, end := range []func() error{
			func() error { _, err := h.S.Notice.CancelNotice(h.Ctx, fixture.Keeper, first.ID, "again"); return err },
			func() error { _, err := h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, first.ID, "again"); return err },
		} {
			inventorytest.RequireKind(t, inventory.Conflict, end())
		}

		third := h.Issue(withdrawing) // the reference is free again
		pull(h.House, h.Notice(third.ID).PullFrom)
		_, err = h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, third.ID, "all pulled")
		require.NoError(t, err)
		_, err = h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, third.ID, "again")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		cancelled, err = h.S.Notice.CancelNotice(h.Ctx, fixture.Keeper, third.ID, "the maker withdrew it")
		require.NoError(t, err)
		assert.Equal(t, "the maker withdrew it (it had been closed on 2027-06-14 by Quinn: all pulled)", cancelled.EndReason)
		h.Move(h.Dressings.ID, 6, "NORTH-QUARANTINE", "NORTH-STORE", inventory.ReasonRelease)
		h.Verify()
	})
}

// TestInspectNotice: devices are to be inspected from the day of the notice on;
// one that passed since is done, whatever another notice asked before. Units of
// a batch are shown until a quartermaster closes the notice.
func TestInspectNotice(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		var splints []inventory.Lot
		for i, place := range []string{"N-01", "N-02", "NORTH-STORE"} {
			lot := h.Receive("SPLINT", fmt.Sprint("SP-", i+1), 1, "")
			if place != "NORTH-STORE" {
				h.Move(lot.ID, 1, "NORTH-STORE", place, inventory.ReasonStow)
			}
			splints = append(splints, lot)
		}
		h.Inspect(fixture.Crew, splints[0].ID, "", "frame whole", "straps hold") // the same day, before the notice
		h.Pass(time.Hour)
		n := h.Issue(inventory.Notice{Reference: "FSN-3", Action: inventory.NoticeInspect, Item: "SPLINT",
			NoticeScope: inventory.NoticeScope{SerialFrom: "SP-1", SerialTo: "SP-3"}})
		for i, bag := range []string{"N-01", "N-02"} {
			assert.Contains(t, inventorytest.Findings(h.Readiness(bag)), "warn inspection_due SPLINT "+fixture.Id(splints[i].ID)+
				" 1 2027-06-14 ",
				"at once")
		}
		assert.Equal(t, 3, h.Notice(n.ID).Outstanding)
		h.Refuse(inventory.Conflict, fixture.Back(splints[2].ID, "NORTH-STORE", "N-01", inventory.ReasonStow))
		_, err := h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, n.ID, "done")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		assert.ErrorContains(t, err, "inspect first")

		h.Pass(time.Hour)
		h.Inspect(fixture.Crew, splints[0].ID, "", "frame whole", "straps hold")
		h.Inspect(fixture.Crew, splints[1].ID, "", "!frame whole") // into quarantine
		story := h.Notice(n.ID)
		assert.Equal(t, []any{3, 1, 1}, []any{story.Units, story.Pulled, story.Outstanding})
		assert.NotContains(t, fmt.Sprint(inventorytest.Findings(h.Readiness("N-01"))), "inspection_due")
		h.Pass(24 * time.Hour)
		again := h.Issue(inventory.Notice{Reference: "FSN-4", Action: inventory.NoticeInspect, Item: "SPLINT",
			NoticeScope: inventory.NoticeScope{Serials: []string{"SP-1"}}})
		assert.Equal(t, 1, h.Notice(n.ID).Outstanding, "the older notice has been answered")
		assert.Equal(t, 1, h.Notice(again.ID).Outstanding)
		h.Pass(time.Hour)
		h.Inspect(fixture.Crew, splints[0].ID, "", "frame whole", "straps hold")
		h.Inspect(fixture.Crew, splints[2].ID, "", "frame whole", "straps hold")
		for _, id := range []int64{n.ID, again.ID} {
			_, err = h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, id, "all looked at")
			require.NoError(t, err)
		}
		h.Move(splints[2].ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)

		h.Receive("DRESSING", "B1", 4, "2030-01")
		look := withdrawing
		look.Action = inventory.NoticeInspect
		units := h.Issue(look)
		lots, err := h.S.Stock.Lots(h.Ctx, fixture.Keeper, inventory.LotFilter{Item: "DRESSING"}, 0, inventory.Page{})
		require.NoError(t, err)
		h.Move(lots[0].ID, 2, "NORTH-STORE", "N-01", inventory.ReasonStow)
		assert.Contains(t, inventorytest.Findings(h.Readiness("N-01")), "warn inspection_due DRESSING "+
			fixture.Id(lots[0].ID)+" 2 2027-06-15 ")
		_, err = h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, units.ID, "all looked at")
		require.NoError(t, err)
		assert.NotContains(t, fmt.Sprint(inventorytest.Findings(h.Readiness("N-01"))), "inspection_due")
		h.Verify()
	})
}

// TestInformNotice: it is listed and traced, and changes nothing.
func TestInformNotice(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	inform := withdrawing
	inform.Action = inventory.NoticeInform
	n := h.Issue(inform)
	story := h.Notice(n.ID)
	assert.Equal(t, []any{20, 0, 0}, []any{story.Units, story.Pulled, story.Outstanding})
	assert.Equal(t, inventory.Ready, h.Readiness("N-01").State)
	_, err := h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, n.ID, "read")
	require.NoError(t, err)
	h.Verify()
}

// TestUnidentifiedUnderNotice: units that bear too little to tell are listed,
// and are not outstanding.
func TestUnidentifiedUnderNotice(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	c := h.FullCheck()
	c.Found = []inventory.FoundLine{{Item: "DRESSING", Qty: 2, Unidentified: true}}
	h.Record(c)
	n := h.Issue(withdrawing)
	story := h.Notice(n.ID)
	assert.Equal(t, []string{"NORTH-QUARANTINE 2 "}, heldAt(story.MightBe))
	assert.Equal(t, []any{20, 20, 2}, []any{story.Units, story.Outstanding, story.Unclear})

	pens := h.Issue(inventory.Notice{Reference: "FSN-5", Action: inventory.NoticeWithdraw, Item: "PEN",
		NoticeScope: inventory.NoticeScope{BatchNos: []string{"P1"}}})
	assert.Equal(t, 5, h.Notice(pens.ID).Unclear, "pens bear no batch number")
	all, err := h.S.Notice.Notices(h.Ctx, fixture.Manager, inventory.NoticeFilter{}, inventory.Page{})
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Equal(t, []any{"FSN-5", 5, "FSN-1", 20}, []any{all[0].Reference, all[0].Unclear, all[1].Reference,
		all[1].Outstanding}, "newest first, with counts")
	open, err := h.S.Notice.Notices(h.Ctx, fixture.Manager, inventory.NoticeFilter{Item: "DRESSING",
		Status: inventory.NoticeOpen},
		inventory.Page{})
	require.NoError(t, err)
	assert.Len(t, open, 1)
}

// TestNoticeOnAProduct: a product names its item, and narrows the notice to one
// trade pack.
func TestNoticeOnAProduct(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	var products []int64
	for range 2 {
		pr, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: "DRESSING", PackSize: 10})
		require.NoError(t, err)
		products = append(products, pr.ID)
	}
	for _, product := range append(products, 0) {
		_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING",
			Product: product, BatchNo: "B1", EndPrinted: "2030-01", Qty: 3})
		require.NoError(t, err)
	}
	n := h.Issue(inventory.Notice{Reference: "FSN-6", Action: inventory.NoticeWithdraw, Product: products[0]})
	story := h.Notice(n.ID)
	assert.Equal(t, []any{"DRESSING", 3, 3}, []any{story.Item, story.Units, story.Unclear})
	assert.Len(t, story.Batches, 1)
}

func TestNoticeRefuses(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	pr, err := h.S.Lists.CreateProduct(h.Ctx, fixture.Keeper, inventory.Product{Item: "PEN", PackSize: 10})
	require.NoError(t, err)
	try := func(by inventory.Actor, change func(*inventory.Notice)) error {
		n, before := withdrawing, h.Everything()
		change(&n)
		_, err := h.S.Notice.CreateNotice(h.Ctx, by, n)
		assert.Equal(t, before, h.Everything())
		return err
	}
	as := func(*inventory.Notice) {}
	inventorytest.RequireKind(t, inventory.SignedOut, try(fixture.Nobody, as))
	inventorytest.RequireKind(t, inventory.Forbidden, try(fixture.Crew, as))
	inventorytest.RequireKind(t, inventory.Forbidden, try(fixture.Manager, as))
	inventorytest.RequireFields(t, try(fixture.Keeper, func(n *inventory.Notice) { n.Item = "NOTHING" }), "item")
	inventorytest.RequireFields(t, try(fixture.Keeper, func(n *inventory.Notice) { n.Product = 99 }), "product")
	inventorytest.RequireFields(t, try(fixture.Keeper, func(n *inventory.Notice) { n.Product = pr.ID }), "product")
	inventorytest.RequireFields(t, try(fixture.Keeper, func(n *inventory.Notice) { n.Action = "" }), "action")
	n := h.Issue(withdrawing)
	for kind, by := range map[inventory.ErrorKind]inventory.Actor{inventory.SignedOut: fixture.Nobody,
		inventory.Forbidden: fixture.Crew} {
		_, err = h.S.Notice.Notice(h.Ctx, by, n.ID)
		inventorytest.RequireKind(t, kind, err)
		_, err = h.S.Notice.Notices(h.Ctx, by, inventory.NoticeFilter{}, inventory.Page{})
		inventorytest.RequireKind(t, kind, err)
		_, err = h.S.Notice.CloseNotice(h.Ctx, by, n.ID, "x")
		inventorytest.RequireKind(t, kind, err)
		_, err = h.S.Notice.CancelNotice(h.Ctx, by, n.ID, "x")
		inventorytest.RequireKind(t, kind, err)
	}
	_, err = h.S.Notice.Notice(h.Ctx, fixture.Manager, 99)
	inventorytest.RequireKind(t, inventory.NotFound, err)
	_, err = h.S.Notice.CloseNotice(h.Ctx, fixture.Keeper, 99, "x")
	inventorytest.RequireKind(t, inventory.NotFound, err)
}
