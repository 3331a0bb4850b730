package storetest

import (
	"context"
	"slices"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

var lookPromises = []promise{
	{"all reads of a request that only looks see one snapshot", lookIsSnapshot},
	{"a request that only looks cannot write", lookCannotWrite},
	{"a look that is done gives its connection back", lookGivesBack},
	{"a look ends with its request", lookEndsWithRequest},
	{"a look goes on after a read that failed", lookSurvivesFailure},
	{"what is asked again is answered alike", askedAgain},
	{"lists are the caller's own", listsAreOwn},
}

// seenIn reads the head of the northern chain, which is not told from memory.
func (c *scene) seenIn(ctx context.Context) (seq int64) {
	c.t.Helper()
	require.NoError(c.t, c.store.Read(ctx, func(ctx context.Context, _ inventory.Reader) error {
		return c.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
			head, err := r.Head(north)
			seq = head.Seq
			return err
		})
	}))
	return seq
}

func lookIsSnapshot(c *scene) {
	ctx, done := inventory.Look(c.t.Context())
	defer done()
	c.receive(c.lot, 5, northStore)
	assert.EqualValues(c.t, 1, c.seenIn(ctx), "it is opened by the first read")
	c.receive(c.lot, 5, northStore)
	assert.EqualValues(c.t, 1, c.seenIn(ctx))
	assert.EqualValues(c.t, 2, c.seenIn(c.t.Context()), "others see what there is")
	within, end := inventory.Look(ctx)
	assert.EqualValues(c.t, 1, c.seenIn(within))
	end()
	assert.EqualValues(c.t, 1, c.seenIn(ctx), "a look within ends no other")
	done()
	assert.EqualValues(c.t, 2, c.seenIn(ctx))
}

func lookCannotWrite(c *scene) {
	ctx, done := inventory.Look(c.t.Context())
	write := func() error {
		return c.store.Write(ctx, func(_ context.Context, w inventory.Writer) error { return addSpare(w, "EAST") })
	}
	require.Equal(c.t, inventory.Internal, inventory.KindOf(write()))
	c.seenIn(ctx)
	require.Equal(c.t, inventory.Internal, inventory.KindOf(write()), "nor after a read")
	done()
	require.Equal(c.t, inventory.Internal, inventory.KindOf(write()), "nor when it is done")
	absent(c, spare("EAST"))
}

func lookGivesBack(c *scene) {
	patience, cancel := context.WithTimeout(c.t.Context(), 20*time.Second)
	defer cancel()
	for range 40 { // more than there are connections
		ctx, done := inventory.Look(patience)
		c.seenIn(ctx)
		done()
		done()
	}
	c.seenIn(patience)
}

func lookEndsWithRequest(c *scene) {
	request, gone := context.WithCancel(c.t.Context())
	ctx, done := inventory.Look(request)
	defer done()
	c.seenIn(ctx)
	gone()
	err := c.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		_, err := r.Head(north)
		return err
	})
	require.ErrorIs(c.t, err, context.Canceled)
}

// lookSurvivesFailure asks for a code that PostgreSQL cannot read.
func lookSurvivesFailure(c *scene) {
	ctx, done := inventory.Look(c.t.Context())
	defer done()
	require.Error(c.t, c.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		_, err := r.Bag("\x00")
		return err
	}))
	c.seenIn(ctx)
}

// question asks for something, in its plainest form.
type question func(r inventory.Reader) (any, error)

func questions(c *scene) []question {
	all := inventory.Page{}
	return []question{
		func(r inventory.Reader) (any, error) { return r.Stations() },
		func(r inventory.Reader) (any, error) { return r.Station(south) },
		func(r inventory.Reader) (any, error) { return r.Places(inventory.PlaceFilter{}, all) },
		func(r inventory.Reader) (any, error) {
			return r.Places(inventory.PlaceFilter{Kind: inventory.KindBag}, all)
		},
		func(r inventory.Reader) (any, error) {
			return r.Places(inventory.PlaceFilter{}, inventory.Page{Limit: 1})
		},
		func(r inventory.Reader) (any, error) { return r.Place(northStore) },
		func(r inventory.Reader) (any, error) { return r.Place("supplier") },
		func(r inventory.Reader) (any, error) { return r.Items(inventory.ItemFilter{}, all) },
		func(r inventory.Reader) (any, error) { return r.Item(bandage) },
		func(r inventory.Reader) (any, error) { return r.KitLists(all) },
		func(r inventory.Reader) (any, error) { return r.KitListVersions(nil) },
		func(r inventory.Reader) (any, error) { return r.KitList("KIT", 0) },
		func(r inventory.Reader) (any, error) { return r.KitList("KIT", 1) },
		func(r inventory.Reader) (any, error) { return r.KitList("KIT", 2) },
		func(r inventory.Reader) (any, error) { return r.Bags(inventory.BagFilter{}, all) },
		func(r inventory.Reader) (any, error) { return r.Bag(bagTwo) },
		func(r inventory.Reader) (any, error) { return r.Bag("BAG-9") },
		func(r inventory.Reader) (any, error) { return r.Lot(c.lot.ID) },
		func(r inventory.Reader) (any, error) { return r.Stock(inventory.StockFilter{}) },
		func(r inventory.Reader) (any, error) { return r.Stock(inventory.StockFilter{Places: []string{bagOne}}) },
		func(r inventory.Reader) (any, error) { return r.Products(inventory.ProductFilter{}, all) },
		func(r inventory.Reader) (any, error) { return r.Notices(inventory.NoticeFilter{}, all) },
		func(r inventory.Reader) (any, error) { return r.RegisterKeys() },
	}
}

// askedAgain asks everything twice in one read, and compares it with what each says that is asked alone.
func askedAgain(c *scene) {
	c.receive(c.lot, 5, northStore)
	c.post(move(c.lot, 2, northStore, bagOne, inventory.ReasonStow))
	type answer struct {
		value any
		kind  inventory.ErrorKind
	}
	var want []answer
	for _, ask := range questions(c) {
		_ = c.tryWrite(func(w inventory.Writer) error { // a writer forgets
			v, err := ask(w)
			want = append(want, answer{v, inventory.KindOf(err)})
			return nil
		})
	}
	c.read(func(r inventory.Reader) error {
		for range 2 {
			for i, ask := range questions(c) {
				v, err := ask(r)
				assert.Equal(c.t, want[i], answer{v, inventory.KindOf(err)}, "question %d", i)
			}
		}
		return nil
	})
}

func listsAreOwn(c *scene) {
	c.read(func(r inventory.Reader) error {
		for range 2 {
			stations, err := r.Stations()
			require.NoError(c.t, err)
			require.Equal(c.t, north, stations[0].Code)
			slices.Reverse(stations)
		}
		return nil
	})
}
