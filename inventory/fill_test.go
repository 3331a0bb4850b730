package inventory_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// aRegion is stations with stores and bags, put together by the tests.
type aRegion struct{ inventory.ReportInput }

// newRegion returns stations in London without anything in them.
func newRegion(stations ...string) *aRegion {
	g := &aRegion{inventory.ReportInput{StationOf: map[string]string{}, Items: map[string]inventory.Item{},
		Products: map[int64]inventory.Product{}}}
	for _, s := range stations {
		station := inventory.Station{Code: s, Timezone: "Europe/London"}
		g.Stations, g.StationOf[station.StoreCode()] = append(g.Stations, station), s
	}
	return g
}

// stores puts units of a new lot into a station's store.
func (g *aRegion) stores(station, item string, qty int, end string, change ...func(*inventory.Lot)) *aRegion {
	b := newBag().holds(item, qty, end, change...)
	st := b.Stock[0]
	st.Place, st.Lot.ID = station+"-STORE", int64(100+len(g.Stores))
	g.Stores = append(g.Stores, st)
	g.Items[item] = inventory.Item{Code: item, Name: item}
	return g
}

// needs adds an empty bag at a station.
func (g *aRegion) needs(station, bag string, priority int, lines ...inventory.Line) *aRegion {
	b := newBag(lines...)
	b.Bag.Code, b.Bag.Station, b.Bag.AtStation, b.Bag.Priority, b.Station.Code = bag, station, station, priority, station
	for code, it := range b.Items {
		g.Items[code] = it
	}
	b.Items = g.Items
	g.Bags = append(g.Bags, b.BagView)
	return g
}

func (g *aRegion) report() inventory.Shortages {
	return inventory.ShortagesOf(g.ReportInput, inventorytest.Noon, 0, 30)
}

// fills writes the plan in short, in its order.
func fills(rep inventory.Shortages) []string {
	var out []string
	for _, f := range rep.Fill {
		short := ""
		if f.ShortDated {
			short = " short"
		}
		out = append(out, fmt.Sprintf("%s %s %d×%d %s %s%s", f.Bag, f.Item, f.LotID, f.Qty, f.From, f.Kind, short))
	}
	return out
}

