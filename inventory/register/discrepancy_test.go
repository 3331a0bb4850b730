package register_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/amount"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/register"
	"stowkeeper/inventory/store/storetest"
)

// TestDiscrepancy: a count that differs opens one case of its page, and a use whose parts do not add up one of its
// own; each stays open until two people close it, at the stations of its place alone.
func TestDiscrepancy(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h, _ := dispensed(t, s)
		it, err := h.S.Lists.Item(h.Ctx, fixture.Admin, "AMP")
		require.NoError(t, err)
		it.Content = amount.ContentOf("10 mg")
		_, err = h.S.Lists.UpdateItem(h.Ctx, fixture.Admin, it)
		require.NoError(t, err)
		count := func(n int) {
			_, err := h.S.Register.RecordBalanceCheck(h.Ctx, h.Signed(fixture.Keeper, "Wil"), inventory.BalanceCheck{
				Item: "amp", Place: "n-01", Counted: n})
			require.NoError(t, err)
		}
		for _, n := range []int{3, 2, 2, 3} { // 3 are there
			h.Pass(time.Minute)
			count(n)
		}
		lots, err := h.S.Register.StockOf(h.Ctx, fixture.Keeper, "AMP", "N-01")
		require.NoError(t, err)
		_, err = h.S.Register.RecordEntry(h.Ctx, h.Signed(fixture.Keeper, "Wil"), register.EntryRequest{
			Kind: register.RequestUse, Place: "N-01", Reference: "I-2",
			Lines: []register.EntryRequestLine{{LotID: lots[0].ID, Qty: 1, Given: "9.5"}}})
		require.NoError(t, err)
		cases := func(by inventory.Actor, open bool) (texts []string) {
			all, err := h.S.Register.Discrepancies(h.Ctx, by, nil, open)
			require.NoError(t, err)
			for _, c := range all {
				texts = append(texts, c.Station+" "+c.Name+", "+c.Text.String())
			}
			return texts
		}
		both := []string{"NORTH Controlled ampoule, Controlled ampoule does not balance: 2 counted, 3 recorded",
			"NORTH Controlled ampoule, given and wasted do not add up to 10 mg"}
		assert.Equal(t, both, cases(north, true))
		south := inventory.Actor{Name: "Sol", Role: inventory.Quartermaster, Stations: []string{"SOUTH"}}
		assert.Empty(t, cases(south, false))
		_, err = h.S.Lists.UpdateBag(h.Ctx, fixture.Admin, "N-01", 0, ledger.BagChange{
			AtStation: inventorytest.Ptr("SOUTH")})
		require.NoError(t, err)
		assert.Len(t, cases(south, true), 2, "where it is")
		assert.Len(t, cases(north, true), 2, "and where it belongs")

		all, err := h.S.Register.Discrepancies(h.Ctx, north, nil, true)
		require.NoError(t, err)
		id := all[0].ID
		for kind, by := range map[inventory.ErrorKind]inventory.Actor{inventory.Forbidden: fixture.Crew,
			inventory.Invalid: fixture.Keeper} {
			_, err := h.S.Register.CloseDiscrepancy(h.Ctx, by, id, "found")
			inventorytest.RequireKind(t, kind, err)
		}
		_, err = h.S.Register.CloseDiscrepancy(h.Ctx, h.Signed(fixture.Keeper, "Wil"), id, " ")
		inventorytest.RequireFields(t, err, "outcome")
		done, err := h.S.Register.CloseDiscrepancy(h.Ctx, h.Signed(fixture.Keeper, "Wil"), id, "one lay under the tray")
		require.NoError(t, err)
		_, err = h.S.Register.CloseDiscrepancy(h.Ctx, h.Signed(fixture.Keeper, "Wil"), id, "again")
		inventorytest.RequireKind(t, inventory.Conflict, err)
		again, err := h.S.Register.Discrepancy(h.Ctx, north, id)
		require.NoError(t, err)
		assert.Equal(t, done, again)
		assert.Equal(t, []string{"Quinn", "Wil", "one lay under the tray"}, []string{again.ClosedBy, again.Witness,
			again.Outcome})
		assert.Len(t, cases(north, true), 1)
		assert.Len(t, cases(north, false), 2)
		_, err = h.S.Register.Discrepancy(h.Ctx, north, 99)
		inventorytest.RequireKind(t, inventory.NotFound, err)
		h.Verify()
	})
}

