package shift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/shift"
)

func TestJudgeCarrier(t *testing.T) {
	items := map[string]inventory.Item{"TQ": {Code: "TQ", Name: "Tourniquet", Life: inventory.Life{InspectDays: 30},
		InspectionPoints: []string{"buckle"}}}
	stock := func(change func(*inventory.Lot)) []inventory.Stock {
		l := inventory.Lot{ID: 1, ReceivedOn: inventorytest.Day("2027-01-01")}
		l.Item, l.LastUsable = "TQ", inventorytest.Day("2027-06-30")
		change(&l)
		return []inventory.Stock{{Place: "BELT", Lot: l, Qty: 1}}
	}
	for name, c := range map[string]struct {
		change func(*inventory.Lot)
		on     string
		want   inventory.State
	}{
		"as it should be": {func(*inventory.Lot) {}, "2027-06-30", inventory.Ready},
		"past its end":    {func(*inventory.Lot) {}, "2027-07-01", inventory.NotReady},
		"under notice":    {func(l *inventory.Lot) { l.Withdrawn = []string{"FSN"} }, "2027-06-01", inventory.NotReady},
		"inspection due":  {func(l *inventory.Lot) { l.Serial = "S" }, "2027-02-01", inventory.ReadyWithGaps},
		"a notice asks for it": {func(l *inventory.Lot) { l.Serial, l.InspectBy = "S", inventorytest.Day("2027-01-10") },
			"2027-01-10",
			inventory.ReadyWithGaps},
		"inspection due then": {func(l *inventory.Lot) { l.Serial = "S" }, "2027-01-31", inventory.Ready},
	} {
		assert.Equal(t, c.want, shift.JudgeCarrier(inventory.Place{Code: "BELT"}, stock(c.change), items,
			inventorytest.Day(c.on)).State, name)
	}
}

func TestJudgeVehicle(t *testing.T) {
	bag := func(code string, state inventory.State) inventory.BagSummary {
		return inventory.BagSummary{Bag: inventory.Bag{Code: code}, State: state, Headline: message.Plain(string(state))}
	}
	judge := func(bags ...inventory.BagSummary) shift.VehicleState {
		return shift.JudgeVehicle("N", "Van", nil, bags, nil)
	}
	assert.Equal(t, inventory.Ready, judge(bag("A", inventory.Ready)).State)
	assert.Equal(t, inventory.ReadyWithGaps, judge(bag("A", inventory.Ready), bag("B", inventory.ReadyWithGaps)).State)
	off := judge(bag("A", inventory.ReadyWithGaps), bag("B", inventory.OutOfService))
	assert.Equal(t, inventory.NotReady, off.State, "a bag that was taken off may not go, so neither may the vehicle")
	assert.Equal(t, "B", off.Bags[0].Code, "worst first")
	assert.Equal(t, "Do not use: B: out_of_service", off.Headline.String())
	bad := shift.Carrier{Place: inventory.Place{Code: "BELT"}, State: inventory.NotReady,
		Findings: []inventory.Finding{{Text: message.M("old")}}}
	assert.Equal(t, "Do not use: BELT: old", shift.JudgeVehicle("N", "Van", nil, nil, []shift.Carrier{bad}).
		Headline.String())
	whole := shift.JudgeVehicle("N", "Van", &inventory.ServicePause{Reason: "brakes"}, []inventory.BagSummary{bag("A",
		inventory.NotReady)}, nil)
	assert.Equal(t, inventory.OutOfService, whole.State)
	assert.Equal(t, "Out of service: brakes", whole.Headline.String())
}

// A shift goes round the bags of its vehicle in their order, and is done when each was checked that day.
func TestNextToCheck(t *testing.T) {
	at := inventory.InstantOf(time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC))
	station := inventory.Station{Timezone: "Europe/London"}
	bag := func(code string, priority int, seal, full inventory.Instant) inventory.BagSummary {
		b := inventory.Bag{Code: code, Priority: priority}
		b.LastSealCheck, b.LastFullCheck = seal, full
		return inventory.BagSummary{Bag: b}
	}
	yesterday := at.Add(-10 * time.Hour)
	for _, c := range []struct {
		after, want string
		bags        []inventory.BagSummary
	}{
		{"A", "C", []inventory.BagSummary{bag("B", 2, 0, 0), bag("A", 1, at, 0), bag("C", 1, yesterday, 0)}},
		{"B", "C", []inventory.BagSummary{bag("B", 2, at, 0), bag("A", 1, 0, at), bag("C", 1, 0, yesterday)}},
		{"A", "B", []inventory.BagSummary{bag("B", 2, 0, 0), bag("A", 1, 0, 0)}},
		{"A", "", []inventory.BagSummary{bag("B", 2, 0, at), bag("A", 1, 0, 0)}},
		{"A", "", []inventory.BagSummary{bag("A", 1, at, 0)}},
	} {
		assert.Equal(t, c.want, shift.NextToCheck(c.bags, c.after, station, at), "%+v", c)
	}
}
