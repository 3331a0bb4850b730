package storetest

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

// noon is the instant of the scene. Its microseconds are all in use.
var noon = inventory.InstantOf(time.Date(2026, 11, 25, 12, 0, 0, 123456000, time.UTC))

// scene is a small invented service to try promises on: two stations, two items,
// a kit list, a bag at each station, and a batch with one lot.
type scene struct {
	t     *testing.T
	store inventory.Store
	list  inventory.KitList
	batch inventory.Batch
	lot   inventory.Lot
}

const (
	north, south           = "NORTH", "SOUTH"
	northStore, southStore = "NORTH-STORE", "SOUTH-STORE"
	bagOne, bagTwo         = "BAG-1", "BAG-2"
	bandage, thermometer   = "BANDAGE", "THERMOMETER"
)

// newScene fills an empty store.
func newScene(t *testing.T, s inventory.Store) *scene {
	t.Helper()
	c := &scene{t: t, store: s}
	c.write(func(w inventory.Writer) error {
		for _, station := range []inventory.Station{
			{Code: south, Name: "South", Timezone: "Europe/Athens"}, {Code: north, Name: "North", Timezone: "Europe/London"},
		} {
			if err := w.AddStation(station); err != nil {
				return err
			}
			for _, p := range station.StationPlaces() {
				if err := w.AddPlace(p); err != nil {
					return err
				}
			}
		}
		return nil
	})
	c.write(func(w inventory.Writer) error {
		if err := w.AddItem(inventory.Item{
			Code: bandage, Name: "bandage", Category: inventory.CategoryPressureDressing, Unit: "each",
			TrackedBy: inventory.ByLot,
		}); err != nil {
			return err
		}
		return w.AddItem(inventory.Item{
			Code: thermometer, Name: "thermometer", Category: inventory.CategoryDiagnostic, Unit: "each",
			TrackedBy: inventory.BySerial,
		})
	})
	c.list = inventory.KitList{Code: "KIT", Version: 1, Name: "kit", Lines: []inventory.Line{{Item: bandage, Par: 2,
		Minimum: 1}}}
	c.write(func(w inventory.Writer) error { return w.AddKitList(c.list) })
	c.addBag(bagOne, north)
	c.addBag(bagTwo, south)
	c.batch, c.lot = c.addLot(inventory.Batch{
		Item: bandage, BatchNo: "B-1", EndPrinted: "2028-02", EndWording: inventory.WordExpiry,
		LastUsable: inventory.MustDay("2028-02-29"),
	})
	return c
}

func (c *scene) write(fn func(w inventory.Writer) error) {
	c.t.Helper()
	require.NoError(c.t, c.tryWrite(fn))
}

func (c *scene) tryWrite(fn func(w inventory.Writer) error) error {
	return c.store.Write(c.t.Context(), func(_ context.Context, w inventory.Writer) error { return fn(w) })
}

func (c *scene) read(fn func(r inventory.Reader) error) {
	c.t.Helper()
	require.NoError(c.t, c.store.Read(c.t.Context(), func(_ context.Context, r inventory.Reader) error { return fn(r) }))
}

// refused runs a write that must fail with a kind and a message.
func (c *scene) refused(kind inventory.ErrorKind, fn func(w inventory.Writer) error) {
	c.t.Helper()
	err := c.tryWrite(fn)
	require.Equal(c.t, kind, inventory.KindOf(err), "%v", err)
	var own *inventory.Error
	require.ErrorAs(c.t, err, &own)
	require.NotEmpty(c.t, own.Message)
}

// got reads one thing that must be there.
func got[T any](c *scene, get func(r inventory.Reader) (T, error)) T {
	c.t.Helper()
	var out T
	c.read(func(r inventory.Reader) (err error) {
		out, err = get(r)
		return err
	})
	return out
}

// absent reads one thing that must not be there.
func absent[T any](c *scene, get func(r inventory.Reader) (T, error)) {
	c.t.Helper()
	err := c.store.Read(c.t.Context(), func(_ context.Context, r inventory.Reader) error {
		_, err := get(r)
		return err
	})
	require.Equal(c.t, inventory.NotFound, inventory.KindOf(err), "%v", err)
}

func (c *scene) addBag(code, station string) {
	c.t.Helper()
	c.write(func(w inventory.Writer) error {
		return w.AddBag(inventory.Bag{
			Code: code, Station: station, Name: "bag " + code, KitList: "KIT", KitListVersion: 1, Priority: 5,
			Purpose: inventory.ForIssue,
		})
	})
}

func (c *scene) addLot(b inventory.Batch) (inventory.Batch, inventory.Lot) {
	c.t.Helper()
	var lot inventory.Lot
	c.write(func(w inventory.Writer) (err error) {
		bs, err := w.AddBatches([]inventory.Batch{b})
		if err != nil {
			return err
		}
		b = bs[0]
		lot, err = ensured(w, inventory.Lot{Batch: b, ReceivedOn: inventory.MustDay("2026-11-01")})
		return err
	})
	return b, lot
}

// ensured returns one lot, made where it does not exist.
func ensured(w inventory.Writer, l inventory.Lot) (inventory.Lot, error) {
	ls, err := w.EnsureLots([]inventory.Lot{l})
	if err != nil {
		return inventory.Lot{}, err
	}
	return ls[0], nil
}

// device adds a thermometer's lot.
func (c *scene) device(serial string) inventory.Lot {
	c.t.Helper()
	_, lot := c.addLot(inventory.Batch{Item: thermometer, Serial: serial})
	return lot
}

// move is a movement of a lot.
func move(lot inventory.Lot, qty int, from, to string, reason inventory.Reason) inventory.Movement {
	return inventory.Movement{
		LotID: lot.ID, IntoLotID: lot.ID, Qty: qty, From: from, To: to, Reason: reason, HappenedAt: noon - 1,
		RecordedAt: noon, By: "A. Tester",
	}
}

// post appends movements that must be taken.
func (c *scene) post(ms ...inventory.Movement) []inventory.Movement {
	c.t.Helper()
	var out []inventory.Movement
	c.write(func(w inventory.Writer) (err error) {
		out, err = w.AppendMovements(ms)
		return err
	})
	return out
}

// receive puts units of a lot into a store.
func (c *scene) receive(lot inventory.Lot, qty int, place string) inventory.Movement {
	c.t.Helper()
	return c.post(move(lot, qty, string(inventory.KindSupplier), place, inventory.ReasonReceipt))[0]
}

// held returns the quantities of a lot by place.
func (c *scene) held(lot inventory.Lot) map[string]int {
	c.t.Helper()
	out := map[string]int{}
	for _, s := range got(c, func(r inventory.Reader) ([]inventory.Stock, error) {
		return r.Stock(inventory.StockFilter{Lots: []int64{lot.ID}})
	}) {
		out[s.Place] = s.Qty
	}
	return out
}

func (c *scene) position(bag string) int64 {
	c.t.Helper()
	return got(c, func(r inventory.Reader) (inventory.Bag, error) { return r.Bag(bag) }).Position
}
