package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

func TestMayRetire(t *testing.T) {
	for _, c := range []struct {
		name                    string
		units, modules, waiting int
		want                    string
	}{
		{"empty, alone, all decided", 0, 0, 0, ""},
		{"one unit", 1, 0, 0, "empty the bag first: it holds 1 unit"},
		{"units come first", 7, 2, 1, "empty the bag first: it holds 7 units"},
		{"modules", 0, 2, 1, "take its modules out first: it has 2"},
		{"a record waits", 0, 0, 1, "decide first what waits: 1 record of this bag"},
	} {
		err := ledger.MayRetire(c.units, c.modules, c.waiting)
		if c.want == "" {
			assert.NoError(t, err, c.name)
			continue
		}
		requireKind(t, inventory.Conflict, err)
		assert.Equal(t, "conflict: "+c.want, err.Error(), c.name)
	}
}

// retire takes a bag out of service, with a successor if one is named.
func (h *house) retire(code, successor string) (inventory.Bag, error) {
	yes := true
	ch := ledger.BagChange{Retired: &yes}
	if successor != "" {
		ch.Successor = &successor
	}
	return h.s.Lists.UpdateBag(h.ctx, keeper, code, 0, ch)
}

// empty moves all that lies in a bag to the store of NORTH.
func (h *house) empty(code string) {
	for lot, qty := range h.holds(code) {
		h.move(lot, qty, code, "NORTH-STORE", inventory.ReasonReturn)
	}
}

func TestRetire(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		late := h.fullCheck()
		_, err := h.retire("N-01", "N-02")
		requireKind(t, inventory.Conflict, err)
		h.empty("N-01")
		waits := h.record(late)
		require.Equal(t, inventory.StatusToReview, waits.Status)
		_, err = h.retire("N-01", "N-02")
		requireKind(t, inventory.Conflict, err)
		_, err = h.s.Shift.DecideCheck(h.ctx, keeper, waits.ID, shift.CheckDecision{Decision: inventory.DecideReject,
			Reason: "emptied since"})
		require.NoError(t, err)

		b, err := h.retire("n-01", "N-02")
		require.NoError(t, err)
		assert.Equal(t, []any{h.now, "Quinn", "N-02", true}, []any{b.RetiredAt, b.RetiredBy, b.Successor, b.Retired()})
		assert.Equal(t, b, h.bag("N-01"), "it can still be looked at")
		again, err := h.retire("N-01", "")
		require.NoError(t, err)
		assert.Equal(t, b.RetiredAt, again.RetiredAt, "retired once")

		r := h.readiness("N-01")
		assert.Equal(t, inventory.OutOfService, r.State)
		assert.Empty(t, r.Findings)
		assert.Equal(t, "Retired: use N-02 instead", inventory.Headline(b, r))
		b.Successor = ""
		assert.Equal(t, "Retired: out of service", inventory.Headline(b, r))
		h.verify()
	})
}

// A retired bag is on no board, in no report and in no list, and its history
// is still there.
func TestRetiredBagLeavesTheLists(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		h.empty("N-01")
		_, err := h.retire("N-01", "")
		require.NoError(t, err)

		bags, err := h.s.Shift.BagList(h.ctx, admin, inventory.BagFilter{}, inventory.Page{}, lists.Outlook{})
		require.NoError(t, err)
		for _, b := range bags {
			assert.NotEqual(t, "N-01", b.Code)
		}
		also, err := h.s.Shift.BagList(h.ctx, admin, inventory.BagFilter{Retired: true}, inventory.Page{}, lists.Outlook{})
		require.NoError(t, err)
		assert.Len(t, also, len(bags)+1)
		rep, err := h.s.Report.Shortages(h.ctx, admin, nil, lists.Outlook{})
		require.NoError(t, err)
		for _, st := range rep.States {
			assert.NotEqual(t, "N-01", st.Bag)
		}
		desk, err := h.s.Storeroom.Desk(h.ctx, keeper, nil)
		require.NoError(t, err)
		for _, b := range desk.ToRestock {
			assert.NotEqual(t, "N-01", b.Code)
		}
		places, err := h.s.Lists.Places(h.ctx, admin, inventory.PlaceFilter{}, inventory.Page{})
		require.NoError(t, err)
		for _, p := range places {
			assert.NotEqual(t, "N-01", p.Code)
		}

		found, err := h.s.Stock.FindBag(h.ctx, crew, "n01")
		require.NoError(t, err, "its label is still about")
		assert.True(t, found.Retired())
		checks, err := h.s.Shift.Checks(h.ctx, crew, inventory.RecordFilter{Bag: "N-01"}, inventory.Page{})
		require.NoError(t, err)
		assert.NotEmpty(t, checks)
		moves, err := h.s.Ledger.Movements(h.ctx, manager, inventory.MovementFilter{Place: "N-01"}, inventory.Page{})
		require.NoError(t, err)
		assert.NotEmpty(t, moves)
		h.verify()
	})
}

