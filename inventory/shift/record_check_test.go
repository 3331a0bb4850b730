package shift_test

import (
	"slices"
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

func TestSealCheck(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		b := h.Bag("N-01")
		require.Equal(t, inventory.Ready, h.Readiness("N-01").State)

		c := h.Record(fixture.SealCheck(b.Position, " 10 1"))
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		assert.Equal(t, []string{"N-01", "Cleo"}, []string{c.Bag, c.By})
		after := h.Bag("N-01")
		assert.Equal(t, h.Now, after.SealSeenAt)
		assert.Equal(t, h.Now, after.LastSealCheck)
		assert.Equal(t, b.Position, after.Position, "a seal seen in order is no change")
		h.Pass(25 * time.Hour)
		assert.Equal(t, []string{"warn seal_check_overdue  0 0 2027-06-15 "}, inventorytest.Findings(h.Readiness("N-01")))

		c = h.Record(fixture.SealCheck(after.Position, "999"))
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		assert.Equal(t, inventory.SealDifferent, h.Bag("N-01").SealState)
		assert.Equal(t, inventory.NotReady, h.Readiness("N-01").State)
		open, err := h.S.Storeroom.Observations(h.Ctx, fixture.Crew, "N-01", inventory.ObservationFilter{Open: true})
		require.NoError(t, err)
		require.Len(t, open, 1)
		assert.Equal(t, inventory.SawOtherSeal, open[0].Kind)

		broken := inventory.Check{Bag: "N-01", Kind: inventory.SealCheck, SeenPosition: h.Bag("N-01").Position,
			SealBroken: true}
		h.Record(broken)
		assert.Equal(t, inventory.SealBroken, h.Bag("N-01").SealState)

		h.Record(h.FullCheck())
		assert.Equal(t, inventory.Ready, h.Readiness("N-01").State, "a full check settles it")
		log, err := h.S.Storeroom.Seals(h.Ctx, fixture.Crew, "N-01", inventory.Page{})
		require.NoError(t, err)
		var events []string
		for _, e := range log {
			events = append(events, string(e.Event)+" "+e.Number)
		}
		assert.Equal(t, []string{"set 101", "opened 101", "broken ", "different 999", "seen  10 1", "set 101", "opened 100",
			"set 100"}, events, "newest first")
		h.Verify()
	})
}

