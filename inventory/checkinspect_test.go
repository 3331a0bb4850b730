package inventory_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
	"stowkeeper/inventory/store/storetest"
)

// splinted is a stowed house whose bag N-01 holds two splints as well.
type splinted struct {
	*stowed
	splints []inventory.Lot
}

func newSplinted(t require.TestingT, s inventory.Store) *splinted {
	h := &splinted{stowed: newStowed(t, s)}
	for _, serial := range []string{"SP-1", "SP-2"} {
		lot := h.receive("SPLINT", serial, 1, "")
		h.move(lot.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
		h.splints = append(h.splints, lot)
	}
	h.pass(time.Hour)
	return h
}

// inspecting adds inspections to a full check that finds everything.
func (h *splinted) inspecting(lines ...inventory.InspectedLine) inventory.Check {
	c := h.fullCheck()
	c.Inspections = lines
	return c
}

var whole = answers("frame whole", "straps hold", "bag clean")

// TestFullCheckInspects: a full check inspects what is due, device by device:
// the one that passed is fit for another while, the one that failed is in
// quarantine when the check is posted, and the bag has a stop.
func TestFullCheckInspects(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newSplinted(t, s)
		h.pass(91 * 24 * time.Hour)
		assert.Contains(t, findings(h.readiness("N-01")), "warn inspection_due SPLINT "+id(h.splints[0].ID)+" 1 2027-09-12 ")
		made := h.now.Add(-20 * time.Minute)
		c := h.inspecting(inventory.InspectedLine{LotID: h.splints[0].ID, Points: whole},
			inventory.InspectedLine{LotID: h.splints[1].ID, Points: answers("!frame whole")})
		c.HappenedAt = made
		c = h.record(c)
		require.Equal(t, inventory.StatusAccepted, c.Status)
		passed, failed := h.device(h.splints[0].ID), h.device(h.splints[1].ID)
		assert.Equal(t, []any{day("2027-09-13"), false, "N-01"}, []any{passed.InspectedOn, passed.InspectionOverdue,
			passed.Where[0].Place})
		assert.Equal(t, "NORTH-QUARANTINE", failed.Where[0].Place)
		i := failed.Inspections[0]
		assert.Equal(t, []any{made, h.now, "Cleo", inventory.Crew, "check " + id(c.ID)}, []any{i.HappenedAt, i.RecordedAt,
			i.By, i.Role, i.Source})
		require.Len(t, h.open("N-01"), 1)
		assert.Equal(t, "check "+id(c.ID), h.open("N-01")[0].Source)
		r := h.readiness("N-01")
		assert.Equal(t, inventory.NotReady, r.State)
		assert.Contains(t, findings(r), "stop observation SPLINT "+id(h.splints[1].ID)+" 0  ")
		kept, err := h.s.Shift.Check(h.ctx, crew, c.ID)
		require.NoError(t, err)
		assert.Len(t, kept.Inspections, 2, "the record keeps them")
		h.verify()
	})
}

