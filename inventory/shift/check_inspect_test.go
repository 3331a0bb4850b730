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

// splinted is a stowed house whose bag N-01 holds two splints as well.
type splinted struct {
	*fixture.Stowed
	splints []inventory.Lot
}

func newSplinted(t require.TestingT, s inventory.Store) *splinted {
	h := &splinted{Stowed: fixture.NewStowed(t, s)}
	for _, serial := range []string{"SP-1", "SP-2"} {
		lot := h.Receive("SPLINT", serial, 1, "")
		h.Move(lot.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.splints = append(h.splints, lot)
	}
	h.Pass(time.Hour)
	return h
}

// inspecting adds inspections to a full check that finds everything.
func (h *splinted) inspecting(lines ...inventory.InspectedLine) inventory.Check {
	c := h.FullCheck()
	c.Inspections = lines
	return c
}

var whole = inventorytest.Answers("frame whole", "straps hold", "bag clean")

// TestFullCheckInspects: a full check inspects what is due, device by device:
// the one that passed is fit for another while, the one that failed is in
// quarantine when the check is posted, and the bag has a stop.
func TestFullCheckInspects(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newSplinted(t, s)
		h.Pass(91 * 24 * time.Hour)
		assert.Contains(t, inventorytest.Findings(h.Readiness("N-01")), "warn inspection_due SPLINT "+
			fixture.Id(h.splints[0].ID)+" 1 2027-09-12 ")
		made := h.Now.Add(-20 * time.Minute)
		c := h.inspecting(inventory.InspectedLine{LotID: h.splints[0].ID, Points: whole},
			inventory.InspectedLine{LotID: h.splints[1].ID, Points: inventorytest.Answers("!frame whole")})
		c.HappenedAt = made
		c = h.Record(c)
		require.Equal(t, inventory.StatusAccepted, c.Status)
		passed, failed := h.Device(h.splints[0].ID), h.Device(h.splints[1].ID)
		assert.Equal(t, []any{inventorytest.Day("2027-09-13"), false, "N-01"}, []any{passed.InspectedOn,
			passed.InspectionOverdue,
			passed.Where[0].Place})
		assert.Equal(t, "NORTH-QUARANTINE", failed.Where[0].Place)
		i := failed.Inspections[0]
		assert.Equal(t, []any{made, h.Now, "Cleo", inventory.Crew, "check " + fixture.Id(c.ID)}, []any{i.HappenedAt,
			i.RecordedAt,
			i.By, i.Role, i.Source})
		require.Len(t, h.Open("N-01"), 1)
		assert.Equal(t, "check "+fixture.Id(c.ID), h.Open("N-01")[0].Source)
		r := h.Readiness("N-01")
		assert.Equal(t, inventory.NotReady, r.State)
		assert.Contains(t, inventorytest.Findings(r), "stop observation SPLINT "+fixture.Id(h.splints[1].ID)+" 0  ")
		kept, err := h.S.Shift.Check(h.Ctx, fixture.Crew, c.ID)
		require.NoError(t, err)
		assert.Len(t, kept.Inspections, 2, "the record keeps them")
		h.Verify()
	})
}

func TestFullCheckInspectRefuses(t *testing.T) {
	t.Parallel()
	h := newSplinted(t, storetest.OpenSQLite(t))
	line := func(lot int64, points ...inventory.PointCheck) inventory.InspectedLine {
		return inventory.InspectedLine{LotID: lot, Points: points}
	}
	sp := h.splints[0].ID
	h.RefuseCheck(h.inspecting(line(999, whole...)), "inspections[0].lot_id")
	h.RefuseCheck(h.inspecting(line(sp)), "inspections[0].points")
	h.RefuseCheck(h.inspecting(line(sp, whole...), line(sp, whole...)), "inspections[1].lot_id")
	h.RefuseCheck(h.inspecting(line(sp, append(whole, whole[0])...)), "inspections[0].points[3].point")
	h.RefuseCheck(h.inspecting(line(sp, inventory.PointCheck{Point: " ", Note: "\xff"})), "inspections[0].points[0].point",
		"inspections[0].points[0].note")
	h.RefuseCheck(h.inspecting(line(h.Dressings.ID, whole...)), "inspections[0].lot_id")
	gone := fixture.Counting(h.inspecting(line(sp, whole...)), sp, 0, inventory.CountMissing)
	h.RefuseCheck(gone, "inspections[0].lot_id")
	seal := fixture.SealCheck(h.Bag("N-01").Position, "101")
	seal.Inspections = []inventory.InspectedLine{line(sp, whole...)}
	h.RefuseCheck(seal, "inspections", "inspections[0].lot_id")
}

