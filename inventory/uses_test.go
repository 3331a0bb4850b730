package inventory_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/storetest"
)

func (h *stowed) use(lines ...inventory.UseLine) inventory.Use {
	return inventory.Use{Bag: "N-01", Incident: "I-7", SeenPosition: h.bag("N-01").Position, Lines: lines}
}

func (h *stowed) recordUse(u inventory.Use) inventory.Use {
	out, err := h.s.Shift.RecordUse(h.ctx, crew, u, "")
	require.NoError(h.t, err)
	return out
}

// TestUse: what an incident consumed leaves the bag, whose readiness follows
// at once; its seal is off.
func TestUse(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		u := h.recordUse(h.use(inventory.UseLine{LotID: h.tqs[0].ID, Qty: 1}, inventory.UseLine{LotID: h.dressings.ID,
			Qty: 5}))
		assert.Equal(t, inventory.StatusAccepted, u.Status)
		assert.Equal(t, h.now, u.HappenedAt)
		assert.Equal(t, 1, h.holds("N-01")[h.dressings.ID])
		assert.Equal(t, []string{"stop below_minimum DRESSING 0 3  ", "warn below_par TQ 0 1  ",
			"warn below_par DRESSING 0 2  ", "warn no_seal  0 0  "}, findings(h.readiness("N-01")))
		b := h.bag("N-01")
		assert.Equal(t, h.now, b.LastUse)
		assert.Empty(t, b.Seal)

		ms, err := h.s.Ledger.Movements(h.ctx, manager, inventory.MovementFilter{Reference: "I-7"}, inventory.Page{})
		require.NoError(t, err)
		assert.Len(t, ms, 2, "an incident can be traced")
		h.verify()
	})
}

// TestUseSettlesASeal: a use says that the bag was opened, so a seal that was
// seen broken is settled, and a new one may go on.
func TestUseSettlesASeal(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	h.record(inventory.Check{Bag: "N-01", Kind: inventory.SealCheck, SeenPosition: h.bag("N-01").Position,
		SealBroken: true})
	u := h.use(inventory.UseLine{LotID: h.pens.ID, Qty: 1})
	u.SealSet = "102"
	h.recordUse(u)
	b := h.bag("N-01")
	assert.Equal(t, []any{"102", inventory.SealIntact}, []any{b.Seal, b.SealState})
}

// TestUseFromAnotherBag: the crew took from a bag beside theirs.
func TestUseFromAnotherBag(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		h.restock("N-02", "", inventory.RestockLine{LotID: h.dressings.ID, Qty: 2})
		position := h.bag("N-02").Position
		u := h.recordUse(h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 2, CameFrom: "n-02"},
			inventory.UseLine{LotID: h.dressings.ID, Qty: 1}))
		assert.Equal(t, inventory.StatusAccepted, u.Status)
		assert.Empty(t, h.holds("N-02"))
		assert.Equal(t, 5, h.holds("N-01")[h.dressings.ID])
		assert.Greater(t, h.bag("N-02").Position, position)
		h.verify()
	})
}

func TestUseRefuses(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	line := inventory.UseLine{LotID: h.dressings.ID, Qty: 1}
	for _, c := range []struct {
		change func(*inventory.Use)
		paths  []string
	}{
		{func(u *inventory.Use) { u.Incident = " " }, []string{"incident"}},
		{func(u *inventory.Use) { u.Lines = nil }, []string{"lines"}},
		{func(u *inventory.Use) { u.Lines[0].Qty = 0 }, []string{"lines[0].qty"}},
		{func(u *inventory.Use) { u.Lines[0].LotID = 999 }, []string{"lines[0].lot_id"}},
		{func(u *inventory.Use) { u.Lines[0].CameFrom = "X-99" }, []string{"lines[0].came_from"}},
		{func(u *inventory.Use) { u.Lines[0].Given = strings.Repeat("x", 41) }, []string{"lines[0].given"}},
		{func(u *inventory.Use) { u.HappenedAt = h.now.Add(time.Hour) }, []string{"happened_at"}},
		{func(u *inventory.Use) { u.SeenPosition = h.bag("N-01").Position + 1 }, []string{"seen_position"}},
		{func(u *inventory.Use) { u.SealSet, u.Note = "\xff", "\x00" }, []string{"seal_set", "note"}},
	} {
		u := h.use(line)
		c.change(&u)
		before := h.everything()
		_, err := h.s.Shift.RecordUse(h.ctx, crew, u, "")
		requireFields(t, err, c.paths...)
		assert.Equal(t, before, h.everything())
	}
	for kind, by := range map[inventory.ErrorKind]inventory.Actor{inventory.SignedOut: nobody,
		inventory.Forbidden: manager} {
		_, err := h.s.Shift.RecordUse(h.ctx, by, h.use(line), "")
		requireKind(t, kind, err)
	}
	south := h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 1, CameFrom: "S-01"})
	_, err := h.s.Shift.RecordUse(h.ctx, crew, south, "")
	requireKind(t, inventory.Forbidden, err)
}

// TestUseWaits: it is kept when the bag changed meanwhile, or when the ledger
// lacks the stock; nothing is posted, and the bag stays as it was.
func TestUseWaits(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		lacking := h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 4}, inventory.UseLine{LotID: h.dressings.ID, Qty: 4})
		before := h.bag("N-01")
		u := h.recordUse(lacking)
		assert.Equal(t, inventory.StatusToReview, u.Status)
		assert.Contains(t, u.ReviewBecause, "does not hold")
		assert.Equal(t, before, h.bag("N-01"))
		assert.Equal(t, 6, h.holds("N-01")[h.dressings.ID])

		stale := h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 1})
		h.move(h.pens.ID, 1, "N-01", "NORTH-STORE", inventory.ReasonReturn)
		u = h.recordUse(stale)
		assert.Equal(t, inventory.StatusToReview, u.Status)
		assert.Contains(t, u.ReviewBecause, "changed")
		waiting, err := h.s.Shift.Uses(h.ctx, keeper, inventory.RecordFilter{Status: inventory.StatusToReview, Bag: "N-01"},
			inventory.Page{})
		require.NoError(t, err)
		assert.Len(t, waiting, 2)
		again, err := h.s.Shift.Use(h.ctx, crew, u.ID)
		require.NoError(t, err)
		assert.Equal(t, u, again)
		h.verify()
	})
}

func TestUseKeyCountsOnce(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	_, err := h.s.Shift.RecordUse(h.ctx, crew, h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 1}), "key-1")
	require.NoError(t, err)
	_, err = h.s.Shift.RecordUse(h.ctx, crew, h.use(inventory.UseLine{LotID: h.dressings.ID, Qty: 1}), "key-1")
	requireKind(t, inventory.Conflict, err)
	assert.Equal(t, 5, h.holds("N-01")[h.dressings.ID])
}

// TestUseFromTheTrainingBag: training stock that is used up is gone, and never
// counted for issue.
func TestUseFromTheTrainingBag(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	given := h.move(h.dressings.ID, 3, "NORTH-STORE", "T-01", inventory.ReasonToTraining)
	u := h.use(inventory.UseLine{LotID: given.IntoLotID, Qty: 2})
	u.Bag, u.SeenPosition = "T-01", h.bag("T-01").Position
	assert.Equal(t, inventory.StatusAccepted, h.recordUse(u).Status)
	assert.Equal(t, map[int64]int{given.IntoLotID: 1}, h.holds("T-01"))
	h.verify()
}
