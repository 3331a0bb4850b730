package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// TestPlanCountsExplains: every difference has one reason, and becomes one
// movement.
func TestPlanCountsExplains(t *testing.T) {
	when := inventorytest.At("2027-06-14T07:30:00Z")
	line := func(counted int, r inventory.CountReason) []inventory.CheckLine {
		return []inventory.CheckLine{{LotID: 4, Counted: counted, Reason: r, Incident: "I-7"}}
	}
	out := func(qty int, to string, r inventory.Reason, c inventory.Cause) []inventory.Movement {
		return []inventory.Movement{{LotID: 4, Qty: qty, From: "N-01", To: to, Reason: r, Cause: c, HappenedAt: when,
			Reference: "I-7"}}
	}
	for _, c := range []struct {
		name  string
		lines []inventory.CheckLine
		want  []inventory.Movement
	}{
		{"as expected", line(5, ""), nil},
		{"used", line(3, inventory.CountUsed), out(2, "used", inventory.ReasonUsed, "")},
		{"missing", line(0, inventory.CountMissing), out(5, "lost", inventory.ReasonLost, inventory.CauseMissing)},
		{"damaged", line(4, inventory.CountDamaged), out(1, "disposed", inventory.ReasonDisposed, inventory.CauseDamaged)},
		{"expired and removed", line(4, inventory.CountExpired), out(1, "disposed", inventory.ReasonDisposed,
			inventory.CauseExpired)},
		{"found", line(7, inventory.CountFound), []inventory.Movement{{LotID: 4, Qty: 2, From: "found", To: "N-01",
			Reason: inventory.ReasonFound, HappenedAt: when, Reference: "I-7"}}},
	} {
		got, err := inventory.PlanCounts("N-01", c.lines, map[int64]int{4: 5}, when)
		require.NoError(t, err, c.name)
		assert.Equal(t, c.want, got, c.name)
	}
}

func TestPlanCountsRefuses(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []inventory.CheckLine
		path  string
	}{
		{"less without a reason", []inventory.CheckLine{{LotID: 4, Counted: 4}}, "lines[0].reason"},
		{"less, but found", []inventory.CheckLine{{LotID: 4, Counted: 4, Reason: inventory.CountFound}}, "lines[0].reason"},
		{"more without a reason", []inventory.CheckLine{{LotID: 4, Counted: 6}}, "lines[0].reason"},
		{"more, but missing", []inventory.CheckLine{{LotID: 4, Counted: 6, Reason: inventory.CountMissing}},
			"lines[0].reason"},
		{"equal with a reason", []inventory.CheckLine{{LotID: 4, Counted: 5, Reason: inventory.CountUsed}},
			"lines[0].reason"},
		{"not counted", nil, "lines"},
		{"more in two pouches, without a reason", []inventory.CheckLine{{LotID: 4, Counted: 5}, {LotID: 4, Counted: 5}},
			"lines[0].reason"},
		{"two reasons", []inventory.CheckLine{{LotID: 4, Counted: 2, Reason: inventory.CountUsed},
			{LotID: 4, Reason: inventory.CountMissing}}, "lines[1].reason"},
		{"two incidents", []inventory.CheckLine{{LotID: 4, Counted: 2, Reason: inventory.CountUsed, Incident: "I-1"},
			{LotID: 4, Reason: inventory.CountUsed, Incident: "I-2"}}, "lines[1].reason"},
		{"another lot that is not there", []inventory.CheckLine{{LotID: 4, Counted: 5}, {LotID: 9, Counted: 1}},
			"lines[1].reason"},
	} {
		_, err := inventory.PlanCounts("N-01", c.lines, map[int64]int{4: 5}, 1)
		inventorytest.RequireFields(t, err, c.path)
	}
	_, err := inventory.PlanCounts("N-01", nil, map[int64]int{4: 5, 2: 1, 3: 0}, 1)
	inventorytest.RequireFields(t, err, "lines", "lines") // lot 3 should not be there, so it need not be counted
}

