package ledger_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

// TestMoveStory takes a batch through the places of two stations.
func TestMoveStory(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		lot := h.Receive("DRESSING", "B1", 20, "2028-02")
		h.Move(lot.ID, 8, "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer)
		h.Move(lot.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.Move(lot.ID, 1, "N-01", "N-REPAIR", inventory.ReasonAway)
		h.Move(lot.ID, 1, "N-REPAIR", "N-01", inventory.ReasonReturn)
		h.Move(lot.ID, 2, "N-01", "used", inventory.ReasonUsed)
		h.Move(lot.ID, 1, "N-01", "lost", inventory.ReasonLost)
		h.Move(lot.ID, 3, "SOUTH-STORE", "SOUTH-QUARANTINE", inventory.ReasonQuarantine)
		h.Move(lot.ID, 1, "SOUTH-QUARANTINE", "SOUTH-STORE", inventory.ReasonRelease)
		h.Move(lot.ID, 2, "SOUTH-QUARANTINE", "disposed", inventory.ReasonDisposed)
		for place, want := range map[string]int{"NORTH-STORE": 8, "SOUTH-STORE": 6, "N-01": 1} {
			assert.Equal(t, map[int64]int{lot.ID: want}, h.Holds(place), place)
		}
		for _, place := range []string{"N-REPAIR", "SOUTH-QUARANTINE"} {
			assert.Empty(t, h.Holds(place))
		}
		h.Verify()
	})
}

// TestMoveAllOrNone: the second of three movements cannot be, so none happens.
func TestMoveAllOrNone(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		lot := h.Receive("DRESSING", "B1", 5, "2028-02")
		before := h.Everything()
		stow := inventory.Movement{LotID: lot.ID, Qty: 3, From: "NORTH-STORE", To: "N-01", Reason: inventory.ReasonStow}
		_, err := h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{stow, stow, {LotID: lot.ID, Qty: 1,
			From: "N-01",
			To:   "used", Reason: inventory.ReasonUsed}})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		assert.ErrorContains(t, err, "only 2 in NORTH-STORE")
		assert.Equal(t, before, h.Everything())

		// Balances hold in the order of recording: what comes first may be
		// taken by what comes next.
		_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{stow, {LotID: lot.ID, Qty: 3, From: "N-01",
			To:     "used",
			Reason: inventory.ReasonUsed}})
		require.NoError(t, err)
		_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{{LotID: lot.ID, Qty: 1, From: "N-01", To: "used",
			Reason: inventory.ReasonUsed}, stow})
		inventorytest.RequireKind(t, inventory.Conflict, err)
		h.Verify()
	})
}

