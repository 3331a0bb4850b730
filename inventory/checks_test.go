package inventory_test

import (
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/storetest"
)

// stowed is a house with a sealed bag that is at its par.
type stowed struct {
	*house
	dressings, pens inventory.Lot
	tqs             []inventory.Lot
}

func newStowed(t require.TestingT, s inventory.Store) *stowed {
	h := &stowed{house: newHouse(t, s)}
	h.dressings, h.pens = h.receive("DRESSING", "B1", 20, "2028-02"), h.receive("PEN", "", 5, "")
	lines := []inventory.RestockLine{{LotID: h.dressings.ID, Qty: 6}, {LotID: h.pens.ID, Qty: 1}}
	for _, serial := range []string{"S1", "S2"} {
		tq := h.receive("TQ", serial, 1, "")
		h.tqs = append(h.tqs, tq)
		lines = append(lines, inventory.RestockLine{LotID: tq.ID, Qty: 1})
	}
	h.restock("N-01", "100", lines...)
	_, err := h.s.Shift.RecordCheck(h.ctx, crew, h.fullCheck(), "")
	require.NoError(t, err)
	h.pass(time.Hour)
	return h
}

// fullCheck is a full check of N-01 that finds everything, and reseals.
func (h *stowed) fullCheck() inventory.Check {
	c := inventory.Check{Bag: "N-01", Kind: inventory.FullCheck, SeenPosition: h.bag("N-01").Position, SealSet: "101"}
	held := h.holds("N-01")
	for _, lot := range slices.Sorted(maps.Keys(held)) {
		c.Lines = append(c.Lines, inventory.CheckLine{LotID: lot, Counted: held[lot]})
	}
	return c
}

// counting changes the count of one lot in a full check.
func counting(c inventory.Check, lot int64, n int, r inventory.CountReason) inventory.Check {
	for i := range c.Lines {
		if c.Lines[i].LotID == lot {
			c.Lines[i].Counted, c.Lines[i].Reason = n, r
			return c
		}
	}
	c.Lines = append(c.Lines, inventory.CheckLine{LotID: lot, Counted: n, Reason: r})
	return c
}

// record records a check that must be kept, and returns it.
func (h *stowed) record(c inventory.Check) inventory.Check {
	out, err := h.s.Shift.RecordCheck(h.ctx, crew, c, "")
	require.NoError(h.t, err)
	return out
}

// refuseCheck records a check that must be refused and change nothing.
func (h *stowed) refuseCheck(c inventory.Check, paths ...string) {
	before := h.everything()
	_, err := h.s.Shift.RecordCheck(h.ctx, crew, c, "")
	if len(paths) > 0 {
		requireFields(h.t, err, paths...)
	} else {
		requireKind(h.t, inventory.Conflict, err)
	}
	require.Equal(h.t, before, h.everything())
}

func sealCheck(position int64, seen string) inventory.Check {
	return inventory.Check{Bag: "N-01", Kind: inventory.SealCheck, SeenPosition: position, SealSeen: seen}
}

