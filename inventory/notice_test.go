package inventory_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/notice"
	"stowkeeper/inventory/store/storetest"
)

// issue issues a notice that must be taken.
func (h *house) issue(n inventory.Notice) inventory.Notice {
	n, err := h.s.Notice.CreateNotice(h.ctx, keeper, n)
	require.NoError(h.t, err)
	return n
}

func (h *house) notice(id int64) notice.NoticeStory {
	n, err := h.s.Notice.Notice(h.ctx, manager, id)
	require.NoError(h.t, err)
	return n
}

// withdrawing is a notice on batch B1 of the dressings.
var withdrawing = inventory.Notice{Reference: "FSN-1", Action: inventory.NoticeWithdraw, Item: "dressing",
	BatchNos: []string{"B1"}, Text: "seals may leak"}

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
		h := newStowed(t, s) // N-01 holds six of batch B1, the store fourteen
		h.move(h.dressings.ID, 3, "NORTH-STORE", "N-02", inventory.ReasonStow)
		h.move(h.dressings.ID, 2, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		h.move(h.dressings.ID, 1, "NORTH-STORE", "S-01", inventory.ReasonStow)
		h.move(h.dressings.ID, 1, "NORTH-STORE", "N-BELT", inventory.ReasonStow)
		h.move(h.dressings.ID, 1, "NORTH-STORE", "N-REPAIR", inventory.ReasonAway)
		given := h.move(h.dressings.ID, 2, "NORTH-STORE", "T-01", inventory.ReasonToTraining)
		h.recordUse(h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 1}))
		other := h.receive("DRESSING", "B2", 5, "2029-01")
		require.NotContains(t, fmt.Sprint(findings(h.readiness("N-01"))), "under_notice")
		h.pass(time.Hour)

		n := h.issue(withdrawing)
		assert.Equal(t, []any{"DRESSING", inventory.NoticeOpen, h.now, "Quinn"}, []any{n.Item, n.Status, n.IssuedAt,
			n.IssuedBy})
		story := h.notice(n.ID)
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
			r := h.readiness(bag)
			assert.Equal(t, inventory.NotReady, r.State, bag)
			assert.Contains(t, fmt.Sprint(findings(r)), "stop under_notice DRESSING", bag)
		}
		assert.Equal(t, 0, h.readiness("N-02").Lines[1].Usable)
		pl, err := h.s.Storeroom.RestockPlan(h.ctx, keeper, "N-02", lists.Outlook{})
		require.NoError(t, err)
		for _, l := range pl.Lines {
			assert.NotEqual(t, h.dressings.ID, l.LotID, "it is never picked")
		}
		assert.Equal(t, other.ID, pl.Lines[0].LotID)
		require.Len(t, pl.TakeOut, 1)
		assert.Equal(t, []any{"NORTH-QUARANTINE", 3}, []any{pl.TakeOut[0].To, pl.TakeOut[0].Qty})

		// It goes nowhere but to quarantine, away or out.
		h.refuse(inventory.Conflict, inventory.Movement{LotID: h.dressings.ID, Qty: 1, From: "NORTH-STORE", To: "N-01",
			Reason: inventory.ReasonStow})
		h.refuse(inventory.Conflict, inventory.Movement{LotID: h.dressings.ID, Qty: 1, From: "N-01", To: "NORTH-STORE",
			Reason: inventory.ReasonReturn})
		_, err = h.s.Notice.CloseNotice(h.ctx, keeper, n.ID, "done")
		requireKind(t, inventory.Conflict, err)
		assert.ErrorContains(t, err, "19 units are outstanding")

		h.pull(h.notice(n.ID).PullFrom[:6])
		story = h.notice(n.ID)
		assert.Equal(t, []any{19, 13, 6}, []any{story.Units, story.Pulled, story.Outstanding})
		h.refuse(inventory.Conflict, inventory.Movement{LotID: h.dressings.ID, Qty: 1, From: "NORTH-QUARANTINE",
			To: "NORTH-STORE", Reason: inventory.ReasonRelease})
		h.refuse(inventory.Conflict, inventory.Movement{LotID: given.IntoLotID, Qty: 1, From: "NORTH-TRAINING-QUARANTINE",
			To: "NORTH-TRAINING", Reason: inventory.ReasonRelease})
		h.pull(story.PullFrom[1:]) // all but the four in the store
		left, err := h.s.Ledger.Move(h.ctx, keeper, []inventory.Movement{{LotID: h.dressings.ID, Qty: 4, From: "NORTH-STORE",
			To: "disposed", Reason: inventory.ReasonDisposed, Cause: inventory.CauseRecalled}})
		require.NoError(t, err)
		require.Len(t, left, 1)
		story = h.notice(n.ID)
		assert.Equal(t, []any{15, 15, 0}, []any{story.Units, story.Pulled, story.Outstanding})
		assert.Len(t, story.Incidents, 1, "pulling is no use")
		closed, err := h.s.Notice.CloseNotice(h.ctx, keeper, n.ID, "all pulled")
		require.NoError(t, err)
		assert.Equal(t, []any{inventory.NoticeClosed, h.now, "Quinn", "all pulled"}, []any{closed.Status, closed.EndedAt,
			closed.EndedBy, closed.EndReason})
		h.refuse(inventory.Conflict, inventory.Movement{LotID: h.dressings.ID, Qty: 1, From: "NORTH-QUARANTINE",
			To: "NORTH-STORE", Reason: inventory.ReasonRelease})
		h.verify()
	})
}

