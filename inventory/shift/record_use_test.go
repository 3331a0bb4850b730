package shift_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

// TestUse: what an incident consumed leaves the bag, whose readiness follows
// at once; its seal is off.
func TestUse(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		u := h.RecordUse(h.Use(inventory.UseLine{LotID: h.Tqs[0].ID, Qty: 1}, inventory.UseLine{LotID: h.Dressings.ID,
			Qty: 5}))
		assert.Equal(t, inventory.StatusAccepted, u.Status)
		assert.Equal(t, h.Now, u.HappenedAt)
		assert.Equal(t, 1, h.Holds("N-01")[h.Dressings.ID])
		assert.Equal(t, []string{"stop below_minimum DRESSING 0 3  ", "warn below_par TQ 0 1  ",
			"warn below_par DRESSING 0 2  ", "warn no_seal  0 0  "}, inventorytest.Findings(h.Readiness("N-01")))
		b := h.Bag("N-01")
		assert.Equal(t, h.Now, b.LastUse)
		assert.Empty(t, b.Seal)

		ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Manager, inventory.MovementFilter{References: []string{"I-7"}},
			inventory.Page{})
		require.NoError(t, err)
		assert.Len(t, ms, 2, "an incident can be traced")
		h.Verify()
	})
}

// TestUseSettlesASeal: a use says that the bag was opened, so a seal that was
// seen broken is settled, and a new one may go on.
func TestUseSettlesASeal(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	h.Record(inventory.Check{Bag: "N-01", Kind: inventory.SealCheck, SeenPosition: h.Bag("N-01").Position,
		SealBroken: true})
	u := h.Use(inventory.UseLine{LotID: h.Pens.ID, Qty: 1})
	u.SealSet = "102"
	h.RecordUse(u)
	b := h.Bag("N-01")
	assert.Equal(t, []any{"102", inventory.SealIntact}, []any{b.Seal, b.SealState})
}

// TestUseFromAnotherBag: the crew took from a bag beside theirs.
func TestUseFromAnotherBag(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		h.Restock("N-02", "", inventory.RestockLine{LotID: h.Dressings.ID, Qty: 2})
		position := h.Bag("N-02").Position
		u := h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 2, CameFrom: "n-02"},
			inventory.UseLine{LotID: h.Dressings.ID, Qty: 1}))
		assert.Equal(t, inventory.StatusAccepted, u.Status)
		assert.Empty(t, h.Holds("N-02"))
		assert.Equal(t, 5, h.Holds("N-01")[h.Dressings.ID])
		assert.Greater(t, h.Bag("N-02").Position, position)
		h.Verify()
	})
}

func TestUseRefuses(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	line := inventory.UseLine{LotID: h.Dressings.ID, Qty: 1}
	for _, c := range []struct {
		change func(*inventory.Use)
		paths  []string
	}{
		{func(u *inventory.Use) { u.Incident = " " }, []string{"incident"}},
		{func(u *inventory.Use) { u.Lines = nil }, []string{"lines"}},
		{func(u *inventory.Use) { u.Lines[0].Qty = 0 }, []string{"lines[0].qty"}},
		{func(u *inventory.Use) { u.Lines[0].LotID = 999 }, []string{"lines[0].lot_id"}},
		{func(u *inventory.Use) { u.Lines[0].CameFrom = "X-99" }, []string{"lines[0].came_from"}},
		{func(u *inventory.Use) { u.Lines[0].Given = amount.Amount(strings.Repeat("x", 41)) }, []string{"lines[0].given"}},
		{func(u *inventory.Use) { u.HappenedAt = h.Now.Add(time.Hour) }, []string{"happened_at"}},
		{func(u *inventory.Use) { u.SeenPosition = h.Bag("N-01").Position + 1 }, []string{"seen_position"}},
		{func(u *inventory.Use) { u.SealSet, u.Note = "\xff", "\x00" }, []string{"seal_set", "note"}},
	} {
		u := h.Use(line)
		c.change(&u)
		before := h.Everything()
		_, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, u, "")
		inventorytest.RequireFields(t, err, c.paths...)
		assert.Equal(t, before, h.Everything())
	}
	for kind, by := range map[inventory.ErrorKind]inventory.Actor{inventory.SignedOut: fixture.Nobody,
		inventory.Forbidden: fixture.Manager} {
		_, err := h.S.Shift.RecordUse(h.Ctx, by, h.Use(line), "")
		inventorytest.RequireKind(t, kind, err)
	}
	south := h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 1, CameFrom: "S-01"})
	_, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, south, "")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}

// TestUseWaits: it is kept when the bag changed meanwhile, or when the ledger
// lacks the stock; nothing is posted, and the bag stays as it was.
func TestUseWaits(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		lacking := h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 4}, inventory.UseLine{LotID: h.Dressings.ID, Qty: 4})
		before := h.Bag("N-01")
		u := h.RecordUse(lacking)
		assert.Equal(t, inventory.StatusToReview, u.Status)
		assert.Contains(t, u.ReviewBecause.String(), "less stock")
		assert.Equal(t, before, h.Bag("N-01"))
		assert.Equal(t, 6, h.Holds("N-01")[h.Dressings.ID])

		stale := h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 1})
		h.Move(h.Pens.ID, 1, "N-01", "NORTH-STORE", inventory.ReasonReturn)
		u = h.RecordUse(stale)
		assert.Equal(t, inventory.StatusToReview, u.Status)
		assert.Contains(t, u.ReviewBecause.String(), "changed")
		waiting, err := h.S.Shift.Uses(h.Ctx, fixture.Keeper, inventory.RecordFilter{Status: inventory.StatusToReview,
			Bag: "N-01"},
			inventory.Page{})
		require.NoError(t, err)
		assert.Len(t, waiting, 2)
		again, err := h.S.Shift.Use(h.Ctx, fixture.Crew, u.ID)
		require.NoError(t, err)
		assert.Equal(t, u, again)
		h.Verify()
	})
}

func TestUseKeyCountsOnce(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	_, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 1}), "key-1")
	require.NoError(t, err)
	_, err = h.S.Shift.RecordUse(h.Ctx, fixture.Crew, h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 1}), "key-1")
	inventorytest.RequireKind(t, inventory.Conflict, err)
	assert.Equal(t, 5, h.Holds("N-01")[h.Dressings.ID])
}

// TestUseFromTheTrainingBag: training stock that is used up is gone, and never
// counted for issue.
func TestUseFromTheTrainingBag(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	given := h.Move(h.Dressings.ID, 3, "NORTH-STORE", "T-01", inventory.ReasonToTraining)
	u := h.Use(inventory.UseLine{LotID: given.IntoLotID, Qty: 2})
	u.Bag, u.SeenPosition = "T-01", h.Bag("T-01").Position
	assert.Equal(t, inventory.StatusAccepted, h.RecordUse(u).Status)
	assert.Equal(t, map[int64]int{given.IntoLotID: 1}, h.Holds("T-01"))
	h.Verify()
}
