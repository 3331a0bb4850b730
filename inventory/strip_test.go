package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

// TestStrip has a case for each kind of cell, for the order in which the kinds
// are tried, and for what stops a bag. Pouches are written apart by |, a foot as !.
func TestStrip(t *testing.T) {
	two := inventory.Line{Item: "A", Pouch: "Red", Par: 3, Minimum: 2}
	lax := inventory.Line{Item: "A", Pouch: "Red", Par: 3}
	in := func(pouch, item string) inventory.Line { return inventory.Line{Item: item, Pouch: pouch, Par: 1} }
	there := inventory.Line{Item: "A", PresenceOnly: true}
	vest := inventory.Line{Item: "A", CarriedElsewhere: "vest"}
	for _, c := range []struct {
		name string
		bag  *aBag
		want string
	}{
		{"enough", newBag(two).holds("A", 3, "2029-01-01"), "enough"},
		{"nothing there", newBag(two), "none!"},
		{"nothing there, and none is a must", newBag(lax), "none"},
		{"under the minimum", newBag(two).holds("A", 1, ""), "short!"},
		{"at the minimum", newBag(two).holds("A", 2, ""), "short"},
		{"all expired: nothing usable comes first", newBag(two).holds("A", 3, "2027-06-13"), "none!"},
		{"one expired beside enough", newBag(two).holds("A", 3, "").holds("A", 1, "2027-06-13"), "expired"},
		{"expired comes before short", newBag(two).holds("A", 1, "").holds("A", 1, "2027-06-13"), "expired!"},
		{"short comes before ending", newBag(two).holds("A", 2, "2027-06-20"), "short"},
		{"ends on the last day of the horizon", newBag(two).holds("A", 3, "2027-07-14"), "ending"},
		{"ends the day after the horizon", newBag(two).holds("A", 3, "2027-07-15"), "enough"},
		{"more than asked for, and that ends soon", newBag(two).holds("A", 3, "2027-08-01").holds("A", 2, "2027-07-01"),
			"ending"},
		{"surplus alone", newBag(two).holds("A", 5, ""), "enough"},
		{"one lot on two lines", newBag(in("Red", "A"), in("Blue", "A")).holds("A", 2, "2027-07-01"), "ending|ending"},
		{"recalled: counts as nothing", newBag(two).holds("A", 3, "", withdrawn), "none!"},
		{"recalled beside enough", newBag(two).holds("A", 3, "").holds("A", 1, "", withdrawn), "enough!"},
		{"a training mark on what lies there", newBag(two).holds("A", 3, "").seen(inventory.SawTrainingMark), "enough!"},
		{"a failed point of what is no longer there", newBag(two).with(func(v *inventory.BagView) {
			v.Observations = []inventory.Observation{{Kind: inventory.SawFailedPoint, Item: "A", LotID: 9}}
		}).holds("A", 3, ""), "enough"},
		{"present", newBag(there).holds("A", 1, ""), "enough"},
		{"not present", newBag(there), "none!"},
		{"carried elsewhere", newBag(vest), "enough"},
		{"an accepted item that ends soon", newBag(inventory.Line{Item: "A", Accepts: []string{"B"}, Par: 1}).holds("B", 1,
			"2027-07-01"), "ending"},
		{"what is not on the list has no cell", newBag(two).holds("A", 3, "").holds("B", 1, "2027-06-13"), "enough"},
		{"pouches in the order of the list", newBag(in("Red", "A"), in("Blue", "B"), in("Red", "C")).holds("A", 1, ""),
			"enough none|none"},
		{"several stop", newBag(two, inventory.Line{Item: "B", Par: 1, Minimum: 1}), "none!|none!"},
	} {
		assert.Equal(t, c.want, drawn(c.bag.judge().Strip()), c.name)
	}
}

func drawn(s inventory.Strip) string {
	var out string
	for i, p := range s {
		if i > 0 {
			out += "|"
		}
		for j, c := range p.Cells {
			if j > 0 {
				out += " "
			}
			out += string(c.Kind)
			if c.Stops {
				out += "!"
			}
		}
	}
	return out
}

// A pouch counts what needs somebody, and what is enough for now only; a strip counts its kinds.
func TestStripCounts(t *testing.T) {
	p := inventory.StripPouch{Cells: []inventory.Cell{{Kind: inventory.CellNone}, {Kind: inventory.CellShort, Stops: true},
		{Kind: inventory.CellExpired},
		{Kind: inventory.CellEnding}, {Kind: inventory.CellEnough}, {Kind: inventory.CellEnough, Stops: true}}}
	assert.Equal(t, 4, p.Gaps())
	assert.Equal(t, 1, p.Ending())
	assert.Equal(t, inventory.StripCount{Lines: 12, Enough: 4, Short: 2, None: 2, Ending: 2, Expired: 2, Stops: 4},
		inventory.Strip{p, p}.Count())
}