// pull moves units into the quarantine that the notice names.
func (h *house) pull(units []notice.HeldUnits) {
	var ms []inventory.Movement
	for _, u := range units {
		ms = append(ms, inventory.Movement{LotID: u.LotID, Qty: u.Qty, From: u.Place, To: u.To,
			Reason: inventory.ReasonQuarantine, Reference: "FSN-1"})
	}
	_, err := h.s.Ledger.Move(h.ctx, keeper, ms)
	require.NoError(h.t, err)
}

// TestLaterReceipts: units of a batch under notice come into quarantine only,
// also of a batch that was never there before, and after the notice closed.
func TestLaterReceipts(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		n := h.issue(withdrawing)
		for range 2 {
			in := inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING", BatchNo: "b 1", EndPrinted: "2029-01", Qty: 5}
			before := h.everything()
			_, err := h.s.Ledger.Receive(h.ctx, keeper, in)
			requireKind(t, inventory.Conflict, err)
			assert.ErrorContains(t, err, "FSN-1")
			assert.Equal(t, before, h.everything())
			in.Place = "NORTH-QUARANTINE"
			lot, err := h.s.Ledger.Receive(h.ctx, keeper, in)
			require.NoError(t, err)
			assert.Equal(t, []string{"FSN-1"}, lot.Withdrawn)
			_, err = h.s.Notice.CloseNotice(h.ctx, keeper, n.ID, "nothing is outstanding")
			if n.Status == inventory.NoticeOpen {
				require.NoError(t, err)
				n.Status = inventory.NoticeClosed
			}
		}
		// A crew that finds units of it has them wait.
		c, err := h.s.Shift.RecordCheck(h.ctx, crew, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck,
			SeenPosition: h.bag("N-01").Position,
			Found:        []inventory.FoundLine{{Item: "DRESSING", BatchNo: "B1", EndPrinted: "2029-01", Qty: 1}}}, "")
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusToReview, c.Status)
		assert.Contains(t, c.ReviewBecause, "FSN-1")
		h.verify()
	})
}

