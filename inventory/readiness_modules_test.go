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
	assert.Equal(t, "May go out", r.Modules[0].Headline)

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
