package shift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

// TestAway: what is away at the actor's stations, overdue first, then by the
// day due back, none last; what has come back whole is listed no longer.
func TestAway(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		send := func(where, due string) shift.AwayPlace {
			p, err := h.S.Shift.SendAway(h.Ctx, fixture.Crew, shift.AwayTrip{From: "n-01", Where: where,
				DueBack: inventorytest.Day(due), Lines: []shift.AwayLine{{LotID: h.Dressings.ID, Qty: 1}}})
			require.NoError(t, err)
			return p
		}
		some := send("ward 1", "")
		late, early := send("ward 2", "2027-06-20"), send("ward 3", "2027-06-16")
		away := func(by inventory.Actor, stations ...string) []string {
			all, err := h.S.Shift.Away(h.Ctx, by, stations)
			require.NoError(t, err)
			out := []string{}
			for _, a := range all {
				out = append(out, map[bool]string{true: "overdue "}[a.Overdue]+a.Name)
			}
			return out
		}
		assert.Equal(t, []string{"ward 3", "ward 2", "ward 1"}, away(fixture.Crew))
		h.Pass(3 * 24 * time.Hour)
		assert.Equal(t, []string{"overdue ward 3", "ward 2", "ward 1"}, away(fixture.Keeper, "NORTH"))
		assert.Empty(t, away(fixture.Keeper, "SOUTH"))
		rest, err := h.S.Shift.ComeBack(h.Ctx, fixture.Crew, early.Code, []shift.ReturnLine{{LotID: early.Lots[0].LotID,
			Qty: 1}})
		require.NoError(t, err)
		assert.Empty(t, rest.Lots)
		assert.Equal(t, []string{"ward 2", "ward 1"}, away(fixture.Crew))
		assert.Equal(t, []any{"DRESSING", "Dressing, plain", "B1", 1, false}, []any{late.Lots[0].Item, late.Lots[0].Name,
			late.Lots[0].BatchNo, late.Lots[0].Qty, late.Lots[0].Inspects})
		assert.NotEqual(t, some.Code, late.Code, "each trip is a place of its own")
		_, err = h.S.Shift.Away(h.Ctx, fixture.Crew, []string{"SOUTH"})
		inventorytest.RequireKind(t, inventory.Forbidden, err)
		h.Verify()
	})
}

// TestCheckRecord: the checks that the list asks for, made and missed, of the
// bags at one's stations, the most missed first; a bag out of service owes none.
func TestCheckRecord(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t)) // its seal is set on the first day, and looked at every 24 hours
	h.Pass(47 * time.Hour)
	h.Record(fixture.SealCheck(h.Bag("N-01").Position, "101"))
	h.Pass(time.Hour)
	rec, err := h.S.Shift.CheckRecord(h.Ctx, fixture.Manager, nil, 7)
	require.NoError(t, err)
	assert.Equal(t, []any{7, h.Now.Add(-7 * 24 * time.Hour)}, []any{rec.Days, rec.Since})
	require.Len(t, rec.Bags, 4)
	first := rec.Bags[0]
	assert.Equal(t, []any{"N-01", 24, 30, 2, 1, 1, 0}, []any{first.Bag, first.SealEvery, first.FullEvery, first.SealDone,
		first.SealMissed, first.FullDone, first.FullMissed}, "set, missed a day later, then seen")
	assert.Equal(t, []inventory.Instant{h.Now.Add(-25 * time.Hour)}, first.Seals.Missed)
	assert.Equal(t, []string{"N-02", "S-01", "T-01"}, []string{rec.Bags[1].Bag, rec.Bags[2].Bag, rec.Bags[3].Bag})
	assert.Zero(t, rec.Bags[1].Missed(), "nothing was due before the first look")
	h.Retire("N-02", "")
	rec, err = h.S.Shift.CheckRecord(h.Ctx, fixture.Manager, []string{"NORTH"}, 1)
	require.NoError(t, err)
	assert.Equal(t, []any{"N-01", 1, 0}, []any{rec.Bags[0].Bag, rec.Bags[0].SealDone, rec.Bags[0].SealMissed})
	require.Len(t, rec.Bags, 2)
	for kind, by := range map[inventory.ErrorKind]inventory.Actor{inventory.Forbidden: fixture.Crew,
		inventory.NotFound: fixture.Manager} {
		_, err := h.S.Shift.CheckRecord(h.Ctx, by, []string{"WEST"}, 7)
		inventorytest.RequireKind(t, kind, err)
	}
}
