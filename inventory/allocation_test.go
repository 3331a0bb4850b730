package inventory_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// layout writes lines as "usable/par: lot×qty …" with a ! on lots that do not
// count, then the surplus.
func layout(r inventory.Readiness) []string {
	var out []string
	lots := func(ls []inventory.LotOnLine) string {
		var parts []string
		for _, l := range ls {
			mark := ""
			if !l.Usable {
				mark = "!"
			}
			parts = append(parts, fmt.Sprintf("%d×%d%s", l.LotID, l.Qty, mark))
		}
		return strings.Join(parts, " ")
	}
	for _, l := range r.Lines {
		out = append(out, strings.TrimSpace(fmt.Sprintf("%d/%d: %s", l.Usable, l.Par, lots(l.Lots))))
	}
	if len(r.Surplus) > 0 {
		out = append(out, "surplus: "+lots(r.Surplus))
	}
	if len(r.NotOnList) > 0 {
		out = append(out, "not on list: "+lots(r.NotOnList))
	}
	return out
}

// TestAllocationOrder: each unit counts for one line; minimums first, own item
// before accepted ones, list order, then par likewise; first expired first.
func TestAllocationOrder(t *testing.T) {
	red := inventory.Line{Item: "A", Pouch: "Red", Par: 3, Minimum: 2}
	blue := inventory.Line{Item: "A", Pouch: "Blue", Par: 2, Minimum: 1}
	accepts := func(l inventory.Line, items ...string) inventory.Line { l.Accepts = items; return l }
	for _, c := range []struct {
		name string
		bag  *aBag
		want []string
	}{
		{"two pouches, enough for all", newBag(red, blue).holds("A", 5, ""), []string{"3/3: 1×3", "2/2: 1×2"}},
		{"two pouches, enough for the minimums", newBag(red, blue).holds("A", 3, ""), []string{"2/3: 1×2", "1/2: 1×1"}},
		{"two pouches, the first minimum goes first", newBag(red, blue).holds("A", 2, ""), []string{"2/3: 1×2", "0/2:"}},
		{"two pouches, after the minimums the first par", newBag(red, blue).holds("A", 4, ""), []string{"3/3: 1×3",
			"1/2: 1×1"}},
		{"more than both ask for", newBag(red, blue).holds("A", 7, ""), []string{"3/3: 1×3", "2/2: 1×2", "surplus: 1×2"}},
		{"first expired counts first, undated last", newBag(red).holds("A", 2, "").holds("A", 2, "2028-01-01").holds("A", 1,
			"2027-12-31"), []string{"3/3: 3×1 2×2", "surplus: 1×2"}},
		{"equal dates by lot", newBag(red).holds("A", 2, "2028-01-01").holds("A", 2, "2028-01-01"), []string{"3/3: 1×2 2×1",
			"surplus: 2×1"}},
		{"own item before an accepted one", newBag(accepts(red, "B")).holds("B", 3, "2027-12-31").holds("A", 2, ""),
			[]string{"3/3: 2×2 1×1", "surplus: 1×2"}},
		{"accepted items in their order", newBag(accepts(red, "C", "B")).holds("B", 2, "2027-12-31").holds("C", 2, ""),
			[]string{"3/3: 2×2 1×1", "surplus: 1×1"}},
		{"an own minimum goes before another line's accepted one", newBag(accepts(inventory.Line{Item: "X", Par: 1,
			Minimum: 1}, "A"), red).holds("A", 2, ""), []string{"0/1:", "2/3: 1×2"}},
		{"an accepted minimum goes before another line's par", newBag(red, accepts(inventory.Line{Item: "X", Par: 1,
			Minimum: 1}, "A")).holds("A", 3, ""), []string{"2/3: 1×2", "1/1: 1×1"}},
		{"own par goes before another line's accepted par", newBag(accepts(inventory.Line{Item: "X", Par: 1}, "A"),
			red).holds("A", 3, ""), []string{"0/1:", "3/3: 1×3"}},
		{"presence only wants one", newBag(inventory.Line{Item: "A", PresenceOnly: true}).holds("A", 3, ""),
			[]string{"1/1: 1×1", "surplus: 1×2"}},
		{"carried elsewhere wants none", newBag(inventory.Line{Item: "A", CarriedElsewhere: "vest", Par: 3}).holds("A", 1,
			""), []string{"0/0:", "surplus: 1×1"}},
		{"what does not count lies beside the first line that asks for it", newBag(blue, red).holds("A", 3,
			"2027-06-13").holds("A", 1, "", withdrawn).holds("A", 1, "", trainingStock),
			[]string{"0/2: 1×3! 2×1! 3×1!", "0/3:"}},
		{"or accepts it", newBag(accepts(red, "B")).holds("B", 1, "2027-06-13"), []string{"0/3: 1×1!"}},
		{"not on the list", newBag(red).holds("Z", 2, "").holds("Z", 1, "2027-06-13"), []string{"0/3:",
			"not on list: 1×2 2×1!"}},
	} {
		assert.Equal(t, c.want, layout(c.bag.judge()), c.name)
	}
}

func TestLineStateSaysWhatIsMissing(t *testing.T) {
	b := newBag(inventory.Line{Item: "A", Pouch: "Red", Par: 3, Minimum: 2, Critical: true}, inventory.Line{Item: "B",
		CarriedElsewhere: "vest"}, inventory.Line{Item: "C", PresenceOnly: true}).
		holds("A", 1, "2027-12-31")
	r := b.judge()
	got := r.Lines[0]
	assert.Equal(t, inventory.LineState{Item: "A", Pouch: "Red", Par: 3, Minimum: 2, Critical: true, Usable: 1,
		Shortfall: 2,
		Lots: []inventory.LotOnLine{{LotID: 1, Item: "A", BatchNo: "L1", Qty: 1,
			UsableThrough: inventorytest.Day("2027-12-31"),
			Rule:          "printed", Usable: true}}}, got)
	assert.Equal(t, inventory.LineState{Item: "B", CarriedElsewhere: "vest"}, r.Lines[1])
	assert.Equal(t, inventory.LineState{Item: "C", Par: 1, Minimum: 1, PresenceOnly: true, Shortfall: 1}, r.Lines[2])
}