func TestMoveRefuses(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	lot := h.Receive("DRESSING", "B1", 5, "2028-02")
	tq := h.Receive("TQ", "S1", 1, "")
	base := inventory.Movement{LotID: lot.ID, Qty: 1, From: "NORTH-STORE", To: "N-01", Reason: inventory.ReasonStow}
	for _, c := range []struct {
		name   string
		kind   inventory.ErrorKind
		change func(*inventory.Movement)
	}{
		{"not found", inventory.Invalid, func(m *inventory.Movement) { m.LotID = 999 }},
		{"not found", inventory.Invalid, func(m *inventory.Movement) { m.To = "NOWHERE" }},
		{"no units", inventory.Invalid, func(m *inventory.Movement) { m.Qty = 0 }},
		{"fewer than none", inventory.Invalid, func(m *inventory.Movement) { m.Qty = -1 }},
		{"far too many", inventory.Invalid, func(m *inventory.Movement) { m.Qty = inventory.MaxQty + 1 }},
		{"more than there is", inventory.Conflict, func(m *inventory.Movement) { m.Qty = 6 }},
		{"out of an empty place", inventory.Conflict, func(m *inventory.Movement) {
			m.From, m.To, m.Reason = "N-02", "N-01", inventory.ReasonTransfer
		}},
		{"from the supplier", inventory.Conflict, func(m *inventory.Movement) {
			m.From, m.To, m.Reason = "supplier", "NORTH-STORE", inventory.ReasonReceipt
		}},
		{"to the same place", inventory.Conflict, func(m *inventory.Movement) {
			m.To, m.Reason = "NORTH-STORE",
				inventory.ReasonTransfer
		}},
		{"with the wrong reason", inventory.Conflict, func(m *inventory.Movement) { m.Reason = inventory.ReasonReturn }},
		{"in the future", inventory.Invalid, func(m *inventory.Movement) {
			m.HappenedAt = inventorytest.Noon.Add(
				time.Hour)
		}},
		{"with a cause that it has not", inventory.Invalid, func(m *inventory.Movement) { m.Cause = inventory.CauseExpired }},
		{"disposed without a cause", inventory.Invalid, func(m *inventory.Movement) {
			m.To, m.Reason = "disposed",
				inventory.ReasonDisposed
		}},
		{"back from used", inventory.Conflict, func(m *inventory.Movement) {
			m.From, m.Reason = "used",
				inventory.ReasonReturn
		}},
		{"a note that is no text", inventory.Invalid, func(m *inventory.Movement) { m.Note = "\xff" }},
		{"to training by another reason", inventory.Conflict, func(m *inventory.Movement) {
			m.To, m.Reason = "NORTH-TRAINING",
				inventory.ReasonTransfer
		}},
		{"two of one device", inventory.Invalid, func(m *inventory.Movement) { m.LotID, m.Qty = tq.ID, 2 }},
		{"correcting nothing", inventory.Invalid, func(m *inventory.Movement) { m.Reason = inventory.ReasonCorrection }},
		{"correcting with another reason", inventory.Invalid, func(m *inventory.Movement) { m.Corrects = 1 }},
		{"correcting what is not there", inventory.Invalid, func(m *inventory.Movement) {
			m.Reason,
				m.Corrects = inventory.ReasonCorrection, 999
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := base
			c.change(&m)
			h.T = t
			h.Refuse(c.kind, m)
		})
	}
	h.T = t
	_, err := h.S.Ledger.Move(h.Ctx, fixture.Keeper, nil)
	inventorytest.RequireFields(t, err, "movements")
	_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{base, {LotID: lot.ID, From: "NORTH-STORE",
		To:     "N-01",
		Reason: inventory.ReasonStow}})
	inventorytest.RequireFields(t, err, "movements[1].qty")
	_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{{LotID: lot.ID, Qty: 1, From: "NORTH-STORE",
		To:     "GONE",
		Reason: inventory.ReasonStow}})
	inventorytest.RequireFields(t, err, "movements[0].to")
	h.Verify()
}

// TestMoveIntoTrainingForGood: given to training, units become a lot of their
// own; the rest of the batch stays fit for issue, and nothing brings them back.
func TestMoveIntoTrainingForGood(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		lot := h.Receive("DRESSING", "B1", 50, "2028-02")
		given := h.Move(lot.ID, 5, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
		assert.NotEqual(t, lot.ID, given.IntoLotID)
		assert.Equal(t, map[int64]int{lot.ID: 45}, h.Holds("NORTH-STORE"), "forty-five stay fit for issue")
		assert.Equal(t, map[int64]int{given.IntoLotID: 5}, h.Holds("NORTH-TRAINING"))

		story, err := h.S.Stock.Lot(h.Ctx, fixture.Keeper, lot.ID)
		require.NoError(t, err)
		require.Len(t, story.SameBatch, 1, "a trace of the batch finds all of them")
		assert.True(t, story.SameBatch[0].Training)
		assert.Equal(t, lot.ID, story.SameBatch[0].Parent)
		assert.Len(t, story.History, 2)

		h.Refuse(inventory.Conflict, inventory.Movement{LotID: given.IntoLotID, Qty: 1, From: "NORTH-TRAINING",
			To: "NORTH-STORE", Reason: inventory.ReasonTransfer})
		h.Refuse(inventory.Conflict, inventory.Movement{LotID: given.IntoLotID, Qty: 5, From: "NORTH-TRAINING",
			To: "NORTH-STORE", Reason: inventory.ReasonCorrection, Corrects: given.ID})
		lost := h.Move(given.IntoLotID, 1, "NORTH-TRAINING", "lost", inventory.ReasonLost)
		h.Refuse(inventory.Conflict, inventory.Movement{LotID: lost.IntoLotID, Qty: 1, From: "found", To: "NORTH-STORE",
			Reason: inventory.ReasonFound})
		h.Move(lost.IntoLotID, 1, "found", "NORTH-TRAINING", inventory.ReasonFound) // found again, it stays training

		tablets := h.Receive("TABLET", "B2", 5, "2028-02")
		h.Refuse(inventory.Conflict, inventory.Movement{LotID: tablets.ID, Qty: 1, From: "NORTH-STORE", To: "NORTH-TRAINING",
			Reason: inventory.ReasonToTraining})
		h.Verify()
	})
}

