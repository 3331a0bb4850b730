package store_test

import (
	"context"
	"database/sql"
	"fmt"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
)

// big is a service of many bags with forty lines each, some of them short.
type big struct {
	svc *services.All
	sql *sql.DB // the same file, for one hand-written query
	day inventory.Day
}

const (
	bigStations = 5
	bigLines    = 40
	bigLots     = 4 // of each item, the first of them past its end
)

// by is who asks in the benchmarks.
var by = inventory.Actor{Name: "bench", Role: inventory.Administrator}

func newBig(b *testing.B, bags int) *big {
	b.Helper()
	path := filepath.Join(b.TempDir(), "big.db")
	db, err := store.Open(b.Context(), path, store.Options{})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, db.Close()) })
	raw, err := sql.Open("sqlite", "file:"+path+"?_pragma=query_only(1)")
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, raw.Close()) })
	at := inventory.Instant(1_800_000_000_000_000)
	g := &big{svc: services.New(db, func() inventory.Instant { return at }, services.Options{}), sql: raw}
	require.NoError(b, g.fill(b.Context(), bags))
	return g
}

func (g *big) fill(ctx context.Context, bags int) error {
	list := inventory.KitList{Code: "K", Name: "forty lines", FullCheckDays: 30}
	return g.svc.Ledger.Together(ctx, func(ctx context.Context) error {
		for i := range bigStations {
			station := inventory.Station{Code: fmt.Sprintf("S%d", i), Name: "station", Timezone: "Europe/London"}
			if _, err := g.svc.Lists.CreateStation(ctx, by, station); err != nil {
				return err
			}
			g.day = station.Today(g.svc.Now())
		}
		for i := range bigLines {
			code := fmt.Sprintf("ITEM-%02d", i)
			it := inventory.Item{Code: code, Name: "item " + code, Category: inventory.CategoryOther, Unit: "each",
				TrackedBy: inventory.ByLot, Dated: true}
			if _, err := g.svc.Lists.CreateItem(ctx, by, it); err != nil {
				return err
			}
			list.Lines = append(list.Lines, inventory.Line{Item: code, Pouch: fmt.Sprintf("pouch %d", i/10), Par: 2, Minimum: 1})
		}
		if _, err := g.svc.Lists.CreateKitList(ctx, by, list); err != nil {
			return err
		}
		return g.stow(ctx, bags)
	})
}

// stow receives four lots of each item at each station and stows most of what
// each bag wants.
func (g *big) stow(ctx context.Context, bags int) error {
	lots := map[string][bigLots]int64{}
	for station := range bigStations {
		for i := range bigLines {
			var ids [bigLots]int64
			for n := range bigLots {
				lot, err := g.svc.Ledger.Receive(ctx, by, inventory.Receipt{Place: fmt.Sprintf("S%d-STORE", station),
					Item:    fmt.Sprintf("ITEM-%02d", i),
					BatchNo: fmt.Sprintf("%d-%d", station, n), EndPrinted: g.day.AddDays(400*n - 30).String(), Qty: 2 * bags,
					Opening: true})
				if err != nil {
					return err
				}
				ids[n] = lot.ID
			}
			lots[fmt.Sprintf("S%d/%d", station, i)] = ids
		}
	}
	for n := range bags {
		station := fmt.Sprintf("S%d", n%bigStations)
		b, err := g.svc.Lists.CreateBag(ctx, by, inventory.Bag{Code: fmt.Sprintf("B-%04d", n), Station: station, Name: "bag",
			KitList: "K", Priority: 1 + n%9})
		if err != nil {
			return err
		}
		var ms []inventory.Movement
		for i := range bigLines {
			qty := 2
			if (n*7+i*3)%11 == 0 {
				qty = 1
			}
			ids := lots[fmt.Sprintf("%s/%d", station, i)]
			ms = append(ms, inventory.Movement{LotID: ids[(n+i)%bigLots], Qty: qty, From: station + "-STORE", To: b.Code,
				Reason: inventory.ReasonStow})
		}
		if _, err := g.svc.Ledger.Move(ctx, by, ms); err != nil {
			return err
		}
	}
	return nil
}

// shortRows is the answer to "which lines hold less than par" by one query, on
// some bags and what lies in them.
const shortRows = `SELECT b.code, k.item, k.par, k.minimum, coalesce(sum(h.qty), 0)
FROM bag b JOIN kit_line k ON k.list = b.kit_list AND k.version = b.kit_list_version
LEFT JOIN (SELECT x.place, t.item, x.qty FROM balance x JOIN batch t ON t.id = x.batch_id
    WHERE (t.last_usable IS NULL OR t.last_usable >= ?1) %s) h ON h.place = b.code AND h.item = k.item
%s GROUP BY b.code, k.line HAVING coalesce(sum(h.qty), 0) < k.par ORDER BY b.code, k.line`

var shortEverywhere = fmt.Sprintf(shortRows, "", "")