// TestWaitingCheckInspects: a check that waits posts nothing, its inspections
// neither. They were made by the crew, whoever decides: they lift nothing. Where
// the points changed meanwhile, the check waits too.
func TestWaitingCheckInspects(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newSplinted(t, s)
		first, second := h.splints[0].ID, h.splints[1].ID
		both := h.inspecting(inventory.InspectedLine{LotID: first, Points: whole}, inventory.InspectedLine{LotID: second,
			Points: inventorytest.Answers("!straps hold")})
		h.Move(h.Pens.ID, 1, "N-01", "NORTH-STORE", inventory.ReasonReturn) // the bag changes
		c := h.Record(both)
		require.Equal(t, inventory.StatusToReview, c.Status)
		assert.Empty(t, h.Device(first).Inspections)
		assert.Empty(t, h.Open("N-01"))
		h.Pass(time.Hour)
		posted, err := h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, c.ID,
			shift.CheckDecision{Decision: inventory.DecideAccept,
				Reason: "as seen"})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, posted.Status)
		i := h.Device(first).Inspections[0]
		assert.Equal(t, []any{"Cleo", inventory.Crew, c.HappenedAt}, []any{i.By, i.Role, i.HappenedAt})
		assert.Equal(t, "NORTH-QUARANTINE", h.Where(second))

		// Adjusted, the crew's inspections stay for what is counted as there,
		// and the quartermaster's own replace them.
		h.Pass(time.Hour)
		stale := h.inspecting(inventory.InspectedLine{LotID: first, Points: inventorytest.Answers("!frame whole")})
		stale.SeenPosition = 1 // before it was stowed
		for _, own := range [][]inventory.InspectedLine{{{LotID: first, Points: whole}}, {}, nil} {
			c = h.Record(stale)
			require.Equal(t, inventory.StatusToReview, c.Status)
			before := len(h.Device(first).Inspections)
			adjusted, err := h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, c.ID,
				shift.CheckDecision{Decision: inventory.DecideEdit,
					Reason: "looked myself",
					Lines:  h.FullCheck().Lines, Inspections: own})
			require.NoError(t, err)
			assert.Equal(t, own, adjusted.Decision.Inspections)
			made := h.Device(first).Inspections[:len(h.Device(first).Inspections)-before]
			switch {
			case len(own) == 1:
				require.Len(t, made, 1)
				assert.Equal(t, []any{"Quinn", inventory.Quartermaster, true}, []any{made[0].By, made[0].Role, made[0].Passed})
			case own != nil:
				assert.Empty(t, made)
			default:
				require.Len(t, made, 1)
				assert.Equal(t, []any{"Cleo", false}, []any{made[0].By, made[0].Passed})
				assert.Equal(t, "NORTH-QUARANTINE", h.Where(first))
			}
			h.Pass(time.Hour)
		}
		h.Verify()
	})
}

// TestInspectionPointsChanged: the owner changed the points after the crew
// looked; the check is kept and waits, and can be adjusted.
func TestInspectionPointsChanged(t *testing.T) {
	t.Parallel()
	h := newSplinted(t, storetest.OpenSQLite(t))
	c := h.inspecting(inventory.InspectedLine{LotID: h.splints[0].ID, Points: whole})
	it, err := h.S.Lists.Item(h.Ctx, fixture.Admin, "SPLINT")
	require.NoError(t, err)
	it.InspectionPoints = append(it.InspectionPoints, "ankle hitch there")
	_, err = h.S.Lists.UpdateItem(h.Ctx, fixture.Admin, it)
	require.NoError(t, err)
	c = h.Record(c)
	assert.Equal(t, inventory.StatusToReview, c.Status)
	assert.Contains(t, c.ReviewBecause.String(), "serial SP-1")
	_, err = h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
		Reason: "so"})
	inventorytest.RequireKind(t, inventory.Conflict, err)
	_, err = h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideEdit,
		Reason: "so",
		Lines:  h.FullCheck().Lines, Inspections: []inventory.InspectedLine{}})
	require.NoError(t, err)
	h.Verify()
}

// TestFullCheckUsedDevice: a reusable device that a check counts as used goes
// where a use would send it; a single-use one has ended.
func TestFullCheckUsedDevice(t *testing.T) {
	t.Parallel()
	h := newSplinted(t, storetest.OpenSQLite(t))
	strap := h.Receive("STRAP", "X-1", 1, "")
	stowed := h.Move(strap.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
	c := fixture.Counting(h.FullCheck(), h.splints[0].ID, 0, inventory.CountUsed)
	c = fixture.Counting(c, stowed.IntoLotID, 0, inventory.CountUsed)
	require.Equal(t, inventory.StatusAccepted, h.Record(c).Status)
	assert.Equal(t, "NORTH-QUARANTINE", h.Where(h.splints[0].ID))
	assert.Empty(t, h.Where(strap.ID))
	h.Verify()
}