// TestMoveStartsClocks: stowing and riding exposed split the units concerned
// off into lots with clocks of their own.
func TestMoveStartsClocks(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		lot := h.Receive("GAUZE", "B1", 10, "2030-01")
		stowed := h.Move(lot.ID, 3, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.Pass(24 * time.Hour)
		same := h.Move(stowed.IntoLotID, 1, "N-01", "NORTH-STORE", inventory.ReasonReturn)
		assert.Equal(t, stowed.IntoLotID, same.IntoLotID, "its clock runs on in the store")
		riding := h.Move(lot.ID, 2, "NORTH-STORE", "N-BELT", inventory.ReasonStow)
		h.Pass(9 * 24 * time.Hour)
		back := h.Move(riding.IntoLotID, 2, "N-BELT", "NORTH-STORE", inventory.ReasonReturn)

		story, err := h.S.Stock.Lot(h.Ctx, fixture.Keeper, lot.ID)
		require.NoError(t, err)
		got := map[int64]string{story.ID: story.UsableThrough.String() + " " + string(story.Rule)}
		for _, l := range story.SameBatch {
			got[l.ID] = l.UsableThrough.String() + " " + string(l.Rule)
		}
		assert.Equal(t, map[int64]string{
			lot.ID: "2030-01-31 printed", stowed.IntoLotID: "2028-06-14 stowed", riding.IntoLotID: "2027-07-14 exposed",
			back.IntoLotID: "2030-01-31 printed",
		}, got)
		lots, err := h.S.Stock.Lots(h.Ctx, fixture.Keeper, inventory.LotFilter{Item: "GAUZE"},
			inventorytest.Day("2028-07-01"), inventory.Page{})
		require.NoError(t, err)
		require.Len(t, lots, 1, "those with units that end before a day")
		assert.Equal(t, stowed.IntoLotID, lots[0].ID)

		onBelt, err := h.S.Stock.Lot(h.Ctx, fixture.Keeper, back.IntoLotID)
		require.NoError(t, err)
		assert.Equal(t, 10, onBelt.ExposedDays, "the days carried are kept")
		assert.Equal(t, map[int64]int{lot.ID: 5, stowed.IntoLotID: 1, back.IntoLotID: 2}, h.Holds("NORTH-STORE"))
		h.Verify()
	})
}

// TestMoveCorrection: a correction names, and exactly undoes, one movement,
// and can be made once.
func TestMoveCorrection(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		lot := h.Receive("GAUZE", "B1", 10, "2030-01")
		stow := h.Move(lot.ID, 3, "NORTH-STORE", "N-01", inventory.ReasonStow)
		used := h.Move(stow.IntoLotID, 2, "N-01", "used", inventory.ReasonUsed)
		undo := func(m inventory.Movement) inventory.Movement {
			return inventory.Movement{LotID: m.IntoLotID, Qty: m.Qty, From: m.To, To: m.From, Reason: inventory.ReasonCorrection,
				Corrects: m.ID, Note: "typed twice"}
		}
		for name, change := range map[string]func(*inventory.Movement){
			"less": func(m *inventory.Movement) { m.Qty = 1 }, "elsewhere": func(m *inventory.Movement) { m.To = "NORTH-STORE" },
			"another lot": func(m *inventory.Movement) { m.LotID = lot.ID }, "the same way": func(m *inventory.Movement) {
				m.From, m.To = m.To, m.From
			},
		} {
			m := undo(used)
			change(&m)
			before := h.Everything()
			_, err := h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{m})
			inventorytest.RequireKind(t, inventory.Conflict, err)
			assert.Equal(t, before, h.Everything(), name)
		}
		h.Refuse(inventory.Conflict, undo(stow)) // two of the three are gone

		back, err := h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{undo(used)})
		require.NoError(t, err)
		assert.Equal(t, map[int64]int{stow.IntoLotID: 3}, h.Holds("N-01"))
		h.Refuse(inventory.Conflict, undo(used))    // once
		h.Refuse(inventory.Conflict, undo(back[0])) // and not back again

		_, err = h.S.Ledger.Move(h.Ctx, fixture.Keeper, []inventory.Movement{undo(stow)})
		require.NoError(t, err)
		assert.Equal(t, map[int64]int{lot.ID: 10}, h.Holds("NORTH-STORE"), "its clock is undone as well")
		h.Verify()
	})
}