// TestCancelledNotice: a notice that was wrong is taken back with a reason,
// also when it had been closed; what it withdrew counts again, unless another
// notice means it too.
func TestCancelledNotice(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		first := h.issue(withdrawing)
		second := withdrawing
		second.Reference, second.BatchNos, second.MadeFrom, second.MadeTo = "FSN-2", []string{"B1", "B9"}, 0, 0
		second = h.issue(second)
		assert.Equal(t, []string{"FSN-2", "FSN-1"}, h.lot(h.dressings.ID).Withdrawn, "the newest first")
		_, err := h.s.Notice.CreateNotice(h.ctx, keeper, withdrawing)
		requireKind(t, inventory.Conflict, err) // the same reference on the item
		_, err = h.s.Notice.CancelNotice(h.ctx, keeper, first.ID, " ")
		requireFields(t, err, "reason")
		cancelled, err := h.s.Notice.CancelNotice(h.ctx, keeper, first.ID, "the wrong batch")
		require.NoError(t, err)
		assert.Equal(t, inventory.NoticeCancelled, cancelled.Status)
		assert.Equal(t, []string{"FSN-2"}, h.lot(h.dressings.ID).Withdrawn)
		assert.Equal(t, inventory.NotReady, h.readiness("N-01").State)
		_, err = h.s.Notice.CancelNotice(h.ctx, keeper, second.ID, "the wrong batch as well")
		require.NoError(t, err)
		assert.Empty(t, h.lot(h.dressings.ID).Withdrawn)
		assert.Equal(t, inventory.Ready, h.readiness("N-01").State)
		assert.Zero(t, h.notice(second.ID).Outstanding, "it asks for nothing any more")
		for _, end := range []func() error{
			func() error { _, err := h.s.Notice.CancelNotice(h.ctx, keeper, first.ID, "again"); return err },
			func() error { _, err := h.s.Notice.CloseNotice(h.ctx, keeper, first.ID, "again"); return err },
		} {
			requireKind(t, inventory.Conflict, end())
		}

		third := h.issue(withdrawing) // the reference is free again
		h.pull(h.notice(third.ID).PullFrom)
		_, err = h.s.Notice.CloseNotice(h.ctx, keeper, third.ID, "all pulled")
		require.NoError(t, err)
		_, err = h.s.Notice.CloseNotice(h.ctx, keeper, third.ID, "again")
		requireKind(t, inventory.Conflict, err)
		cancelled, err = h.s.Notice.CancelNotice(h.ctx, keeper, third.ID, "the maker withdrew it")
		require.NoError(t, err)
		assert.Equal(t, "the maker withdrew it (it had been closed on 2027-06-14 by Quinn: all pulled)", cancelled.EndReason)
		h.move(h.dressings.ID, 6, "NORTH-QUARANTINE", "NORTH-STORE", inventory.ReasonRelease)
		h.verify()
	})
}

