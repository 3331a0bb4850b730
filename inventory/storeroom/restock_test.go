package storeroom_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/stock"
	"stowkeeper/inventory/store/storetest"
)

// TestRestockStory: after a use, the pick list is made, confirmed by lot, and
// the bag is ready again; the shortage report shows each step.
func TestRestockStory(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		soon := h.Receive("DRESSING", "B0", 3, "2027-09")
		shortages := func() []string {
			rep, err := h.S.Report.Shortages(h.Ctx, fixture.Manager, []string{"NORTH"}, lists.Outlook{Horizon: 30})
			require.NoError(t, err)
			var rows []string
			for _, r := range inventorytest.ShortRows(rep.Rows) {
				if r[:10] == "NORTH N-01" {
					rows = append(rows, r)
				}
			}
			return rows
		}
		assert.Empty(t, shortages())
		h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 5}))
		assert.Equal(t, []string{
			`NORTH N-01 DRESSING "Red" par 4 min 2 usable 1 short 3 below true critical false`,
			`NORTH N-01 DRESSING "Blue" par 2 min 0 usable 0 short 2 below false critical false`,
		}, shortages())

		pl, err := h.S.Storeroom.RestockPlan(h.Ctx, fixture.Keeper, "N-01", lists.Outlook{})
		require.NoError(t, err)
		in, out, unfilled := inventorytest.Picks(pl.PickList)
		assert.Equal(t, []string{"DRESSING/Red 5×3 from NORTH-STORE claimed by N-02", "DRESSING/Blue 1×2 from NORTH-STORE"},
			in, "first expired first out; the minimum of another bag comes before this one's par")
		assert.Empty(t, out)
		assert.Empty(t, unfilled)

		in1 := inventory.Restock{Bag: "n-01", SealSet: "103", Note: "after I-7"}
		for _, p := range pl.Lines {
			in1.Lines = append(in1.Lines, inventory.RestockLine{LotID: p.LotID, Qty: p.Qty, From: p.From})
		}
		done, err := h.S.Storeroom.RecordRestock(h.Ctx, fixture.Keeper, in1, pl.Position)
		require.NoError(t, err)
		assert.Equal(t, []any{"N-01", "Quinn", h.Now}, []any{done.Bag, done.By, done.RecordedAt})
		assert.Equal(t, inventory.Ready, h.Readiness("N-01").State)
		assert.Equal(t, 3, h.Holds("N-01")[soon.ID])
		assert.Empty(t, shortages())
		b := h.Bag("N-01")
		assert.Equal(t, []any{"103", inventory.SealIntact, h.Now}, []any{b.Seal, b.SealState, b.LastRestock})
		list, err := h.S.Storeroom.Restocks(h.Ctx, fixture.Crew, "N-01", inventory.Page{})
		require.NoError(t, err)
		require.Len(t, list, 2)
		assert.Equal(t, done, list[0], "newest first")

		_, err = h.S.Storeroom.RecordRestock(h.Ctx, fixture.Keeper, in1, pl.Position)
		inventorytest.RequireKind(t, inventory.Stale, err)
		h.Verify()
	})
}

// TestRestockFromPaper: the bag was restocked at night by a printed list, and it is entered in the morning: units, seal
// and the bag's own record have the time on the paper, which may not lie before what is known of the bag since.
func TestRestockFromPaper(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 2}))
		used := h.Now
		h.Pass(8 * time.Hour)
		in := inventory.Restock{Bag: "N-01", SealSet: "103", HappenedAt: used.Add(-time.Minute),
			Lines: []inventory.RestockLine{{LotID: h.Dressings.ID, Qty: 2}}}
		_, err := h.S.Storeroom.RecordRestock(h.Ctx, fixture.Keeper, in, 0)
		inventorytest.RequireFields(t, err, "happened_at")
		in.HappenedAt = h.Now.Add(time.Hour)
		_, err = h.S.Storeroom.RecordRestock(h.Ctx, fixture.Keeper, in, 0)
		inventorytest.RequireFields(t, err, "happened_at")

		in.HappenedAt = used.Add(time.Hour)
		done, err := h.S.Storeroom.RecordRestock(h.Ctx, fixture.Keeper, in, 0)
		require.NoError(t, err)
		assert.Equal(t, []any{used.Add(time.Hour), h.Now}, []any{done.HappenedAt, done.RecordedAt})
		b := h.Bag("N-01")
		assert.Equal(t, []any{"103", used.Add(time.Hour), used.Add(time.Hour)}, []any{b.Seal, b.SealSeenAt, b.LastRestock})
		lot := h.Lot(h.Dressings.ID)
		last := lot.History[len(lot.History)-1]
		assert.Equal(t, []any{used.Add(time.Hour), h.Now}, []any{last.HappenedAt, last.RecordedAt})
		h.Verify()
	})
}

