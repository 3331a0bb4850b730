package storetest

import (
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

var ledgerPromises = []promise{
	{"movements change balances and link the chain", movementsLink},
	{"each station has its own chain", chainsByStation},
	{"no movements give none", noMovements},
	{"a place never goes below zero, in the order of recording", neverBelowZero},
	{"movements posted together all happen or none", allOrNone},
	{"units change their lot within their batch", unitsChangeLot},
	{"a movement is corrected once", correctedOnce},
	{"a device is in one place", deviceInOnePlace},
	{"a device comes back from lost", deviceComesBack},
	{"a movement names what exists", movementNames},
	{"the position of every bag touched moves on", positionsMoveOn},
	{"what moved since a position", movedSince},
	{"a thousand movements at once", thousandMovements},
	{"every reason and cause can be kept", reasonsAndCauses},
}

const (
	supplier = string(inventory.KindSupplier)
	used     = string(inventory.KindUsed)
	lost     = string(inventory.KindLost)
)

func (c *scene) refusedMoves(ms ...inventory.Movement) {
	c.t.Helper()
	before := stock(c, inventory.StockFilter{})
	head := got(c, func(r inventory.Reader) (inventory.Head, error) { return r.Head(north) })
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		_, err := w.AppendMovements(ms)
		return err
	})
	assert.Equal(c.t, before, stock(c, inventory.StockFilter{}), "a refused request changes nothing")
	assert.Equal(c.t, head, got(c, func(r inventory.Reader) (inventory.Head, error) { return r.Head(north) }))
}

// assertChain checks that a station's chain has n links, each following the one before, with the head at its end.
func assertChain(c *scene, station string, n int) {
	c.t.Helper()
	ms := got(c, func(r inventory.Reader) ([]inventory.Movement, error) {
		return r.Movements(inventory.MovementFilter{Station: station}, inventory.Page{})
	})
	require.Len(c.t, ms, n)
	numbers := got(c, inventory.Reader.Actors)
	last := inventory.Movement{}
	for _, m := range ms {
		require.Equal(c.t, last.Seq+1, m.Seq)
		require.Equal(c.t, last.Hash, m.PrevHash)
		require.Equal(c.t, inventory.ChainHash(last.Hash, m, func(name string) int64 { return numbers[name] }), m.Hash)
		require.Greater(c.t, m.ID, last.ID)
		last = m
	}
	head := got(c, func(r inventory.Reader) (inventory.Head, error) { return r.Head(station) })
	require.Equal(c.t, inventory.Head{Station: station, Seq: last.Seq, Hash: last.Hash}, head)
}

func movementsLink(c *scene) {
	first := c.receive(c.lot, 5, northStore)
	assert.EqualValues(c.t, 1, first.Seq)
	assert.Empty(c.t, first.PrevHash)
	full := move(c.lot, 2, northStore, string(inventory.KindDisposed), inventory.ReasonDisposed)
	full.Cause, full.Witness, full.Reference, full.Note = inventory.CauseDamaged, "W. Itness", "REF 1",
		"two lines\nof note, with ü"
	kept := c.post(full, move(c.lot, 1, northStore, bagOne, inventory.ReasonStow))
	require.Len(c.t, kept, 2)
	want := full
	want.ID, want.Station, want.Seq, want.PrevHash, want.Hash = kept[0].ID, north, 2, first.Hash, kept[0].Hash
	assert.Equal(c.t, want, kept[0])
	assert.Equal(c.t, want, got(c, movement(want.ID)), "as it was returned")
	assert.Equal(c.t, kept[1], got(c, movement(kept[1].ID)))
	assert.Equal(c.t, map[string]int{northStore: 2, bagOne: 1}, c.held(c.lot))
	assertChain(c, north, 3)
}

func movement(id int64) func(inventory.Reader) (inventory.Movement, error) {
	return func(r inventory.Reader) (inventory.Movement, error) { return r.Movement(id) }
}

func chainsByStation(c *scene) {
	c.receive(c.lot, 5, northStore)
	kept := c.post(
		move(c.lot, 3, northStore, southStore, inventory.ReasonTransfer), // the chain of where it comes from
		move(c.lot, 1, southStore, bagTwo, inventory.ReasonStow),
		move(c.lot, 1, supplier, southStore, inventory.ReasonReceipt), // of where it goes to, when it comes from outside
		move(c.lot, 1, southStore, used, inventory.ReasonUsed),
	)
	assert.Equal(c.t, []string{north, south, south, south}, codesOf(kept,
		func(m inventory.Movement) string { return m.Station }))
	assertChain(c, north, 2)
	assertChain(c, south, 3)
}

func noMovements(c *scene) {
	assert.Empty(c.t, c.post())
	assertChain(c, north, 0)
}

