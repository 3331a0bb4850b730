package inventory_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// TestJudgeInspection walks what can be answered of two points that decide and
// one that does not.
func TestJudgeInspection(t *testing.T) {
	it := inventory.Item{InspectionPoints: []string{"a", "b"}, InspectionNotes: []string{"n"}}
	for _, c := range []struct {
		points []string
		passed bool
		wrong  []string
		failed []string
	}{
		{points: []string{"a", "b", "n"}, passed: true},
		{points: []string{"b", "a"}, passed: true},
		{points: []string{"a", "b", "!n"}, passed: true},
		{points: []string{"!a", "b", "n"}, failed: []string{"a"}},
		{points: []string{"!a", "!b", "!n"}, failed: []string{"a", "b"}},
		{points: []string{"!b"}, failed: []string{"b"}},
		{points: []string{"n", "!b"}, failed: []string{"b"}},
		{points: nil, wrong: []string{"points"}},
		{points: []string{"a"}, wrong: []string{"points"}},
		{points: []string{"n", "!n"}, wrong: []string{"points[1].point", "points"}},
		{points: []string{"a", "b", "c"}, wrong: []string{"points[2].point"}},
		{points: []string{"!a", "!c"}, wrong: []string{"points[1].point"}},
		{points: []string{"a", "a", "b"}, wrong: []string{"points[1].point"}},
		{points: []string{"A", "b"}, wrong: []string{"points[0].point", "points"}},
	} {
		name := fmt.Sprint(c.points)
		passed, err := inventory.JudgeInspection(it, inventorytest.Answers(c.points...))
		if c.wrong != nil {
			inventorytest.RequireFields(t, err, c.wrong...)
			continue
		}
		require.NoError(t, err, name)
		assert.Equal(t, c.passed, passed, name)
		assert.Equal(t, c.failed, inventory.FailedPoints(it, inventorytest.Answers(c.points...)), name)
	}
	_, err := inventory.JudgeInspection(it, []inventory.PointCheck{{Point: "a", Pass: true, Note: "\x00"}, {Point: "b",
		Pass: true}})
	inventorytest.RequireFields(t, err, "points[0].note")
}

// TestInspectionOfTheWhole: where the owner named no points, a device is judged
// as a whole.
func TestInspectionOfTheWhole(t *testing.T) {
	passed, err := inventory.JudgeInspection(inventory.Item{}, inventorytest.Answers(inventory.WholePoint))
	require.NoError(t, err)
	assert.True(t, passed)
	passed, err = inventory.JudgeInspection(inventory.Item{}, inventorytest.Answers("!"+inventory.WholePoint))
	require.NoError(t, err)
	assert.False(t, passed)
	_, err = inventory.JudgeInspection(inventory.Item{InspectionPoints: []string{"a"}},
		inventorytest.Answers(inventory.WholePoint))
	inventorytest.RequireFields(t, err, "points[0].point", "points")
}

