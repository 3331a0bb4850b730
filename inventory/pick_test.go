package inventory_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

func TestPickList(t *testing.T) {
	t.Parallel()
	red, blue := inventory.Line{Item: "A", Pouch: "Red", Par: 3, Minimum: 2}, inventory.Line{Item: "A", Pouch: "Blue",
		Par: 2, Minimum: 1}
	lasting := func(b *aBag, days int) *aBag { b.List.MinRemainingDays = days; return b }
	for _, c := range []struct {
		name              string
		bag               *aBag
		stores            *aRegion
		in, out, unfilled []string
	}{
		{"nothing to do", newBag(red).holds("A", 3, ""), newRegion("N").stores("N", "A", 9, ""), nil, nil, nil},
		{"minimums of both pouches first, then par", newBag(red, blue), newRegion("N").stores("N", "A", 2,
			"2028-01-01").stores("N", "A", 2, "2028-02-01"),
			[]string{"A/Red 100×2 from N-STORE", "A/Blue 101×1 from N-STORE", "A/Red 101×1 from N-STORE"}, nil,
			[]string{"A/Blue 1"}},
		{"past its end is disposed of, under notice goes to quarantine", newBag(red).holds("A", 2, "2027-06-13").holds("A", 1,
			"", withdrawn), newRegion("N").stores("N", "A", 9, ""),
			[]string{"A/Red 100×3 from N-STORE"}, []string{"1×2 to disposed disposed expired",
				"2×1 to N-QUARANTINE quarantine "}, nil},
		{"past its end and under notice goes to quarantine, once", newBag(red).holds("A", 2, "2027-06-13", withdrawn),
			newRegion("N"), nil, []string{"1×2 to N-QUARANTINE quarantine "}, []string{"A/Red 3"}},
		{"surplus and what is not on the list go back to the store", newBag(red).holds("A", 5, "").holds("Z", 2,
			"").holds("Z", 1, "2027-06-13"), newRegion("N"),
			nil, []string{"3×1 to disposed disposed expired", "1×2 to N-STORE return ", "2×2 to N-STORE return "}, nil},
		{"what does not last is swapped, as far as the store goes", lasting(newBag(red).holds("A", 3, "2027-06-20"), 30),
			newRegion("N").stores("N", "A", 2, "2028-01-01"),
			[]string{"A/Red 100×2 from N-STORE"}, []string{"1×2 to N-STORE return "}, nil},
		{"what does not last is swapped before an earlier line is offered its own", lasting(newBag(
			inventory.Line{Item: "A", Pouch: "Red", Par: 1, Accepts: []string{"B"}},
			inventory.Line{Item: "A", Pouch: "Blue", Par: 1, Minimum: 1}).holds("B", 1, "").holds("A", 1, "2027-06-20"), 30),
			newRegion("N").stores("N", "A", 1, "2028-01-01"),
			[]string{"A/Blue 100×1 from N-STORE"}, []string{"2×1 to N-STORE return "}, nil},
		{"short ones go in up to the minimum only", lasting(newBag(red), 30), newRegion("N").stores("N", "A", 9,
			"2027-06-20"),
			[]string{"A/Red 100×2 from N-STORE short"}, nil, []string{"A/Red 1"}},
		{"ends today: still picked where nothing must last", newBag(red), newRegion("N").stores("N", "A", 3, "2027-06-14"),
			[]string{"A/Red 100×3 from N-STORE"}, nil, nil},
		{"like for like: each line its own, before another line takes it to stand in", newBag(
			inventory.Line{Item: "A", Pouch: "Red", Par: 1, Minimum: 1, Accepts: []string{"B"}},
			inventory.Line{Item: "B", Pouch: "Blue", Par: 1, Minimum: 1}), newRegion("N").stores("N", "B", 1, ""),
			[]string{"B/Blue 100×1 from N-STORE"}, nil, []string{"A/Red 1"}},
		{"own lasting, accepted lasting, then up to the minimum own short-dated, accepted short-dated", lasting(newBag(
			inventory.Line{Item: "A", Par: 9, Minimum: 7, Accepts: []string{"B"}}), 30), newRegion("N").stores("N", "B", 3,
			"2027-06-18").stores("N", "A", 2, "2027-06-20").stores("N", "B", 1, "2028-01-01").stores("N", "A", 2, "2028-02-01"),
			[]string{"A/ 103×2 from N-STORE", "B/ 102×1 from N-STORE", "A/ 101×2 from N-STORE short",
				"B/ 100×2 from N-STORE short"}, nil, []string{"A/ 2"}},
		{"training stock is never picked for an issue bag", newBag(red), newRegion("N").stores("N", "A", 9, "",
			trainingStock), nil, nil, []string{"A/Red 3"}},
	} {
		in, out, unfilled := inventorytest.Picks(inventory.PickListOf(c.bag.BagView, c.stores.Stores, nil, inventorytest.Noon,
			0))
		assert.Equal(t, c.in, in, c.name)
		assert.Equal(t, c.out, out, c.name)
		assert.Equal(t, c.unfilled, unfilled, c.name)
	}
}

