package inventory_test

import (
	"reflect"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

// TestCountsByPouch: where the crew say what was expected in each pouch, each
// difference keeps its own reason; where they do not, two reasons of one lot
// are refused.
func TestCountsByPouch(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		red := inventory.CheckLine{LotID: h.dressings.ID, Counted: 3, Reason: inventory.CountUsed, Incident: "I-7"}
		blue := inventory.CheckLine{LotID: h.dressings.ID, Counted: 1, Reason: inventory.CountDamaged}
		check := func(red, blue inventory.CheckLine) inventory.Check {
			c := h.fullCheck()
			lines := []inventory.CheckLine{red, blue}
			for _, l := range c.Lines {
				if l.LotID != h.dressings.ID {
					lines = append(lines, l)
				}
			}
			c.Lines = lines
			return c
		}
		h.refuseCheck(check(red, blue), "lines[1].reason")
		red.Expected, blue.Expected = ptr(4), ptr(1)
		h.refuseCheck(check(red, blue), "lines[1].reason") // five are not the six that lay there
		blue.Expected = ptr(-1)
		h.refuseCheck(check(red, blue), "lines[1].expected")
		blue.Expected = ptr(2)
		c := h.record(check(red, blue))
		require.Equal(t, inventory.StatusAccepted, c.Status, c.ReviewBecause)
		assert.Equal(t, 4, h.holds("N-01")[h.dressings.ID])
		ms, err := h.s.Ledger.Movements(h.ctx, admin, inventory.MovementFilter{LotID: h.dressings.ID, Newest: true},
			inventory.Page{Limit: 2})
		require.NoError(t, err)
		var got [][]any
		for _, m := range ms {
			got = append(got, []any{m.Qty, m.To, m.Reference})
		}
		assert.ElementsMatch(t, [][]any{{1, "used", "I-7"}, {1, "disposed", ""}}, got)
		h.verify()
	})
}

// TestCountsByPouchWait: a waiting check counted by pouch is shown whole and
// posts each difference with its own reason.
func TestCountsByPouchWait(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	c := h.fullCheck()
	for i, l := range c.Lines {
		if l.LotID == h.dressings.ID {
			c.Lines[i] = inventory.CheckLine{LotID: l.LotID, Counted: 3, Expected: ptr(4), Reason: inventory.CountUsed}
		}
	}
	c.Lines = append(c.Lines, inventory.CheckLine{LotID: h.dressings.ID, Counted: 1, Expected: ptr(2),
		Reason: inventory.CountDamaged})
	h.move(h.dressings.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
	c = h.record(c)
	require.Equal(t, inventory.StatusToReview, c.Status)
	beside, err := h.s.Shift.ReviewCheck(h.ctx, keeper, c.ID)
	require.NoError(t, err)
	for _, r := range beside.Rows {
		if r.Lot.ID == h.dressings.ID {
			assert.Equal(t, []int{6, 4, 7, 5}, []int{r.Expected, r.Counted, r.Now, r.Posted})
		}
	}
	_, err = h.s.Shift.DecideCheck(h.ctx, keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
		Reason: "as seen"})
	require.NoError(t, err)
	assert.Equal(t, 5, h.holds("N-01")[h.dressings.ID])
	h.verify()
}

// TestLimitsAreOne: the limits in the document of the API are those that the
// use cases hold to.
func TestLimitsAreOne(t *testing.T) {
	for v, most := range map[any]map[string]int{
		inventory.CheckLine{}:   {"Counted": inventory.MaxQty, "Expected": inventory.MaxQty},
		inventory.FoundLine{}:   {"Qty": inventory.MaxLineQty},
		inventory.UseLine{}:     {"Qty": inventory.MaxLineQty},
		inventory.RestockLine{}: {"Qty": inventory.MaxQty},
		inventory.TakeOutLine{}: {"Qty": inventory.MaxQty},
		inventory.Receipt{}:     {"Qty": inventory.MaxQty},
	} {
		for name, n := range most {
			f, ok := reflect.TypeOf(v).FieldByName(name)
			require.True(t, ok, name)
			assert.Equal(t, strconv.Itoa(n), f.Tag.Get("maximum"), "%T.%s", v, name)
		}
	}
}

// TestAdjustedUseTakesTypedCodes: the bag that a use came from may be typed as
// anywhere else.
func TestAdjustedUseTakesTypedCodes(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	h.move(h.dressings.ID, 2, "NORTH-STORE", "N-02", inventory.ReasonStow)
	// before its last restock
	u, err := h.s.Shift.RecordUse(h.ctx, crew, inventory.Use{Bag: "N-01", Incident: "I-1", SeenPosition: 1,
		Lines: []inventory.UseLine{{LotID: h.dressings.ID, Qty: 1}}}, "")
	require.NoError(t, err)
	require.Equal(t, inventory.StatusToReview, u.Status)
	u, err = h.s.Shift.DecideUse(h.ctx, keeper, u.ID, shift.UseDecision{Decision: inventory.DecideEdit,
		Reason: "from the other bag",
		Lines:  []inventory.UseLine{{LotID: h.dressings.ID, Qty: 1, CameFrom: " n-02"}}})
	require.NoError(t, err)
	assert.Equal(t, "N-02", u.Decision.Used[0].CameFrom)
	assert.Equal(t, 1, h.holds("N-02")[h.dressings.ID])
}
