package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// TestNewestOn finds the version that a bag moves to, by the days on which each
// may be used.
func TestNewestOn(t *testing.T) {
	have := inventory.KitList{Version: 2}
	k := func(version int, from, to inventory.Day) inventory.KitList {
		return inventory.KitList{Version: version, ValidFrom: from, ValidTo: to}
	}
	for name, c := range map[string]struct {
		versions []inventory.KitList
		want     int
	}{
		"none is newer":               {[]inventory.KitList{k(1, 0, 0), k(2, 0, 0)}, 2},
		"in force at once":            {[]inventory.KitList{k(3, 0, 0)}, 3},
		"from that day":               {[]inventory.KitList{k(3, 100, 0)}, 3},
		"from the next":               {[]inventory.KitList{k(3, 101, 0)}, 2},
		"to that day":                 {[]inventory.KitList{k(3, 0, 100)}, 3},
		"to the day before":           {[]inventory.KitList{k(3, 0, 99)}, 2},
		"the newest that is":          {[]inventory.KitList{k(3, 0, 0), k(4, 90, 0), k(5, 101, 0)}, 4},
		"the newest of those is over": {[]inventory.KitList{k(3, 0, 0), k(4, 0, 99)}, 3},
	} {
		assert.Equal(t, c.want, inventory.NewestOn(100, have, c.versions).Version, name)
	}
}

// TestListMove says what is different between two versions.
func TestListMove(t *testing.T) {
	old := inventory.KitList{Version: 1, Lines: []inventory.Line{{Item: "A", Pouch: "P", Par: 2, Minimum: 1},
		{Item: "B", Par: 1}, {Item: "C", Par: 3}}}
	now := inventory.KitList{Version: 2, Lines: []inventory.Line{{Item: "D", PresenceOnly: true}, {Item: "C", Par: 3},
		{Item: "A", Pouch: "P", Par: 2, Minimum: 2}}}
	changes := func(old, now inventory.KitList) []string {
		return words(inventory.ListMoveOf(old, now, map[string]inventory.Item{"A": {Name: "Alpha"}}))
	}
	assert.Equal(t, []string{"D: needs 1, at least 1 (was 0, at least 0)",
		"Alpha, P: needs 2, at least 2 (was 2, at least 1)",
		"B: needs 0, at least 0 (was 1, at least 0)"}, changes(old, now))
	assert.Nil(t, inventory.ListMoveOf(old, old, nil))
	same := old
	same.Version = 2
	assert.Empty(t, changes(old, same))
	same.Sealed = true
	assert.Equal(t, []string{"other checks or rules"}, changes(old, same))
	same.Sealed, same.Lines = false, []inventory.Line{old.Lines[0], old.Lines[1], {Item: "C", Par: 3, Critical: true}}
	assert.Equal(t, []string{"other checks or rules"}, changes(old, same))
}

// TestNewListEverywhere: what a newer version in force wants is on the pick list, in the fill plan and among the
// purchases alike, its modules too, while rows and state are by the version that the bag has.
func TestNewListEverywhere(t *testing.T) {
	now := inventorytest.At("2027-06-14T07:00:00Z")
	v, spare := moduleViews(), moduleViews().Modules[0]
	v.Modules, v.List.Version, spare.Bag.Inside = nil, 1, ""
	v.List.Modules = nil
	next := v.List
	next.Version, next.Modules = 2, []inventory.Module{{KitList: "POD", Count: 2}}
	next.Lines = []inventory.Line{{Item: "GAUZE", Par: 3, Minimum: 1}}
	v.Versions = []inventory.KitList{v.List, next}
	lot := spare.Stock[0].Lot
	lot.ID = 8
	g := inventory.ReportInput{Stations: []inventory.Station{v.Station}, Bags: []inventory.BagView{v, spare},
		Items: v.Items, Stores: []inventory.Stock{{Place: "S", Lot: lot, Qty: 1}}, StationOf: map[string]string{"S": ""}}
	g.Stations[0].Code = ""
	rep := inventory.ShortagesOf(g, now, 0, 0)
	assert.Empty(t, rep.Rows)
	assert.Equal(t, inventory.BagCounts{Ready: 1, ReadyWithGaps: 1}, rep.Bags)
	pl := inventory.PickListOf(v, g.Stores, rep.Fill, now, 0)
	pl.PutModules(v, g.Bags, rep.Fill, now)
	assert.Equal(t, []inventory.ModulePick{{Module: "M", KitList: "POD"}}, pl.Modules)
	assert.Equal(t, []inventory.Unfilled{{Item: "GAUZE", Qty: 2}, {KitList: "POD", Qty: 1}}, pl.Unfilled)
	require.Len(t, pl.Lines, 1)
	require.Len(t, rep.Fill, 2)
	assert.Equal(t, []any{"GAUZE", 1, "M"}, []any{rep.Fill[0].Item, pl.Lines[0].Qty, rep.Fill[1].From})
	require.Len(t, rep.Buy, 1)
	assert.Equal(t, []any{"GAUZE", 2}, []any{rep.Buy[0].Item, rep.Buy[0].Qty})
	assert.Equal(t, []string{"Gauze: needs 3, at least 1 (was 0, at least 0)",
		"Module POD: needs 2, at least 2 (was 0, at least 0)"}, words(pl.ListMove))
	v.Bag.RetiredAt = now
	pl = inventory.PickListOf(v, g.Stores, nil, now, 0)
	pl.PutModules(v, g.Bags, nil, now)
	assert.Nil(t, pl.ListMove)
	assert.Empty(t, pl.Modules, "a retired bag claims nothing")
}

func words(m *inventory.ListMove) []string {
	var out []string
	for _, c := range m.Changes {
		out = append(out, c.String())
	}
	return out
}