func TestSealCheck(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		b := h.bag("N-01")
		require.Equal(t, inventory.Ready, h.readiness("N-01").State)

		c := h.record(sealCheck(b.Position, " 10 1"))
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		assert.Equal(t, []string{"N-01", "Cleo"}, []string{c.Bag, c.By})
		after := h.bag("N-01")
		assert.Equal(t, h.now, after.SealSeenAt)
		assert.Equal(t, h.now, after.LastSealCheck)
		assert.Equal(t, b.Position, after.Position, "a seal seen in order is no change")
		h.pass(25 * time.Hour)
		assert.Equal(t, []string{"warn seal_check_overdue  0 0 2027-06-15 "}, findings(h.readiness("N-01")))

		c = h.record(sealCheck(after.Position, "999"))
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		assert.Equal(t, inventory.SealDifferent, h.bag("N-01").SealState)
		assert.Equal(t, inventory.NotReady, h.readiness("N-01").State)
		open, err := h.s.Storeroom.Observations(h.ctx, crew, "N-01", inventory.ObservationFilter{Open: true})
		require.NoError(t, err)
		require.Len(t, open, 1)
		assert.Equal(t, inventory.SawOtherSeal, open[0].Kind)

		broken := inventory.Check{Bag: "N-01", Kind: inventory.SealCheck, SeenPosition: h.bag("N-01").Position,
			SealBroken: true}
		h.record(broken)
		assert.Equal(t, inventory.SealBroken, h.bag("N-01").SealState)

		h.record(h.fullCheck())
		assert.Equal(t, inventory.Ready, h.readiness("N-01").State, "a full check settles it")
		log, err := h.s.Storeroom.Seals(h.ctx, crew, "N-01", inventory.Page{})
		require.NoError(t, err)
		var events []string
		for _, e := range log {
			events = append(events, string(e.Event)+" "+e.Number)
		}
		assert.Equal(t, []string{"set 101", "opened 101", "broken ", "different 999", "seen  10 1", "set 101", "opened 100",
			"set 100"}, events, "newest first")
		h.verify()
	})
}

func TestCheckRefuses(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	b := h.bag("N-01")
	seal := sealCheck(b.Position, "101")
	with := func(c inventory.Check, change func(*inventory.Check)) inventory.Check { change(&c); return c }
	h.refuseCheck(with(seal, func(c *inventory.Check) { c.Kind = "quick" }), "kind")
	h.refuseCheck(with(seal, func(c *inventory.Check) { c.SealSeen = "" }), "seal_seen")
	h.refuseCheck(with(seal, func(c *inventory.Check) { c.Lines = h.fullCheck().Lines }), "lines")
	h.refuseCheck(with(seal, func(c *inventory.Check) { c.SealSet = "102" }), "seal_set")
	h.refuseCheck(with(seal, func(c *inventory.Check) { c.SeenPosition = b.Position + 1 }), "seen_position")
	h.refuseCheck(with(seal, func(c *inventory.Check) { c.SeenPosition = -1 }), "seen_position")
	h.refuseCheck(with(seal, func(c *inventory.Check) { c.HappenedAt = h.now.Add(time.Hour) }), "happened_at")
	h.refuseCheck(with(seal, func(c *inventory.Check) { c.Note = "\xff" }), "note")
	full := h.fullCheck()
	h.refuseCheck(with(full, func(c *inventory.Check) { c.Lines = nil }), "lines", "lines", "lines", "lines")
	h.refuseCheck(counting(h.fullCheck(), h.dressings.ID, 5, ""), "lines[0].reason")
	h.refuseCheck(counting(h.fullCheck(), h.dressings.ID, -1, ""), "lines[0].counted")
	h.refuseCheck(counting(h.fullCheck(), h.dressings.ID, 5, "eaten"), "lines[0].reason")
	h.refuseCheck(counting(full, 999, 1, inventory.CountFound), "lines[4].lot_id")
	h.refuseCheck(with(h.fullCheck(), func(c *inventory.Check) {
		c.Found = []inventory.FoundLine{{Item: "NOTHING",
			Qty: 1}}
	}), "found[0].item")
	h.refuseCheck(with(h.fullCheck(), func(c *inventory.Check) {
		c.Found = []inventory.FoundLine{{Item: "DRESSING", Qty: 0, Reason: "gift", EndWording: "soon", BatchNo: "\x00"}}
	}), "found[0].qty", "found[0].reason", "found[0].end_wording", "found[0].batch_no")
	h.refuseCheck(with(h.fullCheck(), func(c *inventory.Check) {
		c.Found = []inventory.FoundLine{{Item: "DRESSING",
			Qty: 1}}
	}), "found[0].batch_no", "found[0].end_printed")

	unsealed := sealCheck(h.bag("N-02").Position, "101")
	unsealed.Bag = "N-02"
	h.refuseCheck(unsealed) // there is no seal to look at

	for kind, by := range map[inventory.ErrorKind]inventory.Actor{inventory.SignedOut: nobody,
		inventory.Forbidden: manager} {
		_, err := h.s.Shift.RecordCheck(h.ctx, by, seal, "")
		requireKind(t, kind, err)
	}
	elsewhere := sealCheck(0, "1")
	elsewhere.Bag = "S-01"
	_, err := h.s.Shift.RecordCheck(h.ctx, crew, elsewhere, "")
	requireKind(t, inventory.Forbidden, err)
	elsewhere.Bag = "X-99"
	_, err = h.s.Shift.RecordCheck(h.ctx, crew, elsewhere, "")
	requireKind(t, inventory.NotFound, err)
}