// TestPlanCountsProperty: after the planned movements the bag holds what the
// crew counted.
func TestPlanCountsProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		expected, counted := map[int64]int{}, map[int64]int{}
		var lines []inventory.CheckLine
		for lot := range int64(rapid.IntRange(0, 6).Draw(t, "lots")) {
			expected[lot] = rapid.IntRange(0, 9).Draw(t, "expected")
			counted[lot] = rapid.IntRange(0, 9).Draw(t, "counted")
			l := inventory.CheckLine{LotID: lot, Counted: counted[lot]}
			switch {
			case counted[lot] > expected[lot]:
				l.Reason = inventory.CountFound
			case counted[lot] < expected[lot]:
				l.Reason = rapid.SampledFrom([]inventory.CountReason{"used", "missing", "damaged", "expired"}).Draw(t, "reason")
			}
			lines = append(lines, l)
		}
		ms, err := inventory.PlanCounts("B", lines, expected, 1)
		require.NoError(t, err)
		for _, m := range ms {
			require.Positive(t, m.Qty)
			if m.To == "B" {
				expected[m.LotID] += m.Qty
			} else {
				require.Equal(t, "B", m.From)
				expected[m.LotID] -= m.Qty
			}
		}
		require.Equal(t, counted, expected)
	})
}

// TestAsks: a check must account for all that should have been found, a partial one for the lots that it names.
func TestAsks(t *testing.T) {
	should := map[int64]int{1: 2, 2: 3}
	lines := []inventory.CheckLine{{LotID: 2, Counted: 3}, {LotID: 7, Counted: 1}}
	for _, c := range []struct {
		kind  inventory.CheckKind
		left  int
		whole bool
		asks  map[int64]int
	}{
		{inventory.FullCheck, 0, true, should},
		{inventory.FullCheck, 1, false, map[int64]int{2: 3, 7: 0}},
		{inventory.SealCheck, 0, false, should},
	} {
		x := inventory.Check{Kind: c.kind, NotCounted: c.left, Lines: lines}
		assert.Equal(t, c.whole, x.Whole(), c)
		assert.Equal(t, c.asks, x.Asks(should), c)
	}
}

func TestMergeCounts(t *testing.T) {
	got := inventory.MergeCounts([]inventory.CheckLine{
		{LotID: 4, Counted: 2}, {LotID: 5, Counted: 1, Reason: inventory.CountFound},
		{LotID: 4, Counted: 3, Reason: inventory.CountUsed, Incident: "I-7"}, {LotID: 4, Counted: 0},
		{LotID: 6, Counted: 1, Reason: inventory.CountUsed}, {LotID: 6, Reason: inventory.CountMissing},
		{LotID: 7, Counted: 1, Expected: inventorytest.Ptr(1)}, {LotID: 7, Counted: 2, Expected: inventorytest.Ptr(2)},
	})
	assert.Equal(t, []inventory.CheckLine{
		{LotID: 4, Counted: 5, Reason: inventory.CountUsed, Incident: "I-7"}, {LotID: 5, Counted: 1,
			Reason: inventory.CountFound},
		{LotID: 6, Counted: 1, Reason: inventory.CountUsed}, {LotID: 6, Reason: inventory.CountMissing},
		{LotID: 7, Counted: 1, Expected: inventorytest.Ptr(1)}, {LotID: 7, Counted: 2, Expected: inventorytest.Ptr(2)},
	}, got)
	assert.Empty(t, inventory.MergeCounts(nil))
}

func TestOutsideCode(t *testing.T) {
	for _, c := range []string{"supplier", "used", "disposed", "lost", "found"} {
		assert.True(t, inventory.OutsideCode(c))
	}
	for _, c := range []string{"", "store", "bag", "USED", "N-01"} {
		assert.False(t, inventory.OutsideCode(c))
	}
}