func neverBelowZero(c *scene) {
	c.receive(c.lot, 2, northStore)
	c.refusedMoves(move(c.lot, 3, northStore, bagOne, inventory.ReasonStow))
	c.refusedMoves(move(c.lot, 1, bagOne, northStore, inventory.ReasonReturn))
	c.refusedMoves(move(c.lot, 0, northStore, bagOne, inventory.ReasonStow))
	c.refusedMoves(move(c.lot, -1, northStore, bagOne, inventory.ReasonStow))
	c.refusedMoves( // it would be there at the end, but is not when it leaves
		move(c.lot, 3, northStore, bagOne, inventory.ReasonStow), move(c.lot, 5, supplier, northStore,
			inventory.ReasonReceipt))
	c.post(move(c.lot, 5, supplier, northStore, inventory.ReasonReceipt), move(c.lot, 7, northStore, bagOne,
		inventory.ReasonStow))
	assert.Equal(c.t, map[string]int{bagOne: 7}, c.held(c.lot))
}

func allOrNone(c *scene) {
	c.receive(c.lot, 2, northStore)
	c.refusedMoves(move(c.lot, 1, northStore, bagOne, inventory.ReasonStow), move(c.lot, 1, northStore, bagTwo,
		inventory.ReasonStow),
		move(c.lot, 1, northStore, bagOne, inventory.ReasonStow))
	assert.Zero(c.t, c.position(bagOne))
}

func unitsChangeLot(c *scene) {
	split := c.ensure(inventory.Clocks{StowedOn: inventory.MustDay("2026-11-25")})
	c.receive(c.lot, 5, northStore)
	m := move(c.lot, 2, northStore, bagOne, inventory.ReasonStow)
	m.IntoLotID = split.ID
	c.post(m)
	assert.Equal(c.t, map[string]int{northStore: 3}, c.held(c.lot))
	assert.Equal(c.t, map[string]int{bagOne: 2}, c.held(split))
	m.IntoLotID = 0
	kept := c.post(m)
	assert.Equal(c.t, c.lot.ID, kept[0].IntoLotID, "left out, it is the same lot")

	_, other := c.addLot(inventory.Batch{Item: bandage, BatchNo: "B-2"})
	m.IntoLotID = other.ID
	c.refusedMoves(m)
}

func correctedOnce(c *scene) {
	wrong := c.receive(c.lot, 5, northStore)
	undo := move(c.lot, 5, northStore, supplier, inventory.ReasonCorrection)
	undo.Corrects = wrong.ID
	again := undo
	c.refusedMoves(undo, move(c.lot, 5, supplier, northStore, inventory.ReasonReceipt), again)
	c.post(undo)
	c.receive(c.lot, 5, northStore)
	c.refusedMoves(again)
	undo.Corrects = 9999
	c.refusedMoves(undo)
}

func deviceInOnePlace(c *scene) {
	lot := c.device("SN-1")
	c.refusedMoves(move(lot, 2, supplier, northStore, inventory.ReasonReceipt))
	c.receive(lot, 1, northStore)
	c.refusedMoves(move(lot, 1, supplier, southStore, inventory.ReasonReceipt))
	c.refusedMoves(move(lot, 1, supplier, northStore, inventory.ReasonReceipt))
	var opened inventory.Lot
	c.write(func(w inventory.Writer) (err error) {
		opened, err = ensured(w, inventory.Lot{Batch: lot.Batch, Parent: lot.ID,
			Clocks: inventory.Clocks{OpenedOn: inventory.MustDay("2026-11-25")}})
		return err
	})
	c.refusedMoves(move(opened, 1, supplier, northStore, inventory.ReasonReceipt)) // the same device by another lot
	c.refusedMoves(move(lot, 1, supplier, bagOne, inventory.ReasonOpening), move(lot, 1, northStore, used,
		inventory.ReasonUsed))
	m := move(lot, 1, northStore, bagOne, inventory.ReasonStow)
	m.IntoLotID = opened.ID
	c.post(m)
	c.post(move(opened, 1, bagOne, bagTwo, inventory.ReasonTransfer), move(opened, 1, bagTwo, bagOne,
		inventory.ReasonTransfer))
	assert.Equal(c.t, map[string]int{bagOne: 1}, c.held(opened))
}

func deviceComesBack(c *scene) {
	lot := c.device("SN-1")
	c.receive(lot, 1, northStore)
	m := move(lot, 1, northStore, lost, inventory.ReasonLost)
	m.Cause = inventory.CauseMissing
	c.post(m, move(lot, 1, lost, southStore, inventory.ReasonFound))
	assert.Equal(c.t, map[string]int{southStore: 1}, c.held(lot))
}