func TestCheckRefuses(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	b := h.Bag("N-01")
	seal := fixture.SealCheck(b.Position, "101")
	with := func(c inventory.Check, change func(*inventory.Check)) inventory.Check { change(&c); return c }
	h.RefuseCheck(with(seal, func(c *inventory.Check) { c.Kind = "quick" }), "kind")
	h.RefuseCheck(with(seal, func(c *inventory.Check) { c.SealSeen = "" }), "seal_seen")
	h.RefuseCheck(with(seal, func(c *inventory.Check) { c.Lines = h.FullCheck().Lines }), "lines")
	h.RefuseCheck(with(seal, func(c *inventory.Check) { c.SealSet = "102" }), "seal_set")
	h.RefuseCheck(with(seal, func(c *inventory.Check) { c.SeenPosition = b.Position + 1 }), "seen_position")
	h.RefuseCheck(with(seal, func(c *inventory.Check) { c.SeenPosition = -1 }), "seen_position")
	h.RefuseCheck(with(seal, func(c *inventory.Check) { c.HappenedAt = h.Now.Add(time.Hour) }), "happened_at")
	h.RefuseCheck(with(seal, func(c *inventory.Check) { c.Note = "\xff" }), "note")
	full := h.FullCheck()
	h.RefuseCheck(with(full, func(c *inventory.Check) { c.Lines = nil }), "lines", "lines", "lines", "lines")
	h.RefuseCheck(fixture.Counting(h.FullCheck(), h.Dressings.ID, 5, ""), "lines[0].reason")
	h.RefuseCheck(fixture.Counting(h.FullCheck(), h.Dressings.ID, -1, ""), "lines[0].counted")
	h.RefuseCheck(fixture.Counting(h.FullCheck(), h.Dressings.ID, 5, "eaten"), "lines[0].reason")
	h.RefuseCheck(fixture.Counting(full, 999, 1, inventory.CountFound), "lines[4].lot_id")
	h.RefuseCheck(with(h.FullCheck(), func(c *inventory.Check) {
		c.Found = []inventory.FoundLine{{Item: "NOTHING",
			Qty: 1}}
	}), "found[0].item")
	h.RefuseCheck(with(h.FullCheck(), func(c *inventory.Check) {
		c.Found = []inventory.FoundLine{{Item: "DRESSING", Qty: 0, Reason: "gift", EndWording: "soon", BatchNo: "\x00"}}
	}), "found[0].qty", "found[0].reason", "found[0].end_wording", "found[0].batch_no")
	h.RefuseCheck(with(h.FullCheck(), func(c *inventory.Check) {
		c.Found = []inventory.FoundLine{{Item: "DRESSING",
			Qty: 1}}
	}), "found[0].batch_no", "found[0].end_printed")

	unsealed := fixture.SealCheck(h.Bag("N-02").Position, "101")
	unsealed.Bag = "N-02"
	h.RefuseCheck(unsealed) // there is no seal to look at

	for kind, by := range map[inventory.ErrorKind]inventory.Actor{inventory.SignedOut: fixture.Nobody,
		inventory.Forbidden: fixture.Manager} {
		_, err := h.S.Shift.RecordCheck(h.Ctx, by, seal, "")
		inventorytest.RequireKind(t, kind, err)
	}
	elsewhere := fixture.SealCheck(0, "1")
	elsewhere.Bag = "S-01"
	_, err := h.S.Shift.RecordCheck(h.Ctx, fixture.Crew, elsewhere, "")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	elsewhere.Bag = "X-99"
	_, err = h.S.Shift.RecordCheck(h.Ctx, fixture.Crew, elsewhere, "")
	inventorytest.RequireKind(t, inventory.NotFound, err)
}

// TestFullCheck: each difference becomes a movement with its reason, and what
// is found becomes stock, an observation or unidentified units.
func TestFullCheck(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		c := fixture.Counting(h.FullCheck(), h.Dressings.ID, 3, inventory.CountUsed)
		c = fixture.Counting(c, h.Pens.ID, 0, inventory.CountMissing)
		c = fixture.Counting(c, h.Tqs[0].ID, 0, inventory.CountDamaged)
		c.Found = []inventory.FoundLine{
			{Item: "GAUZE", BatchNo: "G1", EndPrinted: "2029-01", Qty: 2},
			{Item: "TABLET", Qty: 1, Unidentified: true},
			{Item: "TQ", Qty: 1, Reason: inventory.FoundTrainingMark},
		}
		c = h.Record(c)
		require.Equal(t, inventory.StatusAccepted, c.Status)
		held := h.Holds("N-01")
		assert.Equal(t, 3, held[h.Dressings.ID])
		assert.Zero(t, held[h.Pens.ID])
		assert.Equal(t, 1, held[h.Tqs[1].ID])
		assert.Len(t, held, 3, "dressings, one tourniquet and the gauze that was found: %v", held)
		assert.Len(t, h.Holds("NORTH-QUARANTINE"), 1, "what bears no batch")

		open, err := h.S.Storeroom.Observations(h.Ctx, fixture.Crew, "N-01", inventory.ObservationFilter{Open: true})
		require.NoError(t, err)
		kinds := map[inventory.ObservationKind]int{}
		for _, o := range open {
			kinds[o.Kind]++
			assert.Equal(t, "check 2", o.Source)
		}
		assert.Equal(t, map[inventory.ObservationKind]int{inventory.SawTrainingMark: 1, inventory.SawUnidentified: 1}, kinds)
		r := h.Readiness("N-01")
		assert.Equal(t, inventory.NotReady, r.State)
		assert.Contains(t, inventorytest.Findings(r), "stop observation TQ 0 0  ")
		assert.Equal(t, h.Now, h.Bag("N-01").LastFullCheck)

		for _, o := range open {
			_, err := h.S.Storeroom.CloseObservation(h.Ctx, fixture.Keeper, "N-01", o.ID, "")
			inventorytest.RequireFields(t, err, "reason")
			_, err = h.S.Storeroom.CloseObservation(h.Ctx, fixture.Crew, "N-01", o.ID, "seen to")
			inventorytest.RequireKind(t, inventory.Forbidden, err)
			_, err = h.S.Storeroom.CloseObservation(h.Ctx, fixture.Keeper, "N-02", o.ID, "another bag's")
			inventorytest.RequireKind(t, inventory.NotFound, err)
			done, err := h.S.Storeroom.CloseObservation(h.Ctx, fixture.Keeper, "n-01", o.ID, "seen to")
			require.NoError(t, err)
			assert.Equal(t, "Quinn", done.ClosedBy)
			_, err = h.S.Storeroom.CloseObservation(h.Ctx, fixture.Keeper, "N-01", o.ID, "twice")
			inventorytest.RequireKind(t, inventory.NotFound, err)
		}
		assert.Equal(t, inventory.ReadyWithGaps, h.Readiness("N-01").State)
		h.Verify()
	})
}