// TestInspectNotice: devices are to be inspected from the day of the notice on;
// one that passed since is done, whatever another notice asked before. Units of
// a batch are shown until a quartermaster closes the notice.
func TestInspectNotice(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		var splints []inventory.Lot
		for i, place := range []string{"N-01", "N-02", "NORTH-STORE"} {
			lot := h.receive("SPLINT", fmt.Sprint("SP-", i+1), 1, "")
			if place != "NORTH-STORE" {
				h.move(lot.ID, 1, "NORTH-STORE", place, inventory.ReasonStow)
			}
			splints = append(splints, lot)
		}
		h.inspect(crew, splints[0].ID, "", "frame whole", "straps hold") // the same day, before the notice
		h.pass(time.Hour)
		n := h.issue(inventory.Notice{Reference: "FSN-3", Action: inventory.NoticeInspect, Item: "SPLINT", SerialFrom: "SP-1",
			SerialTo: "SP-3"})
		for i, bag := range []string{"N-01", "N-02"} {
			assert.Contains(t, findings(h.readiness(bag)), "warn inspection_due SPLINT "+id(splints[i].ID)+" 1 2027-06-14 ",
				"at once")
		}
		assert.Equal(t, 3, h.notice(n.ID).Outstanding)
		h.refuse(inventory.Conflict, back(splints[2].ID, "NORTH-STORE", "N-01", inventory.ReasonStow))
		_, err := h.s.Notice.CloseNotice(h.ctx, keeper, n.ID, "done")
		requireKind(t, inventory.Conflict, err)
		assert.ErrorContains(t, err, "inspect them first")

		h.pass(time.Hour)
		h.inspect(crew, splints[0].ID, "", "frame whole", "straps hold")
		h.inspect(crew, splints[1].ID, "", "!frame whole") // into quarantine
		story := h.notice(n.ID)
		assert.Equal(t, []any{3, 1, 1}, []any{story.Units, story.Pulled, story.Outstanding})
		assert.NotContains(t, fmt.Sprint(findings(h.readiness("N-01"))), "inspection_due")
		h.pass(24 * time.Hour)
		again := h.issue(inventory.Notice{Reference: "FSN-4", Action: inventory.NoticeInspect, Item: "SPLINT",
			Serials: []string{"SP-1"}})
		assert.Equal(t, 1, h.notice(n.ID).Outstanding, "the older notice has been answered")
		assert.Equal(t, 1, h.notice(again.ID).Outstanding)
		h.pass(time.Hour)
		h.inspect(crew, splints[0].ID, "", "frame whole", "straps hold")
		h.inspect(crew, splints[2].ID, "", "frame whole", "straps hold")
		for _, id := range []int64{n.ID, again.ID} {
			_, err = h.s.Notice.CloseNotice(h.ctx, keeper, id, "all looked at")
			require.NoError(t, err)
		}
		h.move(splints[2].ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)

		h.receive("DRESSING", "B1", 4, "2030-01")
		look := withdrawing
		look.Action = inventory.NoticeInspect
		units := h.issue(look)
		lots, err := h.s.Stock.Lots(h.ctx, keeper, inventory.LotFilter{Item: "DRESSING"}, 0, inventory.Page{})
		require.NoError(t, err)
		h.move(lots[0].ID, 2, "NORTH-STORE", "N-01", inventory.ReasonStow)
		assert.Contains(t, findings(h.readiness("N-01")), "warn inspection_due DRESSING "+id(lots[0].ID)+" 2 2027-06-15 ")
		_, err = h.s.Notice.CloseNotice(h.ctx, keeper, units.ID, "all looked at")
		require.NoError(t, err)
		assert.NotContains(t, fmt.Sprint(findings(h.readiness("N-01"))), "inspection_due")
		h.verify()
	})
}

// TestInformNotice: it is listed and traced, and changes nothing.
func TestInformNotice(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	inform := withdrawing
	inform.Action = inventory.NoticeInform
	n := h.issue(inform)
	story := h.notice(n.ID)
	assert.Equal(t, []any{20, 0, 0}, []any{story.Units, story.Pulled, story.Outstanding})
	assert.Equal(t, inventory.Ready, h.readiness("N-01").State)
	_, err := h.s.Notice.CloseNotice(h.ctx, keeper, n.ID, "read")
	require.NoError(t, err)
	h.verify()
}

// TestUnidentifiedUnderNotice: units that bear too little to tell are listed,
// and are not outstanding.
func TestUnidentifiedUnderNotice(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	c := h.fullCheck()
	c.Found = []inventory.FoundLine{{Item: "DRESSING", Qty: 2, Unidentified: true}}
	h.record(c)
	n := h.issue(withdrawing)
	story := h.notice(n.ID)
	assert.Equal(t, []string{"NORTH-QUARANTINE 2 "}, heldAt(story.MightBe))
	assert.Equal(t, []any{20, 20, 2}, []any{story.Units, story.Outstanding, story.Unclear})

	pens := h.issue(inventory.Notice{Reference: "FSN-5", Action: inventory.NoticeWithdraw, Item: "PEN",
		BatchNos: []string{"P1"}})
	assert.Equal(t, 5, h.notice(pens.ID).Unclear, "pens bear no batch number")
	all, err := h.s.Notice.Notices(h.ctx, manager, inventory.NoticeFilter{}, inventory.Page{})
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Equal(t, []any{"FSN-5", 5, "FSN-1", 20}, []any{all[0].Reference, all[0].Unclear, all[1].Reference,
		all[1].Outstanding}, "newest first, with counts")
	open, err := h.s.Notice.Notices(h.ctx, manager, inventory.NoticeFilter{Item: "DRESSING", Status: inventory.NoticeOpen},
		inventory.Page{})
	require.NoError(t, err)
	assert.Len(t, open, 1)
}