// TestFullCheck: each difference becomes a movement with its reason, and what
// is found becomes stock, an observation or unidentified units.
func TestFullCheck(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		c := counting(h.fullCheck(), h.dressings.ID, 3, inventory.CountUsed)
		c = counting(c, h.pens.ID, 0, inventory.CountMissing)
		c = counting(c, h.tqs[0].ID, 0, inventory.CountDamaged)
		c.Found = []inventory.FoundLine{
			{Item: "GAUZE", BatchNo: "G1", EndPrinted: "2029-01", Qty: 2},
			{Item: "TABLET", Qty: 1, Unidentified: true},
			{Item: "TQ", Qty: 1, Reason: inventory.FoundTrainingMark},
		}
		c = h.record(c)
		require.Equal(t, inventory.StatusAccepted, c.Status)
		held := h.holds("N-01")
		assert.Equal(t, 3, held[h.dressings.ID])
		assert.Zero(t, held[h.pens.ID])
		assert.Equal(t, 1, held[h.tqs[1].ID])
		assert.Len(t, held, 3, "dressings, one tourniquet and the gauze that was found: %v", held)
		assert.Len(t, h.holds("NORTH-QUARANTINE"), 1, "what bears no batch")

		open, err := h.s.Storeroom.Observations(h.ctx, crew, "N-01", inventory.ObservationFilter{Open: true})
		require.NoError(t, err)
		kinds := map[inventory.ObservationKind]int{}
		for _, o := range open {
			kinds[o.Kind]++
			assert.Equal(t, "check 2", o.Source)
		}
		assert.Equal(t, map[inventory.ObservationKind]int{inventory.SawTrainingMark: 1, inventory.SawUnidentified: 1}, kinds)
		r := h.readiness("N-01")
		assert.Equal(t, inventory.NotReady, r.State)
		assert.Contains(t, findings(r), "stop observation TQ 0 0  ")
		assert.Equal(t, h.now, h.bag("N-01").LastFullCheck)

		for _, o := range open {
			_, err := h.s.Storeroom.CloseObservation(h.ctx, keeper, "N-01", o.ID, "")
			requireFields(t, err, "reason")
			_, err = h.s.Storeroom.CloseObservation(h.ctx, crew, "N-01", o.ID, "seen to")
			requireKind(t, inventory.Forbidden, err)
			_, err = h.s.Storeroom.CloseObservation(h.ctx, keeper, "N-02", o.ID, "another bag's")
			requireKind(t, inventory.NotFound, err)
			done, err := h.s.Storeroom.CloseObservation(h.ctx, keeper, "n-01", o.ID, "seen to")
			require.NoError(t, err)
			assert.Equal(t, "Quinn", done.ClosedBy)
			_, err = h.s.Storeroom.CloseObservation(h.ctx, keeper, "N-01", o.ID, "twice")
			requireKind(t, inventory.NotFound, err)
		}
		assert.Equal(t, inventory.ReadyWithGaps, h.readiness("N-01").State)
		h.verify()
	})
}

