package lists_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

// empty moves all that lies in a bag to the store of NORTH.
func empty(h *fixture.House, code string) {
	for lot, qty := range h.Holds(code) {
		h.Move(lot, qty, code, "NORTH-STORE", inventory.ReasonReturn)
	}
}

func TestRetire(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		late := h.FullCheck()
		_, err := h.Retire("N-01", "N-02")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		empty(h.House, "N-01")
		waits := h.Record(late)
		require.Equal(t, inventory.StatusToReview, waits.Status)
		_, err = h.Retire("N-01", "N-02")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		_, err = h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, waits.ID, shift.CheckDecision{Decision: inventory.DecideReject,
			Reason: "emptied since"})
		require.NoError(t, err)

		b, err := h.Retire("n-01", "N-02")
		require.NoError(t, err)
		assert.Equal(t, []any{h.Now, "Quinn", "N-02", true}, []any{b.RetiredAt, b.RetiredBy, b.Successor, b.Retired()})
		assert.Equal(t, b, h.Bag("N-01"), "it can still be looked at")
		again, err := h.Retire("N-01", "")
		require.NoError(t, err)
		assert.Equal(t, b.RetiredAt, again.RetiredAt, "retired once")

		r := h.Readiness("N-01")
		assert.Equal(t, inventory.OutOfService, r.State)
		assert.Empty(t, r.Findings)
		assert.Equal(t, "Retired: use N-02 instead", inventory.Headline(b, r).String())
		b.Successor = ""
		assert.Equal(t, "Retired: out of service", inventory.Headline(b, r).String())
		h.Verify()
	})
}

// A retired bag is on no board, in no report and in no list, and its history
// is still there.
func TestRetiredBagLeavesTheLists(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		empty(h.House, "N-01")
		_, err := h.Retire("N-01", "")
		require.NoError(t, err)

		bags, err := h.S.Shift.BagList(h.Ctx, fixture.Admin, inventory.BagFilter{}, inventory.Page{}, lists.Outlook{})
		require.NoError(t, err)
		for _, b := range bags {
			assert.NotEqual(t, "N-01", b.Code)
		}
		also, err := h.S.Shift.BagList(h.Ctx, fixture.Admin, inventory.BagFilter{Retired: true}, inventory.Page{},
			lists.Outlook{})
		require.NoError(t, err)
		assert.Len(t, also, len(bags)+1)
		rep, err := h.S.Report.Shortages(h.Ctx, fixture.Admin, nil, lists.Outlook{})
		require.NoError(t, err)
		for _, st := range rep.States {
			assert.NotEqual(t, "N-01", st.Bag)
		}
		desk, err := h.S.Storeroom.Desk(h.Ctx, fixture.Keeper, nil)
		require.NoError(t, err)
		for _, b := range desk.Bags {
			assert.NotEqual(t, "N-01", b.Code)
		}
		places, err := h.S.Lists.Places(h.Ctx, fixture.Admin, inventory.PlaceFilter{}, inventory.Page{})
		require.NoError(t, err)
		for _, p := range places {
			assert.NotEqual(t, "N-01", p.Code)
		}

		found, err := h.S.Stock.FindBag(h.Ctx, fixture.Crew, "n01")
		require.NoError(t, err, "its label is still about")
		assert.True(t, found.Retired())
		checks, err := h.S.Shift.Checks(h.Ctx, fixture.Crew, inventory.RecordFilter{Bag: "N-01"}, inventory.Page{})
		require.NoError(t, err)
		assert.NotEmpty(t, checks)
		moves, err := h.S.Ledger.Movements(h.Ctx, fixture.Manager, inventory.MovementFilter{Place: "N-01"}, inventory.Page{})
		require.NoError(t, err)
		assert.NotEmpty(t, moves)
		h.Verify()
	})
}