// TestNoticeOnAProduct: a product names its item, and narrows the notice to one
// trade pack.
func TestNoticeOnAProduct(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	var products []int64
	for range 2 {
		pr, err := h.s.Lists.CreateProduct(h.ctx, keeper, inventory.Product{Item: "DRESSING", PackSize: 10})
		require.NoError(t, err)
		products = append(products, pr.ID)
	}
	for _, product := range append(products, 0) {
		_, err := h.s.Ledger.Receive(h.ctx, keeper, inventory.Receipt{Place: "NORTH-STORE", Item: "DRESSING",
			Product: product, BatchNo: "B1", EndPrinted: "2030-01", Qty: 3})
		require.NoError(t, err)
	}
	n := h.issue(inventory.Notice{Reference: "FSN-6", Action: inventory.NoticeWithdraw, Product: products[0]})
	story := h.notice(n.ID)
	assert.Equal(t, []any{"DRESSING", 3, 3}, []any{story.Item, story.Units, story.Unclear})
	assert.Len(t, story.Batches, 1)
}

func TestNoticeRefuses(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	pr, err := h.s.Lists.CreateProduct(h.ctx, keeper, inventory.Product{Item: "PEN", PackSize: 10})
	require.NoError(t, err)
	try := func(by inventory.Actor, change func(*inventory.Notice)) error {
		n, before := withdrawing, h.everything()
		change(&n)
		_, err := h.s.Notice.CreateNotice(h.ctx, by, n)
		assert.Equal(t, before, h.everything())
		return err
	}
	as := func(*inventory.Notice) {}
	requireKind(t, inventory.SignedOut, try(nobody, as))
	requireKind(t, inventory.Forbidden, try(crew, as))
	requireKind(t, inventory.Forbidden, try(manager, as))
	requireFields(t, try(keeper, func(n *inventory.Notice) { n.Item = "NOTHING" }), "item")
	requireFields(t, try(keeper, func(n *inventory.Notice) { n.Product = 99 }), "product")
	requireFields(t, try(keeper, func(n *inventory.Notice) { n.Product = pr.ID }), "product")
	requireFields(t, try(keeper, func(n *inventory.Notice) { n.Action = "" }), "action")
	n := h.issue(withdrawing)
	for kind, by := range map[inventory.ErrorKind]inventory.Actor{inventory.SignedOut: nobody, inventory.Forbidden: crew} {
		_, err = h.s.Notice.Notice(h.ctx, by, n.ID)
		requireKind(t, kind, err)
		_, err = h.s.Notice.Notices(h.ctx, by, inventory.NoticeFilter{}, inventory.Page{})
		requireKind(t, kind, err)
		_, err = h.s.Notice.CloseNotice(h.ctx, by, n.ID, "x")
		requireKind(t, kind, err)
		_, err = h.s.Notice.CancelNotice(h.ctx, by, n.ID, "x")
		requireKind(t, kind, err)
	}
	_, err = h.s.Notice.Notice(h.ctx, manager, 99)
	requireKind(t, inventory.NotFound, err)
	_, err = h.s.Notice.CloseNotice(h.ctx, keeper, 99, "x")
	requireKind(t, inventory.NotFound, err)
}