// TestPickListOffersTheOwn: where something accepted stands in, the list says so, and offers the own once that is in
// the store again, as far as it lasts and is not to be picked anyhow.
func TestPickListOffersTheOwn(t *testing.T) {
	t.Parallel()
	b := newBag(inventory.Line{Item: "A", Pouch: "Red", Par: 4, Minimum: 1, Accepts: []string{"B"}}).holds("B", 3, "")
	offers := func(g *aRegion) (out []string) {
		pl := inventory.PickListOf(b.BagView, g.Stores, nil, inventorytest.Noon, 0)
		for _, x := range pl.StandIns {
			in, back, _ := inventorytest.Picks(inventory.PickList{Lines: x.PutIn, TakeOut: x.TakeOut})
			out = append(out, fmt.Sprint(x.Qty, " ", x.With, " for ", x.Item, " in ", x.Pouch, in, back))
		}
		return out
	}
	assert.Equal(t, []string{"3 B for A in Red[] []"}, offers(newRegion("N")))
	assert.Equal(t, []string{"3 B for A in Red[A/Red 100×2 from N-STORE] [1×2 to N-STORE return ]"},
		offers(newRegion("N").stores("N", "A", 3, "")), "one of three fills the gap")
	b.List.MinRemainingDays = 30
	assert.Equal(t, []string{"3 B for A in Red[] []"}, offers(newRegion("N").stores("N", "A", 9, "2027-06-20")),
		"what does not last is no better")
	b.List.Lines[0].Item, b.List.Lines[0].Accepts = "B", nil
	assert.Empty(t, offers(newRegion("N").stores("N", "B", 9, "")), "the own stands in for nothing")
}

// TestPickListOfTrainingBag: the same for training stock, which goes back to
// the training store and quarantine.
func TestPickListOfTrainingBag(t *testing.T) {
	t.Parallel()
	b := newBag(inventory.Line{Item: "A", Par: 1}).holds("A", 2, "", trainingStock).holds("A", 1, "", trainingStock,
		withdrawn)
	b.Bag.Purpose = inventory.ForTraining
	_, out, _ := inventorytest.Picks(inventory.PickListOf(b.BagView, nil, nil, inventorytest.Noon, 0))
	assert.Equal(t, []string{"2×1 to N-TRAINING-QUARANTINE quarantine ", "1×1 to N-TRAINING return "}, out)
}