func TestFullCheckInspectRefuses(t *testing.T) {
	t.Parallel()
	h := newSplinted(t, storetest.OpenSQLite(t))
	line := func(lot int64, points ...inventory.PointCheck) inventory.InspectedLine {
		return inventory.InspectedLine{LotID: lot, Points: points}
	}
	sp := h.splints[0].ID
	h.refuseCheck(h.inspecting(line(999, whole...)), "inspections[0].lot_id")
	h.refuseCheck(h.inspecting(line(sp)), "inspections[0].points")
	h.refuseCheck(h.inspecting(line(sp, whole...), line(sp, whole...)), "inspections[1].lot_id")
	h.refuseCheck(h.inspecting(line(sp, append(whole, whole[0])...)), "inspections[0].points[3].point")
	h.refuseCheck(h.inspecting(line(sp, inventory.PointCheck{Point: " ", Note: "\xff"})), "inspections[0].points[0].point",
		"inspections[0].points[0].note")
	h.refuseCheck(h.inspecting(line(h.dressings.ID, whole...)), "inspections[0].lot_id")
	gone := counting(h.inspecting(line(sp, whole...)), sp, 0, inventory.CountMissing)
	h.refuseCheck(gone, "inspections[0].lot_id")
	seal := sealCheck(h.bag("N-01").Position, "101")
	seal.Inspections = []inventory.InspectedLine{line(sp, whole...)}
	h.refuseCheck(seal, "inspections", "inspections[0].lot_id")
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
			Points: answers("!straps hold")})
		h.move(h.pens.ID, 1, "N-01", "NORTH-STORE", inventory.ReasonReturn) // the bag changes
		c := h.record(both)
		require.Equal(t, inventory.StatusToReview, c.Status)
		assert.Empty(t, h.device(first).Inspections)
		assert.Empty(t, h.open("N-01"))
		h.pass(time.Hour)
		posted, err := h.s.Shift.DecideCheck(h.ctx, keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
			Reason: "as seen"})
		require.NoError(t, err)
		assert.Equal(t, inventory.StatusAccepted, posted.Status)
		i := h.device(first).Inspections[0]
		assert.Equal(t, []any{"Cleo", inventory.Crew, c.HappenedAt}, []any{i.By, i.Role, i.HappenedAt})
		assert.Equal(t, "NORTH-QUARANTINE", h.where(second))

		// Adjusted, the crew's inspections stay for what is counted as there,
		// and the quartermaster's own replace them.
		h.pass(time.Hour)
		stale := h.inspecting(inventory.InspectedLine{LotID: first, Points: answers("!frame whole")})
		stale.SeenPosition = 1 // before it was stowed
		for _, own := range [][]inventory.InspectedLine{{{LotID: first, Points: whole}}, {}, nil} {
			c = h.record(stale)
			require.Equal(t, inventory.StatusToReview, c.Status)
			before := len(h.device(first).Inspections)
			adjusted, err := h.s.Shift.DecideCheck(h.ctx, keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideEdit,
				Reason: "looked myself",
				Lines:  h.fullCheck().Lines, Inspections: own})
			require.NoError(t, err)
			assert.Equal(t, own, adjusted.Decision.Inspections)
			made := h.device(first).Inspections[:len(h.device(first).Inspections)-before]
			switch {
			case len(own) == 1:
				require.Len(t, made, 1)
				assert.Equal(t, []any{"Quinn", inventory.Quartermaster, true}, []any{made[0].By, made[0].Role, made[0].Passed})
			case own != nil:
				assert.Empty(t, made)
			default:
				require.Len(t, made, 1)
				assert.Equal(t, []any{"Cleo", false}, []any{made[0].By, made[0].Passed})
				assert.Equal(t, "NORTH-QUARANTINE", h.where(first))
			}
			h.pass(time.Hour)
		}
		h.verify()
	})
}

// TestInspectionPointsChanged: the owner changed the points after the crew
// looked; the check is kept and waits, and can be adjusted.
func TestInspectionPointsChanged(t *testing.T) {
	t.Parallel()
	h := newSplinted(t, storetest.OpenSQLite(t))
	c := h.inspecting(inventory.InspectedLine{LotID: h.splints[0].ID, Points: whole})
	it, err := h.s.Lists.Item(h.ctx, admin, "SPLINT")
	require.NoError(t, err)
	it.InspectionPoints = append(it.InspectionPoints, "ankle hitch there")
	_, err = h.s.Lists.UpdateItem(h.ctx, admin, it)
	require.NoError(t, err)
	c = h.record(c)
	assert.Equal(t, inventory.StatusToReview, c.Status)
	assert.Contains(t, c.ReviewBecause, "serial SP-1")
	_, err = h.s.Shift.DecideCheck(h.ctx, keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
		Reason: "so"})
	requireKind(t, inventory.Conflict, err)
	_, err = h.s.Shift.DecideCheck(h.ctx, keeper, c.ID, shift.CheckDecision{Decision: inventory.DecideEdit, Reason: "so",
		Lines: h.fullCheck().Lines, Inspections: []inventory.InspectedLine{}})
	require.NoError(t, err)
	h.verify()
}

// TestFullCheckUsedDevice: a reusable device that a check counts as used goes
// where a use would send it; a single-use one has ended.
func TestFullCheckUsedDevice(t *testing.T) {
	t.Parallel()
	h := newSplinted(t, storetest.OpenSQLite(t))
	strap := h.receive("STRAP", "X-1", 1, "")
	stowed := h.move(strap.ID, 1, "NORTH-STORE", "N-01", inventory.ReasonStow)
	c := counting(h.fullCheck(), h.splints[0].ID, 0, inventory.CountUsed)
	c = counting(c, stowed.IntoLotID, 0, inventory.CountUsed)
	require.Equal(t, inventory.StatusAccepted, h.record(c).Status)
	assert.Equal(t, "NORTH-QUARANTINE", h.where(h.splints[0].ID))
	assert.Empty(t, h.where(strap.ID))
	h.verify()
}
