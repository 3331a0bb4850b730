package store_test

import (
	"context"
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// benchEngines runs a benchmark on every engine that there is.
func benchEngines(b *testing.B, bench func(b *testing.B, s inventory.Store)) {
	engines := []string{store.SQLite}
	if os.Getenv(storetest.PostgresVariable) != "" {
		engines = append(engines, store.Postgres)
	}
	for _, engine := range engines {
		b.Run(engine, func(b *testing.B) { bench(b, storetest.Open(b, storetest.Database(b, engine))) })
	}
}

// benchAt is when everything in a benchmark happens.
const benchAt inventory.Instant = 1_800_000_000_000_000

func benchMove(lot int64, qty int, from, to string, reason inventory.Reason) inventory.Movement {
	return inventory.Movement{LotID: lot, Qty: qty, From: from, To: to, Reason: reason, HappenedAt: benchAt,
		RecordedAt: benchAt}
}

// fillBags makes bags with so many lots in each, stowed from one store.
func fillBags(tb testing.TB, s inventory.Store, bags, lots int) {
	tb.Helper()
	write := func(fn func(w inventory.Writer) error) {
		require.NoError(tb, s.Write(tb.Context(), func(_ context.Context, w inventory.Writer) error { return fn(w) }))
	}
	write(func(w inventory.Writer) error { return fillStore(tb, w, bags, lots) })
	for i := range bags { // each on its own: PostgreSQL slows down where one transaction changes a row again and again
		write(func(w inventory.Writer) error {
			code := fmt.Sprintf("B-%05d", i)
			require.NoError(tb, w.AddBag(inventory.Bag{
				Code: code, Station: "NORTH", KitList: "K", KitListVersion: 1, Priority: 5, Purpose: inventory.ForIssue,
			}))
			var ms []inventory.Movement
			for id := range int64(lots) {
				ms = append(ms, benchMove(id+1, 1, "NORTH-STORE", code, inventory.ReasonStow))
			}
			_, err := w.AppendMovements(ms)
			return err
		})
	}
}

func fillStore(tb testing.TB, w inventory.Writer, bags, lots int) error {
	station := inventory.Station{Code: "NORTH", Name: "North", Timezone: "Europe/London"}
	require.NoError(tb, w.AddStation(station))
	for _, p := range station.StationPlaces() {
		require.NoError(tb, w.AddPlace(p))
	}
	require.NoError(tb, w.AddItem(inventory.Item{
		Code: "I", Name: "i", Category: inventory.CategoryOther, Unit: "each", TrackedBy: inventory.ByLot,
	}))
	require.NoError(tb, w.AddKitList(inventory.KitList{Code: "K", Version: 1, Name: "k",
		Lines: []inventory.Line{{Item: "I", Par: 1}}}))
	var ms []inventory.Movement
	for i := range lots {
		bs, err := w.AddBatches([]inventory.Batch{{
			Item: "I", BatchNo: fmt.Sprint("L", i), EndPrinted: "2028-02", EndWording: inventory.WordExpiry,
			LastUsable: inventory.MustDay("2028-02-29"),
		}})
		require.NoError(tb, err)
		l, err := w.EnsureLots([]inventory.Lot{{Batch: bs[0], Clocks: inventory.Clocks{
			StowedOn: inventory.MustDay("2026-01-01")}, ReceivedOn: inventory.MustDay("2026-01-01")}})
		require.NoError(tb, err)
		ms = append(ms, benchMove(l[0].ID, bags+1000, "supplier", "NORTH-STORE", inventory.ReasonReceipt))
	}
	_, err := w.AppendMovements(ms)
	return err
}

func reading(b *testing.B, s inventory.Store, read func(r inventory.Reader) error) {
	b.ReportAllocs()
	for b.Loop() {
		require.NoError(b, s.Read(b.Context(), func(_ context.Context, r inventory.Reader) error { return read(r) }))
	}
}

// BenchmarkStock reads the stock of 2,500 bags with 40 lots each, and of one.
func BenchmarkStock(b *testing.B) {
	benchEngines(b, func(b *testing.B, s inventory.Store) {
		fillBags(b, s, 2500, 40)
		b.Run("all", func(b *testing.B) {
			reading(b, s, func(r inventory.Reader) error {
				st, err := r.Stock(inventory.StockFilter{Kinds: []inventory.PlaceKind{inventory.KindBag}})
				require.Len(b, st, 100_000)
				return err
			})
		})
		b.Run("bag", func(b *testing.B) {
			reading(b, s, func(r inventory.Reader) error {
				st, err := r.Stock(inventory.StockFilter{Places: []string{"B-00077"}})
				require.Len(b, st, 40)
				return err
			})
		})
		b.Run("bags", func(b *testing.B) {
			reading(b, s, func(r inventory.Reader) error {
				list, err := r.Bags(inventory.BagFilter{}, inventory.Page{})
				require.Len(b, list, 2500)
				return err
			})
		})
	})
}

// BenchmarkAppend appends movements between one store and one bag, to and fro.
func BenchmarkAppend(b *testing.B) {
	benchEngines(b, func(b *testing.B, s inventory.Store) {
		fillBags(b, s, 1, 40)
		for _, n := range []int{1, 40, 1000} {
			b.Run(fmt.Sprint(n), func(b *testing.B) {
				for b.Loop() {
					var ms []inventory.Movement
					for i := range n / 2 {
						ms = append(ms, benchMove(int64(i%40+1), 1, "NORTH-STORE", "B-00000", inventory.ReasonStow),
							benchMove(int64(i%40+1), 1, "B-00000", "NORTH-STORE", inventory.ReasonReturn))
					}
					if n == 1 {
						ms = append(ms, benchMove(1, 1, "supplier", "NORTH-STORE", inventory.ReasonReceipt))
					}
					require.NoError(b, s.Write(b.Context(), func(_ context.Context, w inventory.Writer) error {
						_, err := w.AppendMovements(ms)
						return err
					}))
				}
			})
		}
	})
}