// TestRestockPlanOfOwnStation: the plan holds the checklist, and what lies in the stores of the bag's purpose at its
// own station; a bag that lies there claims its minimum before another's par.
func TestRestockPlanOfOwnStation(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	lot := h.Receive("DRESSING", "B1", 6, "2028-02")
	_, err := h.S.Ledger.Receive(h.Ctx, fixture.Keeper, inventory.Receipt{Place: "SOUTH-STORE", Item: "DRESSING",
		BatchNo: "B1", EndPrinted: "2028-02", EndWording: inventory.WordExpiry, Qty: 9})
	require.NoError(t, err)
	p, err := h.S.Storeroom.RestockPlan(h.Ctx, fixture.Keeper, "N-01", lists.Outlook{Horizon: -1})
	require.NoError(t, err)
	in, _, _ := inventorytest.Picks(p.PickList)
	assert.Equal(t, []string{"DRESSING/Red 1×4 from NORTH-STORE", "DRESSING/Blue 1×2 from NORTH-STORE claimed by N-02"},
		in)
	c, err := h.S.Shift.Checklist(h.Ctx, fixture.Keeper, "N-01", lists.Outlook{Horizon: -1})
	require.NoError(t, err)
	assert.Equal(t, c, p.Checklist)
	require.Len(t, p.Stored, 1)
	assert.Equal(t, []any{lot.ID, "2028-02-29", []stock.AtPlace{{Place: "NORTH-STORE", Qty: 6}}},
		[]any{p.Stored[0].ID, p.Stored[0].UsableThrough.String(), p.Stored[0].Where})
	p, err = h.S.Storeroom.RestockPlan(h.Ctx, fixture.Keeper, "T-01", lists.Outlook{})
	require.NoError(t, err)
	assert.Empty(t, p.Stored, "a training bag is not filled from stores for issue")
	_, err = h.Retire("N-02", "")
	require.NoError(t, err)
	_, err = h.S.Storeroom.RestockPlan(h.Ctx, fixture.Keeper, "N-02", lists.Outlook{})
	inventorytest.RequireFields(t, err, "bag")
}

func TestOneWalkForSeveralBags(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		h.Receive("DRESSING", "B0", 3, "2027-09")
		h.RecordUse(h.Use(inventory.UseLine{LotID: h.Dressings.ID, Qty: 5}))
		walk := func(by inventory.Actor, bags ...string) (out []string) {
			all, err := h.S.Storeroom.RestockPlans(h.Ctx, by, "NORTH", bags)
			require.NoError(t, err)
			for _, p := range all {
				in, _, _ := inventorytest.Picks(p.PickList)
				out = append(out, fmt.Sprint(p.Bag, in))
			}
			return out
		}
		both := walk(fixture.Keeper, "n-02", "N-01")
		require.Len(t, both, 2)
		assert.Equal(t, []string{"N-01[DRESSING/Red 5×1 from NORTH-STORE DRESSING/Red 1×2 from NORTH-STORE " +
			"DRESSING/Blue 1×2 from NORTH-STORE]", "N-02[DRESSING/Red 5×2 from NORTH-STORE DRESSING/Red 1×2 from NORTH-STORE " +
			"PEN/Blue 2×1 from NORTH-STORE DRESSING/Blue 1×2 from NORTH-STORE]"}, both,
			"the minimum of each before the par of any, nothing twice, and nobody on the walk has a claim on the other's")
		assert.Equal(t, both, walk(fixture.Keeper), "all bags of the station")
		assert.Equal(t, []string{"N-01[DRESSING/Red 5×3 from NORTH-STORE claimed by N-02 " +
			"DRESSING/Blue 1×2 from NORTH-STORE]"},
			walk(fixture.Keeper, "N-01"))

		_, err := h.S.Storeroom.RestockPlans(h.Ctx, fixture.Crew, "NORTH", nil)
		assert.Equal(t, inventory.Forbidden, inventory.KindOf(err))
		_, err = h.S.Storeroom.RestockPlans(h.Ctx, fixture.Keeper, "NOWHERE", nil)
		assert.Equal(t, inventory.NotFound, inventory.KindOf(err))
		_, err = h.S.Storeroom.RestockPlans(h.Ctx, fixture.Keeper, "", []string{"N-01", "N-09"})
		assert.Equal(t, inventory.NotFound, inventory.KindOf(err), "no bag is left out unsaid")
	})
}

// TestRestockTakesOutAndPutsIn: what comes out leaves first, to where the pick
// list says.
func TestRestockTakesOutAndPutsIn(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		h.Now = inventorytest.At("2028-03-01T09:00:00Z") // the day after the dressings ended
		fresh := h.Receive("DRESSING", "B9", 6, "2030-01")
		pl, err := h.S.Storeroom.RestockPlan(h.Ctx, fixture.Keeper, "N-01", lists.Outlook{})
		require.NoError(t, err)
		_, out, _ := inventorytest.Picks(pl.PickList)
		assert.Equal(t, []string{"1×6 to disposed disposed expired"}, out)
		in := inventory.Restock{Bag: "N-01", SealSet: "104", Lines: []inventory.RestockLine{{LotID: fresh.ID, Qty: 6}}}
		for _, x := range pl.TakeOut {
			in.TakeOut = append(in.TakeOut, inventory.TakeOutLine{LotID: x.LotID, Qty: x.Qty, To: x.To, Reason: x.Reason,
				Cause: x.Cause})
		}
		_, err = h.S.Storeroom.RecordRestock(h.Ctx, fixture.Keeper, in, pl.Position)
		require.NoError(t, err)
		held := h.Holds("N-01")
		assert.Equal(t, []int{0, 6}, []int{held[h.Dressings.ID], held[fresh.ID]})
		h.Verify()
	})
}