// TestFullCheckFindsDevices: a device known as lost comes back from lost; one
// that the ledger has elsewhere makes the check wait.
func TestFullCheckFindsDevices(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		found := func(serial string) inventory.Check {
			c := h.fullCheck()
			c.Found = []inventory.FoundLine{{Item: "TQ", Serial: serial, Qty: 1}}
			return c
		}
		h.move(h.tqs[0].ID, 1, "N-01", "lost", inventory.ReasonLost)
		assert.Equal(t, inventory.StatusAccepted, h.record(found("S1")).Status)
		assert.Equal(t, 1, h.holds("N-01")[h.tqs[0].ID])

		assert.Equal(t, inventory.StatusAccepted, h.record(found("NEW")).Status, "a device that the ledger never had")

		h.receive("TQ", "S9", 1, "")
		c := h.record(found("S9"))
		assert.Equal(t, inventory.StatusToReview, c.Status)
		assert.NotEmpty(t, c.ReviewBecause)

		h.move(h.tqs[1].ID, 1, "N-01", "used", inventory.ReasonUsed)
		assert.Equal(t, inventory.StatusToReview, h.record(found("S2")).Status, "used up, says the ledger")
		assert.Equal(t, inventory.StatusToReview, h.record(counting(h.fullCheck(), h.tqs[1].ID, 1, inventory.CountFound)).
			Status, "counted by lot, the same")
		h.verify()
	})
}

// TestFullCheckSameBatchAnotherDate: the pack contradicts the ledger, so a
// quartermaster decides.
func TestFullCheckSameBatchAnotherDate(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	c := h.fullCheck()
	c.Found = []inventory.FoundLine{{Item: "DRESSING", BatchNo: "B1", EndPrinted: "2029-12", Qty: 1}}
	c = h.record(c)
	assert.Equal(t, inventory.StatusToReview, c.Status)
	assert.Contains(t, c.ReviewBecause, "expiry 2028-02")
}

// TestCheckWaits: a check made before the bag changed is kept and waits, whole
// and posting nothing.
func TestCheckWaits(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		late := counting(h.fullCheck(), h.dressings.ID, 5, inventory.CountMissing)
		late.HappenedAt = h.now
		h.pass(time.Minute)
		h.move(h.dressings.ID, 1, "N-01", "NORTH-STORE", inventory.ReasonReturn)
		bag, held := h.bag("N-01"), h.holds("N-01")
		c := h.record(late)
		assert.Equal(t, inventory.StatusToReview, c.Status)
		assert.Contains(t, c.ReviewBecause, "changed")
		assert.Equal(t, bag, h.bag("N-01"))
		assert.Equal(t, held, h.holds("N-01"))
		waiting, err := h.s.Shift.Checks(h.ctx, keeper, inventory.RecordFilter{Status: inventory.StatusToReview},
			inventory.Page{})
		require.NoError(t, err)
		require.Len(t, waiting, 1)
		assert.Equal(t, late.Lines, waiting[0].Lines, "kept whole")
		again, err := h.s.Shift.Check(h.ctx, crew, c.ID)
		require.NoError(t, err)
		assert.Equal(t, c, again)
		h.verify()
	})
}

// TestCheckKeyCountsOnce: the same key never counts twice.
func TestCheckKeyCountsOnce(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newStowed(t, s)
		c := counting(h.fullCheck(), h.dressings.ID, 5, inventory.CountMissing)
		_, err := h.s.Shift.RecordCheck(h.ctx, crew, c, "key-1")
		require.NoError(t, err)
		before := h.everything()
		c.SeenPosition = h.bag("N-01").Position
		_, err = h.s.Shift.RecordCheck(h.ctx, crew, counting(c, h.dressings.ID, 4, inventory.CountMissing), "key-1")
		requireKind(t, inventory.Conflict, err)
		assert.Equal(t, before, h.everything())
	})
}

// TestCheckInPouches: a lot that lies in two pouches is counted in each.
func TestCheckInPouches(t *testing.T) {
	t.Parallel()
	h := newStowed(t, storetest.OpenSQLite(t))
	c := h.fullCheck()
	c.Lines = append([]inventory.CheckLine{{LotID: h.dressings.ID, Counted: 1}}, counting(c, h.dressings.ID, 4,
		inventory.CountUsed).Lines...)
	c = h.record(c)
	assert.Equal(t, inventory.StatusAccepted, c.Status)
	assert.Equal(t, 5, h.holds("N-01")[h.dressings.ID])
}