// TestPickListNamesPriorClaims: a pick that takes what the station's fill plan
// gives to another bag says which.
func TestPickListNamesPriorClaims(t *testing.T) {
	t.Parallel()
	line := inventory.Line{Item: "A", Par: 2, Minimum: 2}
	g := newRegion("N").stores("N", "A", 3, "2028-01-01").stores("N", "A", 1, "2028-02-01").needs("N", "N-01", 2,
		line).needs("N", "FIRST", 1, line)
	pl := inventory.PickListOf(g.Bags[0], g.Stores, g.report().Fill, inventorytest.Noon, 0)
	in, _, _ := inventorytest.Picks(pl)
	assert.Equal(t, []string{"A/ 100×2 from N-STORE claimed by FIRST"}, in)

	g.Stores[0].Qty = 4
	in, _, _ = inventorytest.Picks(inventory.PickListOf(g.Bags[0], g.Stores, g.report().Fill, inventorytest.Noon, 0))
	assert.Equal(t, []string{"A/ 100×2 from N-STORE"}, in, "enough for both")
	in, _, _ = inventorytest.Picks(inventory.PickListOf(g.Bags[1], g.Stores, g.report().Fill, inventorytest.Noon, 0))
	assert.Equal(t, []string{"A/ 100×2 from N-STORE"}, in, "its own share is no claim of another")
}

// TestPickListMakesReady: whoever does what the list says, from stores that
// hold enough, has a bag without findings about its contents.
func TestPickListMakesReady(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := inventorytest.NewMaker(rapid.Uint64().Draw(t, "seed"))
		items := m.Items()
		v := m.Bag("N-01", inventory.Station{Code: "N", Timezone: "Europe/London"}, items)
		// the ledger lets none in
		v.Stock = slices.DeleteFunc(v.Stock, func(st inventory.Stock) bool { return st.Lot.Training || st.Lot.Unidentified })
		var stores []inventory.Stock
		m.Kept = true
		for code := range items {
			for range 3 {
				l := m.Lot(items[code])
				l.MadeOn, l.LastUsable = 0, 0
				if m.OneIn(2) {
					l.LastUsable = inventorytest.WalkFrom + 400 + inventory.Day(m.IntN(300))
				}
				stores = append(stores, inventory.Stock{Place: "N-STORE", Lot: l, Qty: 40})
			}
		}
		pl := inventory.PickListOf(v, stores, nil, inventorytest.Noon, inventorytest.WalkFrom)
		require.Empty(t, pl.Unfilled)
		after := doneAs(t, v, stores, pl)
		reported := map[int64]bool{} // which a person looks for before anybody takes them out
		for _, u := range v.Reports {
			for _, said := range u.Says {
				reported[said.LotID] = true
			}
		}
		for _, f := range inventory.ReadinessOf(after, inventorytest.Noon, inventorytest.WalkFrom, v.List.MinRemainingDays-1).
			Findings {
			if reported[f.LotID] {
				continue
			}
			switch f.Kind {
			case inventory.FindBelowMinimum, inventory.FindBelowPar, inventory.FindUnderNotice, inventory.FindPastEnd,
				inventory.FindEndsSoon, inventory.FindSurplus, inventory.FindNotOnList:
				t.Fatalf("after the restock: %s", f.Text)
			}
		}
	})
}

// doneAs returns the bag after a pick list was carried out to the letter.
func doneAs(t require.TestingT, v inventory.BagView, stores []inventory.Stock,
	pl inventory.PickList) inventory.BagView {
	qty, lots := map[int64]int{}, map[int64]inventory.Lot{}
	for _, st := range append(stores, v.Stock...) {
		lots[st.Lot.ID] = st.Lot
	}
	for _, st := range v.Stock {
		qty[st.Lot.ID] += st.Qty
	}
	for _, x := range pl.TakeOut {
		qty[x.LotID] -= x.Qty
		require.GreaterOrEqual(t, qty[x.LotID], 0, "more is taken out than lies in the bag")
	}
	for _, p := range pl.Lines {
		qty[p.LotID] += p.Qty
	}
	v.Stock = nil
	for id, n := range qty {
		if n > 0 {
			v.Stock = append(v.Stock, inventory.Stock{Place: v.Bag.Code, Lot: lots[id], Qty: n})
		}
	}
	return v
}