// linesOfBag is every line of one bag with the lots that lie on it.
const linesOfBag = `SELECT k.item, k.pouch, k.par, k.minimum, coalesce(h.lot_id, 0), coalesce(h.qty, 0),
    coalesce(h.usable, 0)
FROM bag b JOIN kit_line k ON k.list = b.kit_list AND k.version = b.kit_list_version
LEFT JOIN (SELECT x.lot_id, t.item, x.qty, t.last_usable IS NULL OR t.last_usable >= ?1 AS usable
    FROM balance x JOIN batch t ON t.id = x.batch_id WHERE x.place = ?2) h ON h.item = k.item
WHERE b.code = ?2 ORDER BY k.line, h.lot_id`

// lineAndLot is a line of a bag's checklist with one lot on it.
type lineAndLot struct {
	item, pouch  string
	par, minimum int
	lot          int64
	qty          int
	usable       bool
}

func (g *big) lines(b *testing.B, bag string) (out []lineAndLot) {
	rows, err := g.sql.QueryContext(b.Context(), linesOfBag, g.day.String(), bag)
	require.NoError(b, err)
	defer rows.Close()
	for rows.Next() {
		var l lineAndLot
		require.NoError(b, rows.Scan(&l.item, &l.pouch, &l.par, &l.minimum, &l.lot, &l.qty, &l.usable))
		out = append(out, l)
	}
	require.NoError(b, rows.Err())
	return out
}

// linesOf is what a checklist says of the same.
func linesOf(c inventory.Checklist) (out []lineAndLot) {
	for _, p := range c.Pouches {
		for _, l := range p.Lines {
			if len(l.Lots) == 0 {
				out = append(out, lineAndLot{item: l.Item, pouch: l.Pouch, par: l.Par, minimum: l.Minimum})
			}
			for _, lot := range l.Lots {
				out = append(out, lineAndLot{l.Item, l.Pouch, l.Par, l.Minimum, lot.LotID, lot.Qty, lot.Usable})
			}
		}
	}
	return out
}

func (g *big) query(b *testing.B, text string, args ...any) (out []inventory.ShortageRow) {
	rows, err := g.sql.QueryContext(b.Context(), text, append([]any{g.day.String()}, args...)...)
	require.NoError(b, err)
	defer rows.Close()
	for rows.Next() {
		var r inventory.ShortageRow
		require.NoError(b, rows.Scan(&r.Bag, &r.Item, &r.Par, &r.Minimum, &r.Usable))
		out = append(out, r)
	}
	require.NoError(b, rows.Err())
	return out
}

// BenchmarkShortageReport makes the whole report (rows, states, first stops,
// fill plan, what to buy) at growing sizes, beside the rows alone by one
// hand-written query. The rows are the same; nothing may grow faster than the
// number of bags.
func BenchmarkShortageReport(b *testing.B) {
	for _, bags := range []int{625, 1250, 2500} {
		g := newBig(b, bags)
		rep, err := g.svc.Report.Shortages(b.Context(), by, nil, lists.Outlook{Horizon: -1})
		require.NoError(b, err)
		want := g.query(b, shortEverywhere)
		require.Len(b, rep.Rows, len(want))
		for i, r := range rep.Rows {
			require.Equal(b, want[i], inventory.ShortageRow{Bag: r.Bag, Item: r.Item, Par: r.Par, Minimum: r.Minimum,
				Usable: r.Usable})
		}
		b.Run(fmt.Sprintf("report/bags=%d", bags), func(b *testing.B) {
			for b.Loop() {
				_, err := g.svc.Report.Shortages(b.Context(), by, nil, lists.Outlook{Horizon: -1})
				require.NoError(b, err)
			}
		})
		b.Run(fmt.Sprintf("query/bags=%d", bags), func(b *testing.B) {
			for b.Loop() {
				g.query(b, shortEverywhere)
			}
		})
	}
}

// BenchmarkBagPage makes what the page behind a label shows, beside one
// hand-written query for the lines of that bag with their lots, among 2,500
// bags. Both say the same.
func BenchmarkBagPage(b *testing.B) {
	g := newBig(b, 2500)
	c, err := g.svc.Shift.Checklist(b.Context(), by, "B-1234", lists.Outlook{Horizon: -1})
	require.NoError(b, err)
	require.Len(b, linesOf(c), bigLines)
	require.Equal(b, g.lines(b, "B-1234"), linesOf(c))
	b.Run("page", func(b *testing.B) {
		for b.Loop() {
			_, err := g.svc.Shift.Checklist(b.Context(), by, "B-1234", lists.Outlook{Horizon: -1})
			require.NoError(b, err)
		}
	})
	b.Run("query", func(b *testing.B) {
		for b.Loop() {
			g.lines(b, "B-1234")
		}
	})
}

// BenchmarkStockTable makes the table of stock of a station with 500 of 2,500 bags.
func BenchmarkStockTable(b *testing.B) {
	g := newBig(b, 2500)
	station := inventory.Station{Code: "S1", Timezone: "Europe/London"}
	for b.Loop() {
		rows, err := g.svc.Stock.ByItem(b.Context(), by, station)
		require.NoError(b, err)
		require.Len(b, rows, bigLines)
		require.Equal(b, 2*2500*bigLots, rows[0].InStore+rows[0].InBags)
	}
}