// Nothing gets into a retired bag; what a crew recorded of it is kept and
// waits.
func TestRetiredBagTakesNothing(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		in := h.Move(h.Dressings.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		empty(h.House, "N-01")
		_, err := h.Retire("N-01", "")
		require.NoError(t, err)

		h.Refuse(inventory.Conflict, inventory.Movement{LotID: h.Pens.ID, Qty: 1, From: "NORTH-STORE", To: "N-01",
			Reason: inventory.ReasonStow})
		out, err := h.S.Ledger.Movements(h.Ctx, fixture.Admin, inventory.MovementFilter{Place: "N-01", LotID: h.Pens.ID,
			Newest: true}, inventory.Page{Limit: 1})
		require.NoError(t, err)
		require.Equal(t, "NORTH-STORE", out[0].To)
		h.Refuse(inventory.Conflict, inventory.Movement{LotID: out[0].IntoLotID, Qty: out[0].Qty, From: "NORTH-STORE",
			To: "N-01", Reason: inventory.ReasonCorrection, Corrects: out[0].ID})
		_, err = h.S.Storeroom.RecordRestock(h.Ctx, fixture.Keeper, inventory.Restock{Bag: "N-01", SealSet: "9"}, 0)
		inventorytest.RequireKind(t, inventory.Conflict, err)
		yes := "N-01"
		_, err = h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "N-02", 0, ledger.BagChange{Inside: &yes})
		inventorytest.RequireFields(t, err, "inside")

		position := h.Bag("N-01").Position
		c := h.Record(inventory.Check{Bag: "N-01", Kind: inventory.FullCheck, SeenPosition: position,
			Lines: []inventory.CheckLine{{LotID: in.IntoLotID, Counted: 1, Reason: inventory.CountFound}}})
		assert.Equal(t, []string{"to_review", "the bag is retired"}, []string{string(c.Status), c.ReviewBecause.String()})
		u, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, inventory.Use{Bag: "N-01", Incident: "I-1", SeenPosition: position,
			Lines: []inventory.UseLine{{LotID: in.IntoLotID, Qty: 1}}}, "")
		require.NoError(t, err)
		assert.Equal(t, []string{"to_review", "the bag is retired"}, []string{string(u.Status), u.ReviewBecause.String()})
		_, err = h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
			Reason: "seen"})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		_, err = h.S.Shift.DecideUse(h.Ctx, fixture.Keeper, u.ID, shift.UseDecision{Decision: inventory.DecideAccept,
			Reason: "seen"})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		_, err = h.S.Shift.DecideUse(h.Ctx, fixture.Keeper, u.ID, shift.UseDecision{Decision: inventory.DecideReject,
			Reason: "another bag's"})
		require.NoError(t, err)

		no := false
		b, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "N-01", 0, ledger.BagChange{Retired: &no})
		require.NoError(t, err, "it can be brought back")
		assert.Equal(t, []any{inventory.Instant(0), "", ""}, []any{b.RetiredAt, b.RetiredBy, b.Successor})
		c, err = h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
			Reason: "seen"})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		h.Verify()
	})
}

func TestSuccessor(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		for successor, path := range map[string]string{"N-99": "successor", "T-01": "successor", "N-01": "successor"} {
			_, err := h.Retire("N-01", successor)
			inventorytest.RequireFields(t, err, path)
		}
		next := "N-02"
		_, err := h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "N-01", 0, ledger.BagChange{Successor: &next})
		inventorytest.RequireFields(t, err, "successor")
		_, err = h.Retire("N-02", "")
		require.NoError(t, err)
		_, err = h.Retire("N-01", "N-02")
		inventorytest.RequireFields(t, err, "successor")

		_, err = h.Retire("N-01", "S-01")
		require.NoError(t, err, "also at another station")
		_, err = h.Retire("S-01", "")
		require.NoError(t, err, "a successor may be retired in its turn")
		name := "Old bag"
		_, err = h.S.Lists.UpdateBag(h.Ctx, fixture.Keeper, "N-01", 0, ledger.BagChange{Name: &name})
		require.NoError(t, err, "and what it succeeded can still be changed")

		yes := true
		_, err = h.S.Lists.UpdateBag(h.Ctx, fixture.Crew, "T-01", 0, ledger.BagChange{Retired: &yes})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
	})
}