// TestInspectionDueTable names what decides when the next inspection is due,
// and from which day on a bag warns of it.
func TestInspectionDueTable(t *testing.T) {
	for _, c := range []struct {
		name      string
		every     int
		serial    string
		received  string
		inspected string
		notice    string
		due, warn string // empty for never
	}{
		{name: "no interval", serial: "S", received: "2027-01-01"},
		{name: "never inspected: from receipt", every: 90, serial: "S", received: "2027-01-01", due: "2027-04-01",
			warn: "2027-04-02"},
		{name: "since the last one that it passed", every: 90, serial: "S", received: "2027-01-01", inspected: "2027-03-01",
			due: "2027-05-30", warn: "2027-05-31"},
		{name: "across a leap day", every: 90, serial: "S", received: "2028-01-01", due: "2028-03-31", warn: "2028-04-01"},
		{name: "an inspection from before its receipt here", every: 90, serial: "S", received: "2027-03-01",
			inspected: "2027-01-01", due: "2027-05-30", warn: "2027-05-31"},
		{name: "no device", every: 90, received: "2027-01-01"},
		{name: "a notice asks, no interval", serial: "S", received: "2027-01-01", notice: "2027-02-01", due: "2027-02-01",
			warn: "2027-02-01"},
		{name: "a notice asks before it is due anyway", every: 90, serial: "S", received: "2027-01-01", notice: "2027-02-01",
			due: "2027-02-01", warn: "2027-02-01"},
		{name: "a notice asks when it is overdue anyway", every: 90, serial: "S", received: "2027-01-01",
			notice: "2027-06-01", due: "2027-04-01", warn: "2027-04-02"},
		{name: "a notice asks on the very day", every: 90, serial: "S", received: "2027-01-01", notice: "2027-04-01",
			due: "2027-04-01", warn: "2027-04-01"},
		{name: "a notice asks to look at units of a batch", received: "2027-01-01", notice: "2027-02-01", due: "2027-02-01",
			warn: "2027-02-01"},
	} {
		t.Run(c.name, func(t *testing.T) {
			it := inventory.Item{Code: "X", Name: "x", Life: inventory.Life{InspectDays: c.every}}
			l := inventory.Lot{ID: 1, ReceivedOn: inventorytest.Day(c.received)}
			l.Item, l.Serial, l.InspectedOn, l.InspectBy = "X", c.serial, inventorytest.Day(c.inspected),
				inventorytest.Day(c.notice)
			due, ok := inventory.InspectionDue(it, l)
			assert.Equal(t, c.due != "", ok)
			assert.Equal(t, c.due, due.String())

			v := inventory.BagView{Station: inventory.Station{Timezone: "UTC"}, Items: map[string]inventory.Item{"X": it},
				Stock: []inventory.Stock{{Lot: l, Qty: 1}},
				List:  inventory.KitList{Lines: []inventory.Line{{Item: "X", Par: 1}}}}
			warned := ""
			for d := inventorytest.Day("2027-01-01"); d < inventorytest.Day("2028-05-01"); d++ {
				r := inventory.ReadinessOf(v, d.Start(inventorytest.UtcZone), 0, 0)
				has := len(r.Findings) == 1 && r.Findings[0].Kind == inventory.FindInspectionDue
				if has && warned == "" {
					warned = d.String()
					assert.Equal(t, due, r.Findings[0].Date)
					assert.Equal(t, inventory.ReadyWithGaps, r.State, "a warning only")
				}
				assert.Equal(t, warned != "", has, d)
				if !has && c.warn != "" {
					assert.Equal(t, c.warn, r.NextChange.Date.String(), "it is foreseen")
				}
			}
			assert.Equal(t, c.warn, warned)
		})
	}
}

// TestWornOut: a device has worn out with the last application that the owner
// allows, and counts no longer.
// What is due stands first, what falls due within the horizon comes after it,
// and what was passed a moment ago is not asked for.
func TestInspectionsToOffer(t *testing.T) {
	on := func(lot int64, due string) inventory.LotOnLine {
		return inventory.LotOnLine{LotID: lot, InspectionDue: inventorytest.Day(due)}
	}
	r := inventory.Readiness{AsOf: inventorytest.Day("2027-06-01"), HorizonDays: 30,
		Findings: []inventory.Finding{{Kind: inventory.FindEndsSoon, LotID: 9}, {Kind: inventory.FindInspectionDue, LotID: 1,
			Date: inventorytest.Day("2027-05-01")}},
		Lines: []inventory.LineState{{Lots: []inventory.LotOnLine{on(4, "2027-07-02"), on(3, "2027-07-01"),
			on(1, "2027-05-01")}}, {Lots: []inventory.LotOnLine{{LotID: 5}}}},
		Surplus:   []inventory.LotOnLine{on(6, "2027-06-01")},
		NotOnList: []inventory.LotOnLine{on(7, "2027-06-30")}}
	assert.Equal(t, []inventory.OfferedInspection{{LotID: 1, Due: inventorytest.Day("2027-05-01"), Overdue: true},
		{LotID: 6, Due: inventorytest.Day("2027-06-01")},
		{LotID: 7, Due: inventorytest.Day("2027-06-30")}, {LotID: 3, Due: inventorytest.Day("2027-07-01")}},
		inventory.InspectionsToOffer(r))
	r.HorizonDays = 0
	assert.Len(t, inventory.InspectionsToOffer(r), 2)
}

func TestWornOut(t *testing.T) {
	for cycles, want := range map[int]bool{0: false, 199: false, 200: true, 201: true} {
		l := inventory.Lot{Clocks: inventory.Clocks{Training: true}}
		l.Serial, l.Cycles = "S", cycles
		it := inventory.Item{Life: inventory.Life{TrainingCycles: 200}}
		assert.Equal(t, want, inventory.WornOut(it, l), cycles)
		assert.Equal(t, !want, inventory.Usable(it, l, inventorytest.Day("2027-06-14"), inventory.ForTraining), cycles)
		assert.False(t, inventory.WornOut(inventory.Item{}, l), "no limit, no end")
	}
}

func TestReusable(t *testing.T) {
	device, units := inventory.Lot{}, inventory.Lot{}
	device.Serial, units.BatchNo = "S", "B"
	assert.True(t, inventory.Reusable(inventory.Item{}, device))
	assert.False(t, inventory.Reusable(inventory.Item{SingleUse: true}, device))
	assert.False(t, inventory.Reusable(inventory.Item{}, units))
}