// TestWhatADestructionSays: who authorised it stands in the entry, and is read back whatever else the note says.
func TestWhatADestructionSays(t *testing.T) {
	controlled, other := inventory.Item{Controlled: true}, inventory.Item{}
	assert.True(t, inventory.ToAuthorise(controlled, inventory.Movement{Reason: inventory.ReasonDisposed}))
	assert.False(t, inventory.ToAuthorise(controlled, inventory.Movement{Reason: inventory.ReasonQuarantine}))
	assert.False(t, inventory.ToAuthorise(other, inventory.Movement{Reason: inventory.ReasonDisposed}))
	for _, c := range []struct{ who, note, wantWho, wantRest string }{
		{"Dr Example", "", "Dr Example", ""},
		{" Dr  Example; on call ", "glass; broken", "Dr Example, on call", "glass; broken"},
	} {
		note := inventory.WithNote("sent by a program", inventory.AuthorisedNote(c.who, c.note))
		parts, who, rest := inventory.Remarks(inventory.ReasonDisposed, note)
		assert.Equal(t, []string{c.wantWho, inventory.WithNote("sent by a program", c.wantRest)}, []string{who, rest})
		assert.Equal(t, amount.Parts{}, parts)
	}
	// typed by a person, and no remark of ours
	for _, r := range []inventory.Reason{inventory.ReasonStow, inventory.ReasonCorrection} {
		_, who, rest := inventory.Remarks(r, "authorised by Dr Example; given to N. Night")
		assert.Equal(t, []string{"", "authorised by Dr Example; given to N. Night"}, []string{who, rest})
	}
	parts, _, rest := inventory.Remarks(inventory.ReasonUsed, "given 5 mg, wasted 5 mg; given slowly")
	assert.Equal(t, amount.Parts{Given: "5 mg", Wasted: "5 mg"}, parts)
	assert.Equal(t, "given slowly", rest)
}

// TestAPeriodOfAPage: it begins with the balance before, in the station's zone, and entries keep their numbers.
func TestAPeriodOfAPage(t *testing.T) {
	athens := inventory.Station{Code: "N", Timezone: "Europe/Athens"}
	at := func(day int, hour int) inventory.Instant {
		return inventory.InstantOf(time.Date(2026, 3, day, hour, 0, 0, 0, time.UTC))
	}
	in := func(id int64, qty int, when inventory.Instant) inventory.Movement {
		return inventory.Movement{ID: id, LotID: 1, Qty: qty, From: "supplier", To: "P", Reason: inventory.ReasonReceipt,
			HappenedAt: when, RecordedAt: when, By: "A", Witness: "B"}
	}
	moves := []inventory.Movement{in(1, 1, at(1, 12)), in(2, 2, at(2, 23)), in(3, 4, at(4, 12))} // 3 March in Athens
	for _, c := range []struct {
		from, to string
		opening  int
		numbers  []int
	}{
		{"", "", 0, []int{1, 2, 3}}, {"2026-03-02", "", 1, []int{2, 3}}, {"2026-03-03", "2026-03-03", 1, []int{2}},
		{"2026-03-04", "", 3, []int{3}}, {"2026-03-05", "", 7, []int{}}, {"", "2026-03-02", 0, []int{1}},
	} {
		b := register.RegisterBook{Place: inventory.Place{Code: "P"}, Station: athens, Movements: moves}
		if c.from != "" {
			b.From = inventorytest.Day(c.from)
		}
		if c.to != "" {
			b.To = inventorytest.Day(c.to)
		}
		p := register.RegisterOf(b)
		numbers := []int{}
		for _, e := range p.Entries {
			numbers = append(numbers, e.No)
		}
		assert.Equal(t, c.numbers, numbers, "%+v", c)
		assert.Equal(t, []int{c.opening, 7}, []int{p.Opening, p.Balance}, "%+v", c)
	}
	assert.Equal(t, register.Period{From: inventorytest.Day("2024-02-28")},
		register.PeriodKept(inventorytest.Day("2026-02-28"), 2))
	assert.Equal(t, register.Period{From: inventorytest.Day("2023-02-28")},
		register.PeriodKept(inventorytest.Day("2024-02-29"), 1))
}