func TestFillPlanOrder(t *testing.T) {
	t.Parallel()
	line := func(item string, par, minimum int, critical bool) inventory.Line {
		return inventory.Line{Item: item, Par: par, Minimum: minimum, Critical: critical}
	}
	reserved := func(g *aRegion, n int) *aRegion {
		g.Items["A"] = inventory.Item{Code: "A", Name: "A", Reserve: n}
		return g
	}
	near := func(g *aRegion, minutes string) *aRegion {
		g.Bags[0].Station.TravelMinutes = []string{minutes}
		return g
	}
	lasting := func(g *aRegion, days int) *aRegion {
		for i := range g.Bags {
			g.Bags[i].List.MinRemainingDays = days
		}
		return g
	}
	later := func(l *inventory.Lot) { l.ReceivedOn = inventorytest.Day("2027-05-01") }
	for _, c := range []struct {
		name   string
		region *aRegion
		want   []string
	}{
		{"every minimum before any par", newRegion("N").stores("N", "A", 3, "").needs("N", "B1", 1, line("A", 3, 1,
			false)).needs("N", "B2", 2, line("A", 3, 1, false)),
			[]string{"B1 A 100×1 N-STORE restock", "B2 A 100×1 N-STORE restock", "B1 A 100×1 N-STORE restock"}},
		{"critical lines before a bag that comes first", newRegion("N").stores("N", "A", 1, "").needs("N", "B1", 1,
			line("A", 1, 1, false)).needs("N", "B2", 9, line("A", 1, 1, true)),
			[]string{"B2 A 100×1 N-STORE restock"}},
		{"then bag priority", newRegion("N").stores("N", "A", 1, "").needs("N", "B1", 2, line("A", 1, 1, false)).needs("N",
			"B2", 1, line("A", 1, 1, false)),
			[]string{"B2 A 100×1 N-STORE restock"}},
		{"then bag code", newRegion("N").stores("N", "A", 1, "").needs("N", "B2", 1, line("A", 1, 1, false)).needs("N", "B1",
			1, line("A", 1, 1, false)),
			[]string{"B1 A 100×1 N-STORE restock"}},
		{"then line order", newRegion("N").stores("N", "A", 2, "").needs("N", "B1", 1, line("A", 1, 1, false), line("A", 2, 2,
			false)),
			[]string{"B1 A 100×1 N-STORE restock", "B1 A 100×1 N-STORE restock"}},
		{"first expired first, undated last", newRegion("N").stores("N", "A", 1, "").stores("N", "A", 1,
			"2028-02-01").stores("N", "A", 1, "2028-01-01").needs("N", "B1", 1, line("A", 3, 3, false)),
			[]string{"B1 A 102×1 N-STORE restock", "B1 A 101×1 N-STORE restock", "B1 A 100×1 N-STORE restock"}},
		{"equal dates by day of receipt, then lot", newRegion("N").stores("N", "A", 1, "2028-01-01", later).stores("N", "A",
			1, "2028-01-01").stores("N", "A", 1, "2028-01-01").needs("N", "B1", 1, line("A", 3, 3, false)),
			[]string{"B1 A 101×1 N-STORE restock", "B1 A 102×1 N-STORE restock", "B1 A 100×1 N-STORE restock"}},
		{"own item before accepted ones", newRegion("N").stores("N", "B", 5, "2027-09-01").stores("N", "A", 1, "").needs("N",
			"B1", 1, inventory.Line{Item: "A", Par: 2, Minimum: 2, Accepts: []string{"B"}}),
			[]string{"B1 A 101×1 N-STORE restock", "B1 B 100×1 N-STORE restock"}},
		{"past its end and under notice are never picked", newRegion("N").stores("N", "A", 5, "2027-06-13").stores("N", "A",
			5, "", withdrawn).stores("N", "A", 5, "", unidentified).needs("N", "B1", 1, line("A", 1, 1, false)), nil},
		{"lots that last first; shorter ones up to the minimum only", lasting(newRegion("N").stores("N", "A", 5,
			"2027-06-20").stores("N", "A", 1, "2028-01-01").needs("N", "B1", 1, line("A", 5, 3, false)), 30),
			[]string{"B1 A 101×1 N-STORE restock", "B1 A 100×2 N-STORE restock short"}},
		{"a lot that just lasts", lasting(newRegion("N").stores("N", "A", 5, "2027-07-14").needs("N", "B1", 1, line("A", 2, 0,
			false)), 30), []string{"B1 A 100×2 N-STORE restock"}},
		{"a lot that lacks a day", lasting(newRegion("N").stores("N", "A", 5, "2027-07-13").needs("N", "B1", 1, line("A", 2,
			0, false)), 30), nil},
		{"another's par, after the own par", newRegion("N", "S").stores("S", "A", 3, "").needs("N", "B1", 1,
			line("A", 2, 0, true)).needs("S", "B2", 9, line("A", 2, 0, false)),
			[]string{"B2 A 100×2 S-STORE restock", "B1 A 100×1 S-STORE transfer"}},
		{"another's minimum, after the own minimum and before the own par", newRegion("N", "S").stores("S", "A", 3,
			"").needs("N", "B1", 1, line("A", 2, 2, true)).needs("S", "B2", 9, line("A", 2, 1, false)),
			[]string{"B2 A 100×1 S-STORE restock", "B1 A 100×2 S-STORE transfer"}},
		{"the reserve stays, for another's minimum too", reserved(newRegion("N", "S").stores("S", "A", 3, "").needs("N",
			"B1", 1, line("A", 3, 3, true)).needs("S", "B2", 9, line("A", 1, 0, false)), 2),
			[]string{"B1 A 100×1 S-STORE transfer", "B2 A 100×1 S-STORE restock"}},
		{"the reserve is for the own bags", reserved(newRegion("N").stores("N", "A", 3, "").needs("N", "B1", 1, line("A", 3,
			1, true)), 2), []string{"B1 A 100×1 N-STORE restock", "B1 A 100×2 N-STORE restock"}},
		{"who can spare it longest-dated, undated last of all", newRegion("E", "N", "S").stores("E", "A", 1,
			"2028-01-01").stores("S", "A", 1, "2029-01-01").stores("S", "A", 1, "").needs("N", "B1", 1, line("A", 3, 3, false)),
			[]string{"B1 A 101×1 S-STORE transfer", "B1 A 102×1 S-STORE transfer", "B1 A 100×1 E-STORE transfer"}},
		{"then the nearest", near(newRegion("E", "N", "S").stores("E", "A", 1, "").stores("S", "A", 1, "").needs("N", "B1", 1,
			line("A", 2, 2, false)), "S 9"), []string{"B1 A 101×1 S-STORE transfer", "B1 A 100×1 E-STORE transfer"}},
		{"the own item of anybody before what stands in", newRegion("E", "N", "S").stores("E", "B", 5, "").stores("S", "A", 1,
			"").needs("N", "B1", 1, inventory.Line{Item: "A", Par: 2, Minimum: 2, Accepts: []string{"B"}}),
			[]string{"B1 A 101×1 S-STORE transfer", "B1 B 100×1 E-STORE transfer"}},
		{"own store first, then the others in order", newRegion("E", "N", "S").stores("S", "A", 1, "").stores("E", "A", 1,
			"").stores("N", "A", 1, "").needs("N", "B1", 1, line("A", 3, 3, false)),
			[]string{"B1 A 102×1 N-STORE restock", "B1 A 101×1 E-STORE transfer", "B1 A 100×1 S-STORE transfer"}},
		{"a transfer takes what lasts before what is short, wherever it lies", lasting(newRegion("E", "N", "S").stores("E",
			"A", 2, "2027-06-20").stores("S", "A", 2, "").needs("N", "B1", 1, line("A", 3, 3, false)), 30),
			[]string{"B1 A 101×2 S-STORE transfer", "B1 A 100×1 E-STORE transfer short"}},
		{"presence only wants one, carried elsewhere none", newRegion("N").stores("N", "A", 5, "").stores("N", "B", 5,
			"").needs("N", "B1", 1, inventory.Line{Item: "A", PresenceOnly: true}, inventory.Line{Item: "B",
			CarriedElsewhere: "vest"}),
			[]string{"B1 A 100×1 N-STORE restock"}},
	} {
		assert.Equal(t, c.want, fills(c.region.report()), c.name)
	}
}

