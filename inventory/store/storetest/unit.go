package storetest

import (
	"context"
	"errors"
	"sync"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

var unitPromises = []promise{
	{"an error leaves nothing", errorLeavesNothing},
	{"a panic leaves nothing", panicLeavesNothing},
	{"a cancelled context leaves nothing", cancelLeavesNothing},
	{"a write joins the write around it", writeJoins},
	{"a failed inner write can be survived", innerFailureSurvived},
	{"a panic in an inner write leaves nothing", innerPanicLeavesNothing},
	{"a long write is entered in its chain bit by bit, without what failed in it", longWriteEntered},
	{"a read joins the write around it", readJoins},
	{"a write inside a read is refused", writeInsideRead},
	{"a failed method changes nothing and the work goes on", failedMethod},
	{"what is tried is seen there alone, and nobody waits for it", triedAlone},
	{"what is tried is refused as what is written", triedRefused},
	{"a read is one snapshot", readIsSnapshot},
	{"no reader sees half of a change", noHalfChange},
	{"writers take turns", writersTakeTurns},
	{"writers at two stations do not lose each other's work", writersCross},
	{"it answers and knows its name", answersPing},
}

var errOnPurpose = errors.New("on purpose")

func addSpare(w inventory.Writer, code string) error {
	return w.AddStation(inventory.Station{Code: code, Name: code, Timezone: "UTC"})
}

func spare(code string) func(inventory.Reader) (inventory.Station, error) {
	return func(r inventory.Reader) (inventory.Station, error) { return r.Station(code) }
}

func errorLeavesNothing(c *scene) {
	before := c.receive(c.lot, 5, northStore)
	err := c.tryWrite(func(w inventory.Writer) error {
		require.NoError(c.t, addSpare(w, "EAST"))
		_, err := w.AppendMovements([]inventory.Movement{move(c.lot, 2, northStore, bagOne, inventory.ReasonStow)})
		require.NoError(c.t, err)
		return errOnPurpose
	})
	require.ErrorIs(c.t, err, errOnPurpose)
	absent(c, spare("EAST"))
	assert.Equal(c.t, map[string]int{northStore: 5}, c.held(c.lot))
	assert.Zero(c.t, c.position(bagOne))
	head := got(c, func(r inventory.Reader) (inventory.Head, error) { return r.Head(north) })
	assert.Equal(c.t, inventory.Head{Station: north, Seq: 1, Hash: before.Hash}, head)
}

func panicLeavesNothing(c *scene) {
	require.PanicsWithError(c.t, errOnPurpose.Error(), func() {
		_ = c.tryWrite(func(w inventory.Writer) error {
			require.NoError(c.t, addSpare(w, "EAST"))
			panic(errOnPurpose)
		})
	})
	absent(c, spare("EAST"))
	c.write(func(w inventory.Writer) error { return addSpare(w, "EAST") }) // the writer is free again
}

func cancelLeavesNothing(c *scene) {
	ctx, cancel := context.WithCancel(c.t.Context())
	err := c.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
		require.NoError(c.t, addSpare(w, "EAST"))
		cancel()
		return nil
	})
	require.ErrorIs(c.t, err, context.Canceled)
	absent(c, spare("EAST"))
}

func writeJoins(c *scene) {
	err := c.store.Write(c.t.Context(), func(ctx context.Context, w inventory.Writer) error {
		require.NoError(c.t, c.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
			return addSpare(w,
				"EAST")
		}))
		_, err := w.Station("EAST")
		require.NoError(c.t, err, "the work around it sees it")
		return errOnPurpose
	})
	require.ErrorIs(c.t, err, errOnPurpose)
	absent(c, spare("EAST"))
}

func innerFailureSurvived(c *scene) {
	require.NoError(c.t, c.store.Write(c.t.Context(), func(ctx context.Context, w inventory.Writer) error {
		require.NoError(c.t, addSpare(w, "EAST"))
		err := c.store.Write(ctx, func(ctx context.Context, w inventory.Writer) error {
			require.NoError(c.t, addSpare(w, "WEST"))
			return c.store.Write(ctx, func(_ context.Context, w inventory.Writer) error { return addSpare(w, "EAST") })
		})
		assert.Equal(c.t, inventory.Conflict, inventory.KindOf(err))
		return addSpare(w, "HILL")
	}))
	got(c, spare("EAST"))
	got(c, spare("HILL"))
	absent(c, spare("WEST"))
}

func innerPanicLeavesNothing(c *scene) {
	require.Panics(c.t, func() {
		_ = c.store.Write(c.t.Context(), func(ctx context.Context, w inventory.Writer) error {
			require.NoError(c.t, addSpare(w, "EAST"))
			return c.store.Write(ctx, func(context.Context, inventory.Writer) error { panic("on purpose") })
		})
	})
	absent(c, spare("EAST"))
}

func readJoins(c *scene) {
	require.NoError(c.t, c.store.Write(c.t.Context(), func(ctx context.Context, w inventory.Writer) error {
		require.NoError(c.t, addSpare(w, "EAST"))
		return c.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
			_, err := r.Station("EAST")
			return err
		})
	}))
}