// TestMoveFound: a serial number known as lost is found from lost; one that was
// used or thrown away is not found at all; units of a batch come from found.
func TestMoveFound(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.New(t, s)
		found := func(lot int64, from string) inventory.Movement {
			return inventory.Movement{LotID: lot, Qty: 1, From: from, To: "NORTH-STORE", Reason: inventory.ReasonFound}
		}
		tq := h.Receive("TQ", "S1", 1, "")
		h.Refuse(inventory.Conflict, found(tq.ID, "found")) // it is in one place already
		h.Refuse(inventory.Conflict, found(tq.ID, "lost"))
		h.Move(tq.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.Move(tq.ID, 1, "N-01", "lost", inventory.ReasonLost)
		h.Refuse(inventory.Conflict, found(tq.ID, "found"))
		h.Move(tq.ID, 1, "lost", "NORTH-STORE", inventory.ReasonFound)
		assert.Equal(t, map[int64]int{tq.ID: 1}, h.Holds("NORTH-STORE"))
		h.Move(tq.ID, 1, "NORTH-STORE", "used", inventory.ReasonUsed)
		h.Refuse(inventory.Conflict, found(tq.ID, "found"))
		h.Refuse(inventory.Conflict, found(tq.ID, "lost"))

		lot := h.Receive("DRESSING", "B1", 5, "2028-02")
		h.Move(lot.ID, 2, "NORTH-STORE", "lost", inventory.ReasonLost)
		h.Refuse(inventory.Conflict, found(lot.ID, "lost"))
		h.Move(lot.ID, 3, "found", "N-01", inventory.ReasonFound)
		assert.Equal(t, map[int64]int{lot.ID: 3}, h.Holds("N-01"))
		h.Verify()
	})
}

func TestMoveAccess(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	lot := h.Receive("DRESSING", "B1", 5, "2028-02")
	m := []inventory.Movement{{LotID: lot.ID, Qty: 1, From: "NORTH-STORE", To: "SOUTH-STORE",
		Reason: inventory.ReasonTransfer}}
	north := inventory.Actor{Name: "Nor", Role: inventory.Quartermaster, Stations: []string{"NORTH"}}
	for by, kind := range map[*inventory.Actor]inventory.ErrorKind{&fixture.Nobody: inventory.SignedOut,
		&fixture.Crew: inventory.Forbidden, &fixture.Manager: inventory.Forbidden, &north: inventory.Forbidden} {
		_, err := h.S.Ledger.Move(h.Ctx, *by, m)
		inventorytest.RequireKind(t, kind, err)
	}
	_, err := h.S.Ledger.Movements(h.Ctx, fixture.Crew, inventory.MovementFilter{}, inventory.Page{})
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	ms, err := h.S.Ledger.Movements(h.Ctx, inventory.Actor{Name: "Sou", Role: inventory.Quartermaster,
		Stations: []string{"SOUTH"}}, inventory.MovementFilter{}, inventory.Page{})
	require.NoError(t, err)
	assert.Empty(t, ms, "another station's history is not shown")
	_, err = h.S.Ledger.Movements(h.Ctx, north, inventory.MovementFilter{Stations: []string{"SOUTH"}}, inventory.Page{})
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}
