package inventory_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// endRules are the rules in the order that settles ties.
var endRules = []string{"printed", "made", "stowed", "exposed", "opened"}

// setEnd gives a lot, of an item with every limit (everyLimit), an end date by
// one rule. today is 2027-04-01.
func setEnd(l *inventory.Lot, rule string, on inventory.Day) {
	switch rule {
	case "printed":
		l.EndPrinted, l.EndWording, l.LastUsable = on.String(), inventory.WordExpiry, on
	case "made": // 60 months before, on a day that no month clamps
		y, m, d := on.Date()
		l.MadeOn = inventorytest.Day(fmt.Sprintf("%04d-%02d-%02d", y-5, m, d))
	case "stowed": // 12 months before
		y, m, d := on.Date()
		l.StowedOn = inventorytest.Day(fmt.Sprintf("%04d-%02d-%02d", y-1, m, d))
	case "exposed": // riding since 2027-03-01: 32 of 90 days by now
		l.ExposedSince = inventorytest.Day("2027-03-01")
		l.ExposedDays = 89 - int(on-l.ExposedSince)
	case "opened": // 28 days before
		l.OpenedOn = on - 28
	}
}

// TestEveryCombinationOfEnds walks all 32 sets of rules that can set an end
// date, and in each of them every order of which comes first, and all of them
// on one day: the earliest governs, the order of the rules settles ties, and
// every other one is listed.
func TestEveryCombinationOfEnds(t *testing.T) {
	it, today, combinations := inventory.Item{Life: everyLimit}, inventorytest.Day("2027-04-01"), 0
	for set := range 32 {
		var rules []string
		for i, r := range endRules {
			if set&(1<<i) != 0 {
				rules = append(rules, r)
			}
		}
		orders := append(permutations(rules), nil) // nil: a tie of all
		for _, order := range orders {
			var l inventory.Lot
			var want []string
			for i, r := range order {
				on := inventorytest.Day("2027-04-10") + inventory.Day(3*i)
				setEnd(&l, r, on)
				want = append(want, on.String()+" "+r)
			}
			if order == nil {
				for _, r := range rules {
					setEnd(&l, r, inventorytest.Day("2027-04-10"))
					want = append(want, "2027-04-10 "+r)
				}
			}
			var got []string
			for _, e := range inventory.Ends(it, l, today) {
				got = append(got, e.On.String()+" "+string(e.Rule))
			}
			name := strings.Join(rules, "+")
			require.Equal(t, want, got, name)
			end, ok := inventory.Governing(it, l, today)
			require.Equal(t, len(rules) > 0, ok, name)
			if ok {
				require.Equal(t, want[0], end.On.String()+" "+string(end.Rule), name)
			}
			combinations++
		}
	}
	assert.Equal(t, 326+32, combinations, "every order of every set, and every tie")
}

// permutations lists every order of some texts; one, empty, of none.
func permutations(of []string) [][]string {
	if len(of) == 0 {
		return [][]string{{}}
	}
	var out [][]string
	for i, first := range of {
		for _, rest := range permutations(slices.Delete(slices.Clone(of), i, i+1)) {
			out = append(out, append([]string{first}, rest...))
		}
	}
	return out
}

// TestWordingGoverns: each wording, on medicine and on a device, with a month
// and with a day, against a clock that ends between the days that the wordings
// mean.
func TestWordingGoverns(t *testing.T) {
	for _, c := range []struct {
		printed  string
		wording  inventory.Wording
		medicine string
		device   string
	}{
		{"2027-06", "expiry", "2027-06-14 opened", "2027-06-14 opened"},
		{"2027-06", "hourglass", "2027-06-14 opened", "2027-06-14 opened"},
		{"2027-06", "use_by", "2027-05-31 printed", "2027-06-14 opened"},
		{"2027-06", "use_before", "2027-05-31 printed", "2027-05-31 printed"},
		{"2027-06-14", "expiry", "2027-06-14 printed", "2027-06-14 printed"},
		{"2027-06-14", "hourglass", "2027-06-14 printed", "2027-06-14 printed"},
		{"2027-06-14", "use_by", "2027-06-14 printed", "2027-06-14 printed"},
		{"2027-06-14", "use_before", "2027-06-13 printed", "2027-06-13 printed"},
		{"2027-06-15", "expiry", "2027-06-14 opened", "2027-06-14 opened"},
		{"2027-06-15", "use_before", "2027-06-14 printed", "2027-06-14 printed"},
	} {
		for category, want := range map[inventory.Category]string{"medicine": c.medicine, "pain relief": c.medicine,
			"tourniquet": c.device, "plain dressing": c.device} {
			it := inventory.Item{Category: category, Life: everyLimit}
			l := inventory.Lot{Batch: printed(t, c.printed, c.wording, category),
				Clocks: inventory.Clocks{OpenedOn: inventorytest.Day("2027-05-17")}}
			end, ok := inventory.Governing(it, l, inventorytest.Day("2027-05-20"))
			assert.True(t, ok)
			assert.Equal(t, want, end.On.String()+" "+string(end.Rule), "%s %s on %s", c.wording, c.printed, category)
			assert.Len(t, inventory.Ends(it, l, inventorytest.Day("2027-05-20")), 2)
		}
	}
}
