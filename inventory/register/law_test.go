package register_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/register"
)

// TestWhatRegulationsAskOfAPage holds a page to what regulations ask by the
// day, in the place's own time zone: the order of time (UK Misuse of Drugs
// Regulations 2001, reg. 19), entries on the day or the next (reg. 20(b)),
// keeping for two years from the last entry (reg. 23; "from the last entry":
// from memory), the date on which it happened (21 CFR 1304.21(d)), a new count
// within two years (1304.11(c)).
func TestWhatRegulationsAskOfAPage(t *testing.T) {
	athens := inventory.Station{Code: "N", Timezone: "Europe/Athens"}
	at := func(text string) inventory.Instant {
		x, err := time.Parse("2006-01-02 15:04", text)
		if err != nil {
			panic(err)
		}
		return inventory.InstantOf(x)
	}
	in := func(id int64, qty int, happened, recorded string) inventory.Movement {
		return inventory.Movement{ID: id, LotID: 1, Qty: qty, From: "supplier", To: "P", Reason: inventory.ReasonReceipt,
			HappenedAt: at(happened), RecordedAt: at(recorded), By: "A", Witness: "B"}
	}
	out := in(4, 5, "2026-03-02 09:00", "2026-03-02 09:00")
	out.From, out.To, out.Reason = "P", "used", inventory.ReasonUsed
	counted := inventory.BalanceCheck{ID: 1, Item: "AMP", Place: "P", Counted: 5, Expected: 5, After: 3,
		HappenedAt: at("2026-02-28 23:30"), RecordedAt: at("2026-03-01 08:00")}
	first := []inventory.Movement{in(3, 1, "2026-01-10 21:00", "2026-01-11 21:59"), in(2, 2, "2026-01-10 22:30",
		"2026-01-12 21:00"), in(1, 2, "2026-01-10 21:00", "2026-01-11 22:01")}
	for _, c := range []struct {
		name          string
		moves         []inventory.Movement
		checks        []inventory.BalanceCheck
		now           string
		late          []bool
		keep, countBy inventory.Day
		due           bool
	}{
		{"nothing", nil, nil, "2026-01-01 12:00", nil, 0, 0, false},
		{"received", first, nil, "2028-01-12 21:59", []bool{true, false, false}, inventorytest.Day("2028-01-12"),
			inventorytest.Day("2028-01-12"), false},
		{"over in Athens", first, nil, "2028-01-12 22:00", []bool{true, false, false}, inventorytest.Day("2028-01-12"),
			inventorytest.Day("2028-01-12"),
			true},
		{"counted", first, []inventory.BalanceCheck{counted}, "2028-03-01 21:00", []bool{true, false, false, false},
			inventorytest.Day("2028-03-01"), inventorytest.Day("2028-03-01"), false},
		{"empty", append([]inventory.Movement{out}, first...), []inventory.BalanceCheck{counted}, "2030-01-01 12:00",
			[]bool{true, false, false, false, false}, inventorytest.Day("2028-03-02"), 0, false},
	} {
		p := register.RegisterOf(register.RegisterBook{Item: inventory.Item{Code: "AMP"}, Place: inventory.Place{Code: "P"},
			Station: athens, Movements: c.moves, Checks: c.checks, Years: 2, Now: at(c.now)})
		var late []bool
		for i, e := range p.Entries {
			late = append(late, e.Late)
			assert.Equal(t, i+1, e.No, c.name)
		}
		assert.Equal(t, c.late, late, c.name)
		assert.Equal(t, c.keep, p.KeepUntil, c.name)
		assert.Equal(t, c.countBy, p.CountBy, c.name)
		assert.Equal(t, c.due, p.CountDue, c.name)
	}
}