func writeInsideRead(c *scene) {
	err := c.store.Read(c.t.Context(), func(ctx context.Context, _ inventory.Reader) error {
		return c.store.Write(ctx, func(_ context.Context, w inventory.Writer) error { return addSpare(w, "EAST") })
	})
	require.Error(c.t, err)
	absent(c, spare("EAST"))
}

// failedMethod tries a method of two rows whose second row fails.
func failedMethod(c *scene) {
	c.write(func(w inventory.Writer) error {
		err := w.AddBag(inventory.Bag{Code: "BAG-9", Station: north, KitList: "NONE", KitListVersion: 1, Priority: 1,
			Purpose: inventory.ForIssue})
		assert.Equal(c.t, inventory.Conflict, inventory.KindOf(err), "%v", err)
		_, err = w.Place("BAG-9")
		assert.Equal(c.t, inventory.NotFound, inventory.KindOf(err), "its place was not added either")
		assert.Equal(c.t, inventory.Conflict, inventory.KindOf(addSpare(w, north)))
		return addSpare(w, "EAST")
	})
	got(c, spare("EAST"))
}

func readIsSnapshot(c *scene) {
	c.receive(c.lot, 5, northStore)
	c.read(func(r inventory.Reader) error {
		before, err := r.Stock(inventory.StockFilter{})
		require.NoError(c.t, err)
		c.post(move(c.lot, 2, northStore, bagOne, inventory.ReasonStow)) // another unit of work, not of this context
		// asked otherwise, so that it is no memory
		after, err := r.Stock(inventory.StockFilter{Batches: []int64{c.batch.ID}})
		require.NoError(c.t, err)
		assert.Equal(c.t, before, after)
		head, err := r.Head(north)
		assert.EqualValues(c.t, 1, head.Seq)
		return err
	})
	assert.Equal(c.t, map[string]int{northStore: 3, bagOne: 2}, c.held(c.lot))
}

// noHalfChange moves units to and fro while readers add them up: the sum never
// changes, and the chain's head goes with the position of the bag.
func noHalfChange(c *scene) {
	c.receive(c.lot, 10, northStore)
	var wg sync.WaitGroup
	done := make(chan struct{})
	for range 3 {
		wg.Go(func() {
			for {
				c.read(func(r inventory.Reader) error { return sumIs(c, r, 10) })
				select {
				case <-done:
					return
				default:
				}
			}
		})
	}
	for range 30 {
		c.post(move(c.lot, 3, northStore, bagOne, inventory.ReasonStow), move(c.lot, 3, bagOne, northStore,
			inventory.ReasonReturn),
			move(c.lot, 1, northStore, bagOne, inventory.ReasonStow))
		c.post(move(c.lot, 1, bagOne, northStore, inventory.ReasonReturn))
	}
	close(done)
	wg.Wait()
}

func sumIs(c *scene, r inventory.Reader, want int) error {
	b, err := r.Bag(bagOne)
	if err != nil {
		return err
	}
	stock, err := r.Stock(inventory.StockFilter{Lots: []int64{c.lot.ID}})
	if err != nil {
		return err
	}
	head, err := r.Head(north)
	sum := 0
	for _, s := range stock {
		sum += s.Qty
	}
	assert.Equal(c.t, want, sum)
	assert.Equal(c.t, b.Position+1, head.Seq, "every movement but the receipt touches the bag")
	return err
}

func writersTakeTurns(c *scene) {
	c.receive(c.lot, 100, northStore)
	const writers, each = 8, 10
	var wg sync.WaitGroup
	for range writers {
		wg.Go(func() {
			for range each {
				err := c.tryWrite(func(w inventory.Writer) error {
					if err := w.LockBags([]string{bagOne}); err != nil {
						return err
					}
					_, err := w.AppendMovements([]inventory.Movement{move(c.lot, 1, northStore, bagOne, inventory.ReasonStow)})
					return err
				})
				assert.NoError(c.t, err)
			}
		})
	}
	wg.Wait()
	assert.Equal(c.t, map[string]int{northStore: 100 - writers*each, bagOne: writers * each}, c.held(c.lot))
	assert.EqualValues(c.t, writers*each, c.position(bagOne))
	assertChain(c, north, 1+writers*each)
}

// writersCross moves units between two stations in both directions, locking bags
// in an order that invites writers to wait for each other.
func writersCross(c *scene) {
	c.receive(c.lot, 50, northStore)
	c.receive(c.lot, 50, southStore)
	var wg sync.WaitGroup
	for i := range 6 {
		from, to, bag := northStore, southStore, bagOne
		if i%2 == 1 {
			from, to, bag = southStore, northStore, bagTwo
		}
		wg.Go(func() {
			for range 8 {
				err := c.tryWrite(func(w inventory.Writer) error {
					if err := w.LockBags([]string{bag}); err != nil {
						return err
					}
					_, err := w.AppendMovements([]inventory.Movement{
						move(c.lot, 1, from, to, inventory.ReasonTransfer), move(c.lot, 1, from, bag, inventory.ReasonStow),
					})
					return err
				})
				assert.NoError(c.t, err)
			}
		})
	}
	wg.Wait()
	assert.Equal(c.t, map[string]int{northStore: 26, southStore: 26, bagOne: 24, bagTwo: 24}, c.held(c.lot))
	assertChain(c, north, 1+48)
	assertChain(c, south, 1+48)
}

