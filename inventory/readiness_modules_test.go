package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// moduleViews is a rucksack that asks for one module, with one in it that holds
// two swabs until the end of August.
func moduleViews() inventory.BagView {
	station := inventory.Station{Code: "N", Timezone: "UTC"}
	items := map[string]inventory.Item{"GAUZE": {Code: "GAUZE", Name: "Gauze", Category: inventory.CategoryPlainDressing}}
	lot := inventory.Lot{ID: 7}
	lot.Item, lot.LastUsable = "GAUZE", inventorytest.Day("2027-08-31")
	module := inventory.BagView{Bag: inventory.Bag{Code: "M", Name: "Module", KitList: "POD", Purpose: inventory.ForIssue,
		Inside: "R"}, Station: station, Items: items,
		List:  inventory.KitList{Code: "POD", Lines: []inventory.Line{{Item: "GAUZE", Par: 2, Minimum: 1}}},
		Stock: []inventory.Stock{{Place: "M", Lot: lot, Qty: 2}}}
	return inventory.BagView{Bag: inventory.Bag{Code: "R", KitList: "SACK", Purpose: inventory.ForIssue}, Station: station,
		Items: items, Modules: []inventory.BagView{module},
		List: inventory.KitList{Code: "SACK", Modules: []inventory.Module{{KitList: "POD", Count: 1}}}}
}

func TestModulesInReadiness(t *testing.T) {
	now := inventorytest.At("2027-06-14T07:00:00Z")
	judge := func(change func(*inventory.BagView)) inventory.Readiness {
		v := moduleViews()
		change(&v)
		return inventory.ReadinessOf(v, now, 0, 30)
	}
	r := judge(func(*inventory.BagView) {})
	assert.Equal(t, inventory.Ready, r.State)
	assert.Equal(t, &inventory.Change{Date: inventorytest.Day("2027-09-01"), LotID: 7}, r.FirstStop,
		"it stops when its module does")
	assert.Equal(t, &inventory.Change{Date: inventorytest.Day("2027-08-01"), LotID: 7}, r.NextChange,
		"and warns when its module does")
	require.Len(t, r.Modules, 1)
	assert.Equal(t, "OK to go out", r.Modules[0].Headline.String())

	kinds := func(r inventory.Readiness) (out []inventory.FindingKind) {
		for _, f := range r.Findings {
			out = append(out, f.Kind)
		}
		return out
	}
	r = judge(func(v *inventory.BagView) { v.Modules = nil })
	assert.Equal(t, []inventory.FindingKind{inventory.FindModuleMissing}, kinds(r))
	assert.Equal(t, inventory.NotReady, r.State)
	r = judge(func(v *inventory.BagView) { v.Modules[0].Stock[0].Qty = 1 })
	assert.Equal(t, inventory.ReadyWithGaps, r.State, "a module's gaps warn")
	r = judge(func(v *inventory.BagView) { v.Modules[0].Stock = nil })
	assert.Equal(t, inventory.NotReady, r.State, "a module's stop stops")
	r = judge(func(v *inventory.BagView) { v.Modules[0].Bag.OutOfService = &inventory.ServicePause{Reason: "wet"} })
	assert.Equal(t, inventory.NotReady, r.State, "a module that was taken off stops")
	assert.Equal(t, "M", r.Findings[0].Module)
	r = judge(func(v *inventory.BagView) { v.List.Modules = nil })
	assert.Equal(t, []inventory.FindingKind{inventory.FindNotOnList}, kinds(r))

	rule := inventory.KitRule{NeedCategory: inventory.CategoryPlainDressing, AtLeast: 2, Severity: inventory.SeverityStop,
		Because: "two are wanted"}
	r = judge(func(v *inventory.BagView) { v.List.Rules = []inventory.KitRule{rule} })
	assert.Equal(t, inventory.Ready, r.State, "what lies in a module counts for the rules")
	rule.AtLeast = 3
	r = judge(func(v *inventory.BagView) { v.List.Rules = []inventory.KitRule{rule} })
	assert.Equal(t, []inventory.FindingKind{inventory.FindKitRule}, kinds(r))
}

// TestModulesCountWithTheirBag: a report that lists a bag and the module in it counts one bag, also of one station.
func TestModulesCountWithTheirBag(t *testing.T) {
	now := inventorytest.At("2027-06-14T07:00:00Z")
	sack := moduleViews()
	sack.Bag.AtStation, sack.Modules[0].Bag.AtStation = "N", "N"
	g := inventory.ReportInput{Stations: []inventory.Station{sack.Station}, Items: sack.Items,
		Bags: []inventory.BagView{sack, sack.Modules[0]}}
	rep := inventory.ShortagesOf(g, now, 0, 30)
	assert.Equal(t, inventory.BagCounts{Ready: 1}, rep.Bags)
	require.Len(t, rep.States, 2)
	assert.Equal(t, "R", rep.States[1].Inside)
	assert.Equal(t, inventory.BagCounts{Ready: 1}, rep.Only(g, []string{"N"}, now).Bags)
}

// Who is served first, by which module, and what is no spare.
func TestSpareModules(t *testing.T) {
	sack := moduleViews()
	sack.Modules, sack.List.Modules[0].Count = nil, 2
	first := sack
	first.Bag.Code, first.Bag.Priority = "Z", -1
	pod := func(code string, change func(*inventory.BagView)) inventory.BagView {
		v := moduleViews().Modules[0]
		v.Bag.Code, v.Bag.Inside = code, ""
		change(&v)
		return v
	}
	g := inventory.ReportInput{Stations: []inventory.Station{{Timezone: "UTC"}, {Code: "S", Timezone: "UTC"}}}
	g.Bags = []inventory.BagView{sack, first,
		pod("A-GAP", func(v *inventory.BagView) { v.Stock[0].Qty = 1 }),
		pod("B-EMPTY", func(v *inventory.BagView) { v.Stock = nil }),
		pod("C-VAN", func(v *inventory.BagView) { v.Bag.Vehicle = "Van" }),
		pod("D-AWAY", func(v *inventory.BagView) { v.Bag.AtStation = "S" }),
		pod("E-OFF", func(v *inventory.BagView) { v.Bag.OutOfService = &inventory.ServicePause{Reason: "wet"} }),
		pod("F-TRAIN", func(v *inventory.BagView) { v.Bag.Purpose = inventory.ForTraining }),
		pod("G", func(*inventory.BagView) {}), pod("H", func(*inventory.BagView) {}),
		pod("I-OTHER", func(v *inventory.BagView) { v.Bag.KitList = "BOX" })}
	now := inventorytest.At("2027-06-14T07:00:00Z")
	var fills []string
	for _, f := range inventory.ShortagesOf(g, now, 0, 30).Fill {
		if f.KitList == "POD" {
			fills = append(fills, f.Bag+" "+f.From)
		}
	}
	assert.Equal(t, []string{"Z G", "Z H", "R A-GAP"}, fills)
	pl := inventory.PickListOf(sack, nil, nil, now, 0)
	pl.PutModules(sack, g.Bags[:3], inventory.ShortagesOf(g, now, 0, 30).Fill, now)
	assert.Equal(t, []inventory.ModulePick{{KitList: "POD", Module: "A-GAP"}}, pl.Modules)
	assert.Equal(t, []inventory.Unfilled{{KitList: "POD", Qty: 1}}, pl.Unfilled)
}
