package inventory_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

func goodList() inventory.KitList {
	return inventory.KitList{Code: "GRAB", Name: "Grab bag", Version: 1, Lines: []inventory.Line{
		{Item: "TQ-W", Pouch: "Red", Par: 2, Minimum: 1, Critical: true, Accepts: []string{"TQ-R"}},
		{Item: "PEN", PresenceOnly: true},
		{Item: "OXYGEN", CarriedElsewhere: "On the vehicle"},
	}, Rules: inventory.TourniquetRules()}
}

func TestKitListCheck(t *testing.T) {
	require.NoError(t, goodList().Check())
	one := func(change func(*inventory.KitList)) error {
		k := goodList()
		change(&k)
		return k.Check()
	}
	for _, c := range []struct {
		path   string
		change func(*inventory.KitList)
	}{
		{"code", func(k *inventory.KitList) { k.Code = "grab" }},
		{"name", func(k *inventory.KitList) { k.Name = "" }},
		{"edition", func(k *inventory.KitList) { k.Edition = "\x00" }},
		{"source", func(k *inventory.KitList) { k.Source = strings.Repeat("x", inventory.MaxNote+1) }},
		{"valid_to", func(k *inventory.KitList) {
			k.ValidFrom, k.ValidTo = inventorytest.Day("2027-02-01"), inventorytest.Day("2027-01-31")
		}},
		{"seal_check_hours", func(k *inventory.KitList) { k.SealCheckHours = -1 }},
		{"seal_check_hours", func(k *inventory.KitList) { k.SealCheckHours = 8785 }},
		{"full_check_days", func(k *inventory.KitList) { k.FullCheckDays = 3661 }},
		{"min_remaining_days", func(k *inventory.KitList) { k.MinRemainingDays = -1 }},
		{"lines", func(k *inventory.KitList) { k.Lines = nil }},
		{"lines", func(k *inventory.KitList) {
			k.Lines = make([]inventory.Line, inventory.MaxLines+1)
			for i := range k.Lines {
				k.Lines[i] = inventory.Line{Item: "A", Par: 1}
			}
		}},
		{"lines[0].item", func(k *inventory.KitList) { k.Lines[0].Item = "" }},
		{"lines[1].item", func(k *inventory.KitList) { k.Lines[1] = k.Lines[0] }},
		{"lines[0].pouch", func(k *inventory.KitList) { k.Lines[0].Pouch = "\x07" }},
		{"lines[0].par", func(k *inventory.KitList) { k.Lines[0].Par = 10001 }},
		{"lines[0].minimum", func(k *inventory.KitList) { k.Lines[0].Minimum = 3 }},
		{"lines[0].minimum", func(k *inventory.KitList) { k.Lines[0].Minimum = -1 }},
		{"lines[0].par", func(k *inventory.KitList) { k.Lines[0].Par, k.Lines[0].Minimum = 0, 0 }},
		{"lines[0].accepts", func(k *inventory.KitList) { k.Lines[0].Accepts = []string{"TQ-W"} }},
		{"lines[0].accepts", func(k *inventory.KitList) { k.Lines[0].Accepts = []string{"tq r"} }},
		{"lines[2].carried_elsewhere", func(k *inventory.KitList) { k.Lines[2].CarriedElsewhere = "\xff" }},
		{"rules[1].at_least", func(k *inventory.KitList) { k.Rules[1].AtLeast = 0 }},
		{"rules[1].severity", func(k *inventory.KitList) { k.Rules[1].Severity = "shout" }},
		{"rules[1].because", func(k *inventory.KitList) { k.Rules[1].Because = "\x00" }},
		{"rules[1].need_category", func(k *inventory.KitList) { k.Rules[1].NeedCategory = "" }},
		{"rules[1].need_category", func(k *inventory.KitList) { k.Rules[1].NeedItem = "PEN" }},
		{"rules", func(k *inventory.KitList) {
			for len(k.Rules) <= inventory.MaxRules {
				k.Rules = append(k.Rules, k.Rules[0])
			}
		}},
	} {
		inventorytest.RequireFields(t, one(c.change), c.path)
	}
	assert.NoError(t, one(func(k *inventory.KitList) {
		k.ValidFrom, k.ValidTo = inventorytest.Day("2027-02-01"), inventorytest.Day("2027-02-01")
	}),
		"one day is a term")
	assert.NoError(t, one(func(k *inventory.KitList) { k.ValidTo = inventorytest.Day("2027-02-01") }),
		"no first day is a term")
}

func TestLineWanted(t *testing.T) {
	for _, c := range []struct {
		line         inventory.Line
		par, minimum int
	}{
		{inventory.Line{Par: 5, Minimum: 2}, 5, 2},
		{inventory.Line{Par: 5}, 5, 0},
		{inventory.Line{PresenceOnly: true}, 1, 1},
		{inventory.Line{PresenceOnly: true, Par: 5, Minimum: 2}, 1, 1},
		{inventory.Line{CarriedElsewhere: "vehicle", Par: 5, Minimum: 2}, 0, 0},
		{inventory.Line{CarriedElsewhere: "vehicle", PresenceOnly: true}, 0, 0},
	} {
		par, minimum := c.line.Wanted()
		assert.Equal(t, [2]int{c.par, c.minimum}, [2]int{par, minimum}, "%+v", c.line)
	}
}

func TestKitListItems(t *testing.T) {
	k := goodList()
	k.Lines = append(k.Lines, inventory.Line{Item: "TQ-R", Par: 1, Accepts: []string{"TQ-W"}})
	k.Rules = append(k.Rules, inventory.KitRule{NeedItem: "SHEARS"}, inventory.KitRule{NeedItem: "PEN"})
	assert.Equal(t, []string{"TQ-W", "TQ-R", "PEN", "OXYGEN", "SHEARS"}, k.Items())
}

// TestTourniquetRules: the six defaults with where each comes from; each applies
// only to a bag that holds a tourniquet, and gives no reason of its own. PAcT is
// the United Kingdom's "Standards for Public Access Trauma (PAcT) First Aid
// Kits", undated, table "At a minimum", read at protectuk.police.uk.
func TestTourniquetRules(t *testing.T) {
	want := []struct {
		need     inventory.Category
		atLeast  int
		severity inventory.Severity
		source   string
	}{
		{inventory.CategoryTourniquet, 2, inventory.SeverityStop, "PAcT: windlass tourniquet, 2"},
		{inventory.CategoryMarker, 1, inventory.SeverityStop, "common practice; PAcT has 2 indelible marker pens"},
		{inventory.CategoryRecordCard, 1, inventory.SeverityWarn, "common practice"},
		{inventory.CategoryPressureDressing, 1, inventory.SeverityWarn,
			"common practice; PAcT has 4 large trauma wound dressings"},
		{inventory.CategoryPlainDressing, 1, inventory.SeverityWarn, "common practice"},
		{inventory.CategoryPainRelief, 1, inventory.SeverityWarn, "common practice; in the bag or carried elsewhere"},
	}
	got := inventory.TourniquetRules()
	require.Len(t, got, len(want))
	for i, w := range want {
		assert.Equal(t, inventory.KitRule{WhenCategory: inventory.CategoryTourniquet, NeedCategory: w.need,
			AtLeast: w.atLeast, Severity: w.severity}, got[i], w.source)
	}
}