func answersPing(c *scene) {
	require.NoError(c.t, c.store.Probe(c.t.Context()))
	assert.Contains(c.t, []string{"sqlite", "postgres"}, c.store.Engine())
}

// longWriteEntered: an import notes more than is kept in memory at a time.
func longWriteEntered(c *scene) {
	const many = 4500
	some := make([]inventory.HistoryEntry, many)
	for i := range some {
		some[i] = inventory.HistoryEntry{RecordedAt: noon, By: "Ada", Kind: inventory.HistoryItem, Detail: "some",
			Station: []string{north, south, ""}[i%3]}
	}
	before, factsBefore := chained(c)
	require.NoError(c.t, c.store.Write(c.t.Context(), func(ctx context.Context, w inventory.Writer) error {
		require.NoError(c.t, w.AddHistory(some))
		err := c.store.Write(ctx, func(_ context.Context, w inventory.Writer) error {
			require.NoError(c.t, addSpare(w, "EAST"))
			require.NoError(c.t, w.AddHistory(some))
			return errOnPurpose
		})
		assert.ErrorIs(c.t, err, errOnPurpose)
		require.NoError(c.t, addSpare(w, "WEST"))
		return w.AddHistory(some[:10])
	}))
	entries, facts := chained(c)
	assert.Equal(c.t, before+many+10, entries)
	assert.Equal(c.t, factsBefore+1, facts, "one station was added")
}

// chained counts the entries of all chains and the facts in them. They must hold from end to end.
func chained(c *scene) (entries, facts int) {
	c.t.Helper()
	c.read(func(r inventory.Reader) error {
		last := map[string]inventory.Head{}
		err := r.ChainEntries(inventory.ChainFilter{}, func(e inventory.ChainEntry) error {
			h := last[e.Chain]
			require.Equal(c.t, h.Seq+1, e.Seq, e.Chain)
			require.Equal(c.t, inventory.EntryHash(h.Hash, e.Form), e.Hash, e.Chain)
			last[e.Chain] = inventory.Head{Station: e.Chain, Seq: e.Seq, Hash: e.Hash}
			entries, facts = entries+1, facts+len(e.Facts)
			return nil
		})
		require.NoError(c.t, err)
		heads, err := r.Heads()
		for _, h := range heads {
			if h.Seq > 0 {
				assert.Equal(c.t, h, last[h.Station])
			}
		}
		return err
	})
	return entries, facts
}

func triedAlone(c *scene) {
	c.receive(c.lot, 5, northStore)
	before := chainedHeads(c)
	require.NoError(c.t, c.store.Try(c.t.Context(), func(ctx context.Context, w inventory.Writer) error {
		require.NoError(c.t, addSpare(w, "EAST"))
		_, err := w.AppendMovements([]inventory.Movement{move(c.lot, 5, northStore, bagOne, inventory.ReasonStow)})
		require.NoError(c.t, err)
		require.NoError(c.t, c.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
			_, err := r.Station("EAST")
			return err
		}))
		// others go on: they see nothing of it, and move the same units
		absent(c, spare("EAST"))
		assert.Equal(c.t, before, chainedHeads(c))
		c.post(move(c.lot, 4, northStore, bagTwo, inventory.ReasonStow))
		return w.UpdateStation(inventory.Station{Code: "EAST", ClosedAt: noon})
	}))
	absent(c, spare("EAST"))
	assert.Equal(c.t, map[string]int{northStore: 1, bagTwo: 4}, c.held(c.lot))
	chained(c)
	added := c.post(move(c.lot, 1, northStore, bagOne, inventory.ReasonStow))
	assert.EqualValues(c.t, 3, added[0].Seq)
}

func chainedHeads(c *scene) []inventory.Head {
	c.t.Helper()
	return got(c, func(r inventory.Reader) ([]inventory.Head, error) { return r.Heads() })
}

func triedRefused(c *scene) {
	c.receive(c.lot, 1, northStore)
	for _, fn := range []func(w inventory.Writer) error{
		func(w inventory.Writer) error { return addSpare(w, north) },
		func(w inventory.Writer) error {
			_, err := w.AppendMovements([]inventory.Movement{move(c.lot, 2, northStore, bagOne, inventory.ReasonStow)})
			return err
		},
		func(w inventory.Writer) error {
			return w.AddPlace(inventory.Place{Code: "NEW", Name: "New", Kind: inventory.KindStore, Station: "NONE"})
		},
		func(inventory.Writer) error { return errOnPurpose },
	} {
		want := c.tryWrite(fn)
		require.Error(c.t, want)
		err := c.store.Try(c.t.Context(), func(_ context.Context, w inventory.Writer) error { return fn(w) })
		assert.Equal(c.t, inventory.KindOf(want), inventory.KindOf(err), "%v: %v", want, err)
	}
}
