package shift_test

import (
	"reflect"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

// TestCountsByPouch: where the crew say what was expected in each pouch, each
// difference keeps its own reason; where they do not, two reasons of one lot
// are refused.
func TestCountsByPouch(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		red := inventory.CheckLine{LotID: h.Dressings.ID, Counted: 3, Reason: inventory.CountUsed, Incident: "I-7"}
		blue := inventory.CheckLine{LotID: h.Dressings.ID, Counted: 1, Reason: inventory.CountDamaged}
		check := func(red, blue inventory.CheckLine) inventory.Check {
			c := h.FullCheck()
			lines := []inventory.CheckLine{red, blue}
			for _, l := range c.Lines {
				if l.LotID != h.Dressings.ID {
					lines = append(lines, l)
				}
			}
			c.Lines = lines
			return c
		}
		h.RefuseCheck(check(red, blue), "lines[1].reason")
		red.Expected, blue.Expected = inventorytest.Ptr(4), inventorytest.Ptr(1)
		h.RefuseCheck(check(red, blue), "lines[1].reason") // five are not the six that lay there
		blue.Expected = inventorytest.Ptr(-1)
		h.RefuseCheck(check(red, blue), "lines[1].expected")
		blue.Expected = inventorytest.Ptr(2)
		c := h.Record(check(red, blue))
		require.Equal(t, inventory.StatusAccepted, c.Status, c.ReviewBecause.String())
		assert.Equal(t, 4, h.Holds("N-01")[h.Dressings.ID])
		ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Admin, inventory.MovementFilter{LotID: h.Dressings.ID, Newest: true},
			inventory.Page{Limit: 2})
		require.NoError(t, err)
		var got [][]any
		for _, m := range ms {
			got = append(got, []any{m.Qty, m.To, m.Reference})
		}
		assert.ElementsMatch(t, [][]any{{1, "used", "I-7"}, {1, "disposed", ""}}, got)
		h.Verify()
	})
}

// TestCountsByPouchWait: a waiting check counted by pouch is shown whole and
// posts each difference with its own reason.
func TestCountsByPouchWait(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	c := h.FullCheck()
	for i, l := range c.Lines {
		if l.LotID == h.Dressings.ID {
			c.Lines[i] = inventory.CheckLine{LotID: l.LotID, Counted: 3, Expected: inventorytest.Ptr(4),
				Reason: inventory.CountUsed}
		}
	}
	c.Lines = append(c.Lines, inventory.CheckLine{LotID: h.Dressings.ID, Counted: 1, Expected: inventorytest.Ptr(2),
		Reason: inventory.CountDamaged})
	h.Move(h.Dressings.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
	c = h.Record(c)
	require.Equal(t, inventory.StatusToReview, c.Status)
	beside, err := h.S.Shift.ReviewCheck(h.Ctx, fixture.Keeper, c.ID)
	require.NoError(t, err)
	for _, r := range beside.Rows {
		if r.Lot.ID == h.Dressings.ID {
			assert.Equal(t, []int{6, 4, 7, 5}, []int{r.Expected, r.Counted, r.Now, r.Posted})
		}
	}
	_, err = h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
		Reason: "as seen"})
	require.NoError(t, err)
	assert.Equal(t, 5, h.Holds("N-01")[h.Dressings.ID])
	h.Verify()
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
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	h.Move(h.Dressings.ID, 2, "NORTH-STORE", "N-02", inventory.ReasonStow)
	// before its last restock
	u, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, inventory.Use{Bag: "N-01", Incident: "I-1", SeenPosition: 1,
		Lines: []inventory.UseLine{{LotID: h.Dressings.ID, Qty: 1}}}, "")
	require.NoError(t, err)
	require.Equal(t, inventory.StatusToReview, u.Status)
	u, err = h.S.Shift.DecideUse(h.Ctx, fixture.Keeper, u.ID, shift.UseDecision{Decision: inventory.DecideEdit,
		Reason: "from the other bag",
		Lines:  []inventory.UseLine{{LotID: h.Dressings.ID, Qty: 1, CameFrom: " n-02"}}})
	require.NoError(t, err)
	assert.Equal(t, "N-02", u.Decision.Used[0].CameFrom)
	assert.Equal(t, 1, h.Holds("N-02")[h.Dressings.ID])
}