// TestDonorKeeps: what a donor keeps is what is left on its shelves once its own bags and others' have theirs.
func TestDonorKeeps(t *testing.T) {
	t.Parallel()
	g := newRegion("N", "S").stores("S", "A", 9, "").needs("N", "B1", 1, inventory.Line{Item: "A", Par: 2}).
		needs("S", "B2", 1, inventory.Line{Item: "A", Par: 3})
	rep := g.report()
	require.Equal(t, []string{"B2 A 100×3 S-STORE restock", "B1 A 100×2 S-STORE transfer"}, fills(rep))
	assert.Equal(t, 4, rep.Fill[1].Keeps)
}

// What substitutes cover is still bought, but for what lies in a store of the own item and is not wanted elsewhere.
func TestSubstitutesAreBoughtAnew(t *testing.T) {
	t.Parallel()
	line := inventory.Line{Item: "Y", Par: 4, Minimum: 2, Accepts: []string{"X"}}
	inBag := func(g *aRegion, qty int) *aRegion {
		b := newBag().holds("X", qty, "")
		g.Bags[0].Stock = b.Stock
		return g
	}
	for _, c := range []struct {
		name   string
		region *aRegion
		want   []inventory.Buy
	}{
		{"filled from the store", newRegion("N").stores("N", "X", 9, "").needs("N", "B1", 1, line),
			[]inventory.Buy{{Station: "N", Item: "Y", Qty: 4, Covered: 4}}},
		{"filled in part", newRegion("N").stores("N", "X", 1, "").stores("N", "Y", 1, "").needs("N", "B1", 1, line),
			[]inventory.Buy{{Station: "N", Item: "Y", Qty: 3, Covered: 1}}},
		{"in the bag already", inBag(newRegion("N").needs("N", "B1", 1, line), 4),
			[]inventory.Buy{{Station: "N", Item: "Y", Qty: 4, Covered: 4}}},
		{"the own item is there, and can be swapped in", inBag(newRegion("N", "S").stores("N", "Y", 1, "").stores("S", "Y",
			1, "").needs("N", "B1", 1, line), 4), []inventory.Buy{{Station: "N", Item: "Y", Qty: 2, Covered: 2}}},
		{"nothing is covered", newRegion("N").needs("N", "B1", 1, line), []inventory.Buy{{Station: "N", Item: "Y", Qty: 4}}},
	} {
		assert.Equal(t, c.want, c.region.report().Buy, c.name)
	}
}

// TestFillPlanAcrossZones: the last day of a lot is over in Auckland while it
// lasts in London, so it is not sent there.
func TestFillPlanAcrossZones(t *testing.T) {
	t.Parallel()
	line := inventory.Line{Item: "A", Par: 1, Minimum: 1}
	g := newRegion("N", "S").stores("S", "A", 1, "2027-06-14").needs("N", "B1", 1, line)
	assert.Equal(t, []string{"B1 A 100×1 S-STORE transfer"}, fills(inventory.ShortagesOf(g.ReportInput,
		inventorytest.At("2027-06-14T13:00:00Z"), 0, 30)))
	g.Bags[0].Station.Timezone = "Pacific/Auckland"
	assert.Empty(t, fills(inventory.ShortagesOf(g.ReportInput, inventorytest.At("2027-06-14T13:00:00Z"), 0, 30)))
}

