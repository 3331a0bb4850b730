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
		name  string
		bag   *aBag
		want  string
		words string
	}{
		{"enough", newBag(two).holds("A", 3, "2029-01-01"), "enough", "1 line: 1 enough"},
		{"nothing there", newBag(two), "none!", "1 line: 1 none; 1 stops the bag"},
		{"nothing there, and none is a must", newBag(lax), "none", "1 line: 1 none"},
		{"under the minimum", newBag(two).holds("A", 1, ""), "short!", "1 line: 1 short; 1 stops the bag"},
		{"at the minimum", newBag(two).holds("A", 2, ""), "short", "1 line: 1 short"},
		{"all expired: nothing usable comes first", newBag(two).holds("A", 3, "2027-06-13"), "none!", "1 line: 1 none; 1 stops the bag"},
		{"one expired beside enough", newBag(two).holds("A", 3, "").holds("A", 1, "2027-06-13"), "expired", "1 line: 1 expired"},
		{"expired comes before short", newBag(two).holds("A", 1, "").holds("A", 1, "2027-06-13"), "expired!", "1 line: 1 expired; 1 stops the bag"},
		{"short comes before ending", newBag(two).holds("A", 2, "2027-06-20"), "short", "1 line: 1 short"},
		{"ends on the last day of the horizon", newBag(two).holds("A", 3, "2027-07-14"), "ending", "1 line: 1 ending soon"},
		{"ends the day after the horizon", newBag(two).holds("A", 3, "2027-07-15"), "enough", "1 line: 1 enough"},
		{"more than asked for, and that ends soon", newBag(two).holds("A", 3, "2027-08-01").holds("A", 2, "2027-07-01"), "ending", "1 line: 1 ending soon"},
		{"surplus alone", newBag(two).holds("A", 5, ""), "enough", "1 line: 1 enough"},
		{"one lot on two lines", newBag(in("Red", "A"), in("Blue", "A")).holds("A", 2, "2027-07-01"), "ending|ending", "2 lines: 2 ending soon"},
		{"recalled: counts as nothing", newBag(two).holds("A", 3, "", withdrawn), "none!", "1 line: 1 none; 1 stops the bag"},
		{"recalled beside enough", newBag(two).holds("A", 3, "").holds("A", 1, "", withdrawn), "enough!", "1 line: 1 enough; 1 stops the bag"},
		{"a training mark on what lies there", newBag(two).holds("A", 3, "").seen(inventory.SawTrainingMark), "enough!", "1 line: 1 enough; 1 stops the bag"},
		{"present", newBag(there).holds("A", 1, ""), "enough", "1 line: 1 enough"},
		{"not present", newBag(there), "none!", "1 line: 1 none; 1 stops the bag"},
		{"carried elsewhere", newBag(vest), "enough", "1 line: 1 enough"},
		{"an accepted item that ends soon", newBag(inventory.Line{Item: "A", Accepts: []string{"B"}, Par: 1}).holds("B", 1, "2027-07-01"), "ending", "1 line: 1 ending soon"},
		{"what is not on the list has no cell", newBag(two).holds("A", 3, "").holds("B", 1, "2027-06-13"), "enough", "1 line: 1 enough"},
		{"pouches in the order of the list", newBag(in("Red", "A"), in("Blue", "B"), in("Red", "C")).holds("A", 1, ""), "enough none|none", "3 lines: 1 enough, 2 none"},
		{"several stop", newBag(two, inventory.Line{Item: "B", Par: 1, Minimum: 1}), "none!|none!", "2 lines: 2 none; 2 stop the bag"},
	} {
		s := c.bag.judge().Strip()
		assert.Equal(t, c.want, drawn(s), c.name)
		assert.Equal(t, c.words, s.Words(), c.name)
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

// A pouch counts what needs somebody, and what is enough for now only.
func TestStripPouch(t *testing.T) {
	p := inventory.StripPouch{Cells: []inventory.Cell{{Kind: inventory.CellNone}, {Kind: inventory.CellShort}, {Kind: inventory.CellExpired}, {Kind: inventory.CellEnding}, {Kind: inventory.CellEnough}}}
	assert.Equal(t, 3, p.Gaps())
	assert.Equal(t, 1, p.Ending())
}