// TestPartialCheck: a full check that left lines out says of the lots that it names what it counted, and renews, clears
// and settles nothing else; one of before counts whole.
func TestPartialCheck(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		all, had := h.FullCheck(), h.Holds("N-01")
		c := fixture.Counting(all, h.Dressings.ID, 3, inventory.CountUsed)
		c.Lines = slices.DeleteFunc(c.Lines, func(l inventory.CheckLine) bool { return l.LotID != h.Dressings.ID })
		_, err := h.S.Shift.RecordCheck(h.Ctx, fixture.Crew, c, "")
		inventorytest.RequireFields(t, err, "lines", "lines", "lines")
		c.NotCounted = 2
		before := h.Bag("N-01").LastFullCheck
		c = h.Record(c)
		assert.Equal(t, inventory.StatusAccepted, c.Status)
		had[h.Dressings.ID] = 3
		assert.Equal(t, had, h.Holds("N-01"))
		assert.Equal(t, before, h.Bag("N-01").LastFullCheck)
		kept, err := h.S.Shift.Check(h.Ctx, fixture.Crew, c.ID)
		require.NoError(t, err)
		assert.Equal(t, 2, kept.NotCounted)
		record, err := h.S.Shift.CheckRecord(h.Ctx, fixture.Manager, nil, 7)
		require.NoError(t, err)
		i := slices.IndexFunc(record.Bags, func(b shift.BagChecks) bool { return b.Bag == "N-01" })
		assert.Equal(t, 1, record.Bags[i].FullDone, "the one before it")

		// Decided later it takes nothing of what it did not name.
		late := inventory.Check{Bag: "N-01", Kind: inventory.FullCheck, SeenPosition: c.SeenPosition, NotCounted: 3,
			Lines: []inventory.CheckLine{{LotID: h.Pens.ID, Counted: 0, Reason: inventory.CountMissing}}}
		late = h.Record(late)
		require.Equal(t, inventory.StatusToReview, late.Status)
		_, err = h.S.Shift.DecideCheck(h.Ctx, fixture.Keeper, late.ID, shift.CheckDecision{Decision: inventory.DecideAccept,
			Reason: "so"})
		require.NoError(t, err)
		delete(had, h.Pens.ID)
		assert.Equal(t, had, h.Holds("N-01"))
		assert.Equal(t, before, h.Bag("N-01").LastFullCheck)
		h.Verify()
	})
}