func movementNames(c *scene) {
	c.receive(c.lot, 1, northStore)
	c.refusedMoves(move(c.lot, 1, northStore, "NOWHERE", inventory.ReasonStow))
	c.refusedMoves(move(inventory.Lot{ID: c.lot.ID + 99}, 1, northStore, bagOne, inventory.ReasonStow))
	c.refusedMoves(move(c.lot, 1, supplier, used, inventory.ReasonUsed))
	c.refusedMoves(move(c.lot, 1, northStore, northStore, inventory.ReasonTransfer))
	absent(c, movement(9999))
}

func positionsMoveOn(c *scene) {
	c.receive(c.lot, 5, northStore)
	assert.Zero(c.t, c.position(bagOne))
	c.post(move(c.lot, 2, northStore, bagOne, inventory.ReasonStow), move(c.lot, 1, bagOne, bagTwo,
		inventory.ReasonTransfer),
		move(c.lot, 1, northStore, southStore, inventory.ReasonTransfer))
	assert.EqualValues(c.t, 2, c.position(bagOne))
	assert.EqualValues(c.t, 1, c.position(bagTwo))
}

func movedSince(c *scene) {
	split := c.ensure(inventory.Clocks{OpenedOn: inventory.MustDay("2026-11-25")})
	c.receive(c.lot, 9, northStore)
	c.post(move(c.lot, 4, northStore, bagOne, inventory.ReasonStow)) // position 1
	c.write(func(w inventory.Writer) error {                         // position 2
		return w.AddSeal(inventory.SealEntry{Bag: bagOne, HappenedAt: noon, By: "Sil", Event: inventory.SealWasSet,
			Number: "S"})
	})
	opened := move(c.lot, 1, bagOne, bagOne, inventory.ReasonTransfer)
	opened.IntoLotID, opened.Reference = split.ID, "I-1"
	// position 3
	c.post(opened)
	// 4, 5
	c.post(move(c.lot, 2, northStore, bagOne, inventory.ReasonStow), move(split, 1, bagOne, northStore,
		inventory.ReasonReturn))
	assert.EqualValues(c.t, 5, c.position(bagOne))
	for position, want := range map[int64]map[int64]int{
		0: {c.lot.ID: 5}, 1: {c.lot.ID: 1}, 2: {c.lot.ID: 1}, 3: {c.lot.ID: 2, split.ID: -1}, 4: {split.ID: -1}, 5: {},
		99: {},
	} {
		assert.Equal(c.t, want, got(c, func(r inventory.Reader) (map[int64]int, error) {
			return r.MovedSince(bagOne,
				position)
		}), position)
	}
	events := got(c, func(r inventory.Reader) ([]inventory.BagEvent, error) { return r.BagEvents(bagOne, 1) })
	require.Len(c.t, events, 4)
	assert.Equal(c.t, []bool{false, true, true, true}, []bool{events[0].Moved, events[1].Moved, events[2].Moved,
		events[3].Moved})
	assert.Equal(c.t, []any{noon, "Sil"}, []any{events[0].HappenedAt, events[0].By})
	assert.Equal(c.t, []any{opened.HappenedAt, opened.By, "I-1"}, []any{events[1].HappenedAt, events[1].By,
		events[1].Incident})
	assert.Empty(c.t, got(c, func(r inventory.Reader) ([]inventory.BagEvent, error) { return r.BagEvents(bagOne, 5) }))
}

func thousandMovements(c *scene) {
	c.receive(c.lot, 5000, northStore)
	var ms []inventory.Movement
	for i := range 1000 {
		ms = append(ms, move(c.lot, 2, northStore, []string{bagOne, bagTwo}[i%2], inventory.ReasonStow))
	}
	kept := c.post(ms...)
	for i, m := range kept {
		require.EqualValues(c.t, i+2, m.Seq)
		require.Equal(c.t, ms[i].To, m.To)
	}
	assert.Equal(c.t, map[string]int{northStore: 3000, bagOne: 1000, bagTwo: 1000}, c.held(c.lot))
	assert.EqualValues(c.t, 500, c.position(bagTwo))
	assertChain(c, north, 1001)
}

func reasonsAndCauses(c *scene) {
	c.receive(c.lot, 100, northStore)
	causes := []inventory.Cause{
		"", inventory.CauseExpired, inventory.CauseDamaged, inventory.CauseWasted, inventory.CauseTraining,
		inventory.CauseRecalled, inventory.CauseMissing, inventory.CauseOther,
	}
	for i, reason := range inventory.Reasons {
		m := move(c.lot, 1, northStore, southStore, reason)
		m.Cause = causes[i%len(causes)]
		if reason == inventory.ReasonCorrection {
			m.Corrects = 1
		}
		kept := c.post(m)
		assert.Equal(c.t, reason, got(c, movement(kept[0].ID)).Reason)
	}
	bad := move(c.lot, 1, northStore, southStore, "whim")
	c.refusedMoves(bad)
}