// TestFillPlanAgainstNaive compares the plan of random regions with the
// allocator that goes unit by unit.
func TestFillPlanAgainstNaive(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := inventorytest.NewMaker(rapid.Uint64().Draw(t, "seed"))
		g := m.Region(rapid.IntRange(0, 8).Draw(t, "bags"), rapid.IntRange(0, 40).Draw(t, "store lots"))
		asOf := inventorytest.WalkFrom + inventory.Day(rapid.IntRange(0, inventorytest.WalkDays).Draw(t, "day"))
		rep := inventory.ShortagesOf(g, inventorytest.Noon, asOf, 30)
		plan := naivePlanOf(g, inventorytest.Noon, asOf)
		require.Equal(t, plan.fills, shortFills(rep.Fill))
		for _, f := range rep.Fill {
			left := 0
			for _, u := range plan.units[g.StationOf[f.From]] {
				if u.item == f.Item && u.line < 0 {
					left++
				}
			}
			require.True(t, f.Kind != inventory.FillTransfer || f.Keeps == left, "%+v leaves %d", f, left)
		}
		require.Equal(t, plan.buys(g), shortBuys(rep.Buy))
	})
}

// TestFillPlanConserves: no lot is given away more than the store holds, and
// every unit missing is either filled or bought.
func TestFillPlanConserves(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		g := inventorytest.NewMaker(rapid.Uint64().Draw(t, "seed")).Region(rapid.IntRange(0, 8).Draw(t, "bags"),
			rapid.IntRange(0,
				40).Draw(t, "store lots"))
		rep := inventory.ShortagesOf(g, inventorytest.Noon, inventorytest.WalkFrom, 30)
		left := map[string]int{}
		for _, st := range g.Stores {
			left[fmt.Sprint(st.Place, st.Lot.ID)] += st.Qty
		}
		missing, filled, bought := 0, 0, 0
		own := map[string]int{} // what a station's own bags get of an item, of its reserve too
		for _, f := range rep.Fill {
			if f.Kind == inventory.FillRestock {
				own[g.StationOf[f.From]+f.Item] += f.Qty
			}
		}
		for _, r := range rep.Rows {
			missing += r.Shortfall
		}
		for _, f := range rep.Fill {
			require.Positive(t, f.Qty)
			key := fmt.Sprint(f.From, f.LotID)
			left[key] -= f.Qty
			require.GreaterOrEqual(t, left[key], 0, "more than the store holds")
			require.True(t, f.Kind != inventory.FillTransfer ||
				f.Keeps+own[g.StationOf[f.From]+f.Item] >= g.Items[f.Item].Reserve, "nothing of the reserve is sent")
			filled += f.Qty
		}
		for _, b := range rep.Buy {
			bought += b.Qty - b.Covered
			if b.Product != 0 {
				require.GreaterOrEqual(t, b.Packs*b.PackSize, b.Qty, "the packs cover what is missing")
				require.Less(t, (b.Packs-1)*b.PackSize, b.Qty, "and no pack is too many")
			} else {
				require.Zero(t, b.Packs)
			}
		}
		require.Equal(t, missing, filled+bought)
	})
}

// TestFillPlanFills: where lines accept nothing else, doing what the plan says
// leaves exactly what is to be bought, and nothing over par.
func TestFillPlanFills(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		g := inventorytest.NewMaker(rapid.Uint64().Draw(t, "seed")).Region(6, 40)
		for i := range g.Bags {
			for l := range g.Bags[i].List.Lines {
				g.Bags[i].List.Lines[l].Accepts = nil
			}
		}
		before := inventory.ShortagesOf(g, inventorytest.Noon, inventorytest.WalkFrom, 30)
		lots := map[int64]inventory.Lot{}
		for _, st := range g.Stores {
			lots[st.Lot.ID] = st.Lot
		}
		for i, v := range g.Bags {
			surplus := len(inventory.ReadinessOf(v, inventorytest.Noon, inventorytest.WalkFrom, 0).Surplus)
			for _, f := range before.Fill {
				if f.Bag == v.Bag.Code {
					v.Stock = append(v.Stock, inventory.Stock{Place: f.Bag, Lot: lots[f.LotID], Qty: f.Qty})
				}
			}
			require.Len(t, inventory.ReadinessOf(v, inventorytest.Noon, inventorytest.WalkFrom, 0).Surplus, surplus)
			g.Bags[i] = v
		}
		g.Stores = nil
		after := inventory.ShortagesOf(g, inventorytest.Noon, inventorytest.WalkFrom, 30)
		require.Equal(t, shortBuys(before.Buy), shortBuys(after.Buy))
		require.Empty(t, after.Fill)
	})
}