// TestFullCheckFindsDevices: a device known as lost comes back from lost; one
// that the ledger has elsewhere makes the check wait.
func TestFullCheckFindsDevices(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		found := func(serial string) inventory.Check {
			c := h.FullCheck()
			c.Found = []inventory.FoundLine{{Item: "TQ", Serial: serial, Qty: 1}}
			return c
		}
		h.Move(h.Tqs[0].ID, 1, "N-01", "lost", inventory.ReasonLost)
		assert.Equal(t, inventory.StatusAccepted, h.Record(found("S1")).Status)
		assert.Equal(t, 1, h.Holds("N-01")[h.Tqs[0].ID])

		assert.Equal(t, inventory.StatusAccepted, h.Record(found("NEW")).Status, "a device that the ledger never had")

		h.Receive("TQ", "S9", 1, "")
		c := h.Record(found("S9"))
		assert.Equal(t, inventory.StatusToReview, c.Status)
		assert.NotEmpty(t, c.ReviewBecause)

		h.Move(h.Tqs[1].ID, 1, "N-01", "used", inventory.ReasonUsed)
		assert.Equal(t, inventory.StatusToReview, h.Record(found("S2")).Status, "used up, says the ledger")
		assert.Equal(t, inventory.StatusToReview, h.Record(fixture.Counting(h.FullCheck(), h.Tqs[1].ID, 1,
			inventory.CountFound)).
			Status, "counted by lot, the same")
		h.Verify()
	})
}

// TestFullCheckSameBatchAnotherDate: the pack contradicts the ledger, so a
// quartermaster decides.
func TestFullCheckSameBatchAnotherDate(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	c := h.FullCheck()
	c.Found = []inventory.FoundLine{{Item: "DRESSING", BatchNo: "B1", EndPrinted: "2029-12", Qty: 1}}
	c = h.Record(c)
	assert.Equal(t, inventory.StatusToReview, c.Status)
	assert.Contains(t, c.ReviewBecause.String(), "expiry 2028-02")
}

// TestCheckWaits: a check made before the bag changed is kept and waits, whole
// and posting nothing.
func TestCheckWaits(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		late := fixture.Counting(h.FullCheck(), h.Dressings.ID, 5, inventory.CountMissing)
		late.HappenedAt = h.Now
		h.Pass(time.Minute)
		h.Move(h.Dressings.ID, 1, "N-01", "NORTH-STORE", inventory.ReasonReturn)
		bag, held := h.Bag("N-01"), h.Holds("N-01")
		c := h.Record(late)
		assert.Equal(t, inventory.StatusToReview, c.Status)
		assert.Contains(t, c.ReviewBecause.String(), "changed")
		assert.Equal(t, bag, h.Bag("N-01"))
		assert.Equal(t, held, h.Holds("N-01"))
		waiting, err := h.S.Shift.Checks(h.Ctx, fixture.Keeper, inventory.RecordFilter{Status: inventory.StatusToReview},
			inventory.Page{})
		require.NoError(t, err)
		require.Len(t, waiting, 1)
		assert.Equal(t, late.Lines, waiting[0].Lines, "kept whole")
		again, err := h.S.Shift.Check(h.Ctx, fixture.Crew, c.ID)
		require.NoError(t, err)
		assert.Equal(t, c, again)
		h.Verify()
	})
}

// TestCheckKeyCountsOnce: the same key never counts twice.
func TestCheckKeyCountsOnce(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := fixture.NewStowed(t, s)
		c := fixture.Counting(h.FullCheck(), h.Dressings.ID, 5, inventory.CountMissing)
		_, err := h.S.Shift.RecordCheck(h.Ctx, fixture.Crew, c, "key-1")
		require.NoError(t, err)
		before := h.Everything()
		c.SeenPosition = h.Bag("N-01").Position
		_, err = h.S.Shift.RecordCheck(h.Ctx, fixture.Crew, fixture.Counting(c, h.Dressings.ID, 4, inventory.CountMissing),
			"key-1")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		assert.Equal(t, before, h.Everything())
	})
}

// TestCheckInPouches: a lot that lies in two pouches is counted in each.
func TestCheckInPouches(t *testing.T) {
	t.Parallel()
	h := fixture.NewStowed(t, storetest.OpenSQLite(t))
	c := h.FullCheck()
	c.Lines = append([]inventory.CheckLine{{LotID: h.Dressings.ID, Counted: 1}}, fixture.Counting(c, h.Dressings.ID, 4,
		inventory.CountUsed).Lines...)
	c = h.Record(c)
	assert.Equal(t, inventory.StatusAccepted, c.Status)
	assert.Equal(t, 5, h.Holds("N-01")[h.Dressings.ID])
}