// Nothing gets into a retired bag; what a crew recorded of it is kept and
// waits.
func TestRetiredBagTakesNothing(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		in := h.move(h.dressings.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.empty("N-01")
		_, err := h.retire("N-01", "")
		require.NoError(t, err)

		h.refuse(inventory.Conflict, inventory.Movement{LotID: h.pens.ID, Qty: 1, From: "NORTH-STORE", To: "N-01",
			Reason: inventory.ReasonStow})
		out, err := h.s.Ledger.Movements(h.ctx, admin, inventory.MovementFilter{Place: "N-01", LotID: h.pens.ID,
			Newest: true}, inventory.Page{Limit: 1})
		require.NoError(t, err)
		require.Equal(t, "NORTH-STORE", out[0].To)
		h.refuse(inventory.Conflict, inventory.Movement{LotID: out[0].IntoLotID, Qty: out[0].Qty, From: "NORTH-STORE",
			To: "N-01", Reason: inventory.ReasonCorrection, Corrects: out[0].ID})
		_, err = h.s.Storeroom.RecordRestock(h.ctx, keeper, inventory.Restock{Bag: "N-01", SealSet: "9"}, 0)
		requireKind(t, inventory.Conflict, err)
		yes := "N-01"
		_, err = h.s.Lists.UpdateBag(h.ctx, keeper, "N-02", 0, ledger.BagChange{Inside: &yes})
		requireFields(t, err, "inside")

		position := h.bag("N-01").Position
		c := h.record(inventory.Check{Bag: "N-01", Kind: inventory.FullCheck, SeenPosition: position,
			Lines: []inventory.CheckLine{{LotID: in.IntoLotID, Counted: 1, Reason: inventory.CountFound}}})
		assert.Equal(t, []string{"to_review", "the bag is retired"}, []string{string(c.Status), c.ReviewBecause})
		u, err := h.s.Shift.RecordUse(h.ctx, crew, inventory.Use{Bag: "N-01", Incident: "I-1", SeenPosition: position,
			Lines: []inventory.UseLine{{LotID: in.IntoLotID, Qty: 1}}}, "")
		require.NoError(t, err)
		assert.Equal(t, []string{"to_review", "the bag is retired"}, []string{string(u.Status), u.ReviewBecause})
		_, err = h.s.Shift.DecideCheck(h.ctx, keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
			Reason: "seen"})
		requireKind(t, inventory.Conflict, err)
		_, err = h.s.Shift.DecideUse(h.ctx, keeper, u.ID, shift.UseDecision{Decision: inventory.DecideAccept, Reason: "seen"})
		requireKind(t, inventory.Conflict, err)
		_, err = h.s.Shift.DecideUse(h.ctx, keeper, u.ID, shift.UseDecision{Decision: inventory.DecideReject,
			Reason: "another bag's"})
		require.NoError(t, err)

		no := false
		b, err := h.s.Lists.UpdateBag(h.ctx, keeper, "N-01", 0, ledger.BagChange{Retired: &no})
		require.NoError(t, err, "it can be brought back")
		assert.Equal(t, []any{inventory.Instant(0), "", ""}, []any{b.RetiredAt, b.RetiredBy, b.Successor})
		c, err = h.s.Shift.DecideCheck(h.ctx, keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
			Reason: "seen"})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		h.verify()
	})
}

func TestSuccessor(t *testing.T) {
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		for successor, path := range map[string]string{"N-99": "successor", "T-01": "successor", "N-01": "successor"} {
			_, err := h.retire("N-01", successor)
			requireFields(t, err, path)
		}
		next := "N-02"
		_, err := h.s.Lists.UpdateBag(h.ctx, keeper, "N-01", 0, ledger.BagChange{Successor: &next})
		requireFields(t, err, "successor")
		_, err = h.retire("N-02", "")
		require.NoError(t, err)
		_, err = h.retire("N-01", "N-02")
		requireFields(t, err, "successor")

		_, err = h.retire("N-01", "S-01")
		require.NoError(t, err, "also at another station")
		_, err = h.retire("S-01", "")
		require.NoError(t, err, "a successor may be retired in its turn")
		name := "Old bag"
		_, err = h.s.Lists.UpdateBag(h.ctx, keeper, "N-01", 0, ledger.BagChange{Name: &name})
		require.NoError(t, err, "and what it succeeded can still be changed")

		yes := true
		_, err = h.s.Lists.UpdateBag(h.ctx, crew, "T-01", 0, ledger.BagChange{Retired: &yes})
		requireKind(t, inventory.Forbidden, err)
	})
}