func TestRestockRefuses(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	refused := func(kind inventory.ErrorKind, in inventory.Restock, paths ...string) {
		t.Helper()
		before := h.Everything()
		in.Bag = "N-01"
		_, err := h.S.Storeroom.RecordRestock(h.Ctx, fixture.Keeper, in, 0)
		require.Equal(t, kind, inventory.KindOf(err), "%v", err)
		if kind == inventory.Invalid {
			inventorytest.RequireFields(t, err, paths...)
		}
		require.Equal(t, before, h.Everything())
	}
	line := func(l inventory.RestockLine) inventory.Restock {
		return inventory.Restock{Lines: []inventory.RestockLine{l}}
	}
	out := func(l inventory.TakeOutLine) inventory.Restock {
		return inventory.Restock{TakeOut: []inventory.TakeOutLine{l}}
	}
	d := h.Dressings.ID
	refused(inventory.Invalid, inventory.Restock{}, "lines")
	refused(inventory.Invalid, inventory.Restock{SealSet: "\xff", Note: "\x00"}, "seal_set", "note")
	refused(inventory.Invalid, line(inventory.RestockLine{LotID: d}), "lines[0].qty")
	refused(inventory.Invalid, line(inventory.RestockLine{LotID: 999, Qty: 1}), "lines[0].lot_id")
	refused(inventory.Invalid, line(inventory.RestockLine{LotID: d, Qty: 1, From: "GONE"}), "lines[0].from")
	refused(inventory.Invalid, line(inventory.RestockLine{LotID: d, Qty: 1, From: "found"}), "lines[0].from")
	refused(inventory.Conflict, line(inventory.RestockLine{LotID: d, Qty: 15}))
	refused(inventory.Invalid, out(inventory.TakeOutLine{LotID: d, Qty: 1, To: "GONE", Reason: inventory.ReasonReturn}),
		"take_out[0].to")
	refused(inventory.Invalid, out(inventory.TakeOutLine{LotID: d, Qty: 1, To: "disposed",
		Reason: inventory.ReasonDisposed}), "take_out[0].cause")
	refused(inventory.Conflict, out(inventory.TakeOutLine{LotID: d, Qty: 7, To: "NORTH-STORE",
		Reason: inventory.ReasonReturn}))
	refused(inventory.Conflict, out(inventory.TakeOutLine{LotID: d, Qty: 1, To: "NORTH-STORE",
		Reason: inventory.ReasonStow}))
	given := h.Move(d, 2, "NORTH-STORE", "NORTH-TRAINING", inventory.ReasonToTraining)
	refused(inventory.Conflict, line(inventory.RestockLine{LotID: given.IntoLotID, Qty: 1, From: "NORTH-TRAINING"}))

	for kind, by := range map[inventory.ErrorKind]inventory.Actor{inventory.SignedOut: fixture.Nobody,
		inventory.Forbidden: fixture.Crew} {
		_, err := h.S.Storeroom.RecordRestock(h.Ctx, by, inventory.Restock{Bag: "N-01", SealSet: "1"}, 0)
		inventorytest.RequireKind(t, kind, err)
	}
	north := inventory.Actor{Name: "Nor", Role: inventory.Quartermaster, Stations: []string{"NORTH"}}
	_, err := h.S.Storeroom.RecordRestock(h.Ctx, north, inventory.Restock{Bag: "N-01",
		Lines: []inventory.RestockLine{{LotID: d, Qty: 1, From: "SOUTH-STORE"}}}, 0)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
}

// TestRestockFromBagAndRepair: units come from another bag, from a belt and
// back from repair, each with its own reason.
func TestRestockFromBagAndRepair(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	d := h.Dressings.ID
	h.Move(d, 1, "NORTH-STORE", "N-BELT", inventory.ReasonStow)
	h.Move(d, 1, "NORTH-STORE", "N-REPAIR", inventory.ReasonAway)
	h.Pass(time.Minute)
	h.Restock("N-02", "", inventory.RestockLine{LotID: d, Qty: 1, From: "n-01"}, inventory.RestockLine{LotID: d, Qty: 1,
		From: "N-BELT"}, inventory.RestockLine{LotID: d, Qty: 1, From: "N-REPAIR"})
	ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Keeper, inventory.MovementFilter{Place: "N-02"}, inventory.Page{})
	require.NoError(t, err)
	var reasons []inventory.Reason
	for _, m := range ms {
		reasons = append(reasons, m.Reason)
	}
	assert.Equal(t, []inventory.Reason{inventory.ReasonTransfer, inventory.ReasonStow, inventory.ReasonReturn}, reasons)
	h.Verify()
}
