package shift_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

// TestSaidToBe: what was recorded under the name of somebody who was not signed in waits and counts as reported, until
// they confirm it; what else is in its way stays in its way. The same key counts once, whoever sends it.
func TestSaidToBe(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		jo := inventory.Actor{Name: "Jo", Role: inventory.Crew, Stations: fixture.Crew.Stations}
		use := inventory.Use{Bag: "N-01", Incident: "I-1", SeenPosition: h.Bag("N-01").Position, By: "Jo",
			Lines: []inventory.UseLine{{LotID: h.Dressings.ID, Qty: 2}}}
		had := h.Holds("N-01")[h.Dressings.ID]
		u, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, use, "key")
		require.NoError(t, err)
		assert.Equal(t, []any{"Jo", fixture.Crew.Name, inventory.StatusToReview, "said to be Jo"},
			[]any{u.By, u.SentBy, u.Status, u.ReviewBecause.String()})
		assert.Equal(t, had, h.Holds("N-01")[h.Dressings.ID])
		assert.Contains(t, inventorytest.Findings(h.Readiness("N-01")), "warn report_under_review  0 2  ")
		use.By = ""
		_, err = h.S.Shift.RecordUse(h.Ctx, jo, use, "key")
		inventorytest.RequireKind(t, inventory.Conflict, err)

		late := use
		late.By, late.Incident, late.SeenPosition = "Jo", "I-2", 0
		l, err := h.S.Shift.RecordUse(h.Ctx, fixture.Crew, late, "late")
		require.NoError(t, err)

		said, err := h.S.Shift.SaidToBe(h.Ctx, jo)
		require.NoError(t, err)
		assert.Equal(t, 2, said.Len())
		said, err = h.S.Shift.SaidToBe(h.Ctx, fixture.Crew)
		require.NoError(t, err)
		assert.Zero(t, said.Len())
		_, err = h.S.Shift.ConfirmUse(h.Ctx, fixture.Crew, u.ID)
		inventorytest.RequireKind(t, inventory.Conflict, err)
		for _, c := range []struct {
			id     int64
			status inventory.RecordStatus
		}{{u.ID, inventory.StatusAccepted}, {l.ID, inventory.StatusToReview}} {
			x, err := h.S.Shift.ConfirmUse(h.Ctx, jo, c.id)
			require.NoError(t, err)
			assert.Equal(t, c.status, x.Status)
			x, err = h.S.Shift.Use(h.Ctx, jo, c.id)
			require.NoError(t, err)
			assert.Empty(t, x.SentBy)
			_, err = h.S.Shift.ConfirmUse(h.Ctx, jo, c.id)
			inventorytest.RequireKind(t, inventory.Conflict, err)
		}
		check := h.FullCheck()
		check.SeenPosition, check.By, check.SealSet = h.Bag("N-01").Position, "Jo", ""
		check.Lines = nil
		for lot, n := range h.Holds("N-01") {
			check.Lines = append(check.Lines, inventory.CheckLine{LotID: lot, Counted: n})
		}
		k, err := h.S.Shift.RecordCheck(h.Ctx, fixture.Crew, check, "check")
		require.NoError(t, err)
		require.Equal(t, inventory.StatusToReview, k.Status)
		k, err = h.S.Shift.ConfirmCheck(h.Ctx, jo, k.ID)
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, k.Status)
		assert.Equal(t, had-2, h.Holds("N-01")[h.Dressings.ID])
		h.Verify()
	})
}
