package storetest

import (
	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

var usagePromises = []promise{
	{"past usage is kept by station, item and period, in the place of what was kept before", usageKept},
}

func usageKept(c *scene) {
	usage := func(f inventory.UsageFilter) []inventory.PastUsage {
		return got(c, func(r inventory.Reader) ([]inventory.PastUsage, error) { return r.PastUsage(f) })
	}
	assert.Empty(c.t, usage(inventory.UsageFilter{}))
	rows := []inventory.PastUsage{{Station: north, Item: bandage, Period: "2026-01", Qty: 4}, {Station: north,
		Item: bandage, Period: "2026-01-14", Qty: 0}, {Station: south, Item: bandage, Period: "2025-12", Qty: 9}}
	for _, u := range []inventory.PastUsage{rows[2], {Station: north, Item: bandage, Period: "2026-01", Qty: 3}, rows[1],
		rows[0]} {
		c.write(func(w inventory.Writer) error { return w.SetPastUsage(u) })
	}
	assert.Equal(c.t, rows, usage(inventory.UsageFilter{}))
	assert.Equal(c.t, rows[2:], usage(inventory.UsageFilter{Stations: []string{south}}))
	assert.Empty(c.t, usage(inventory.UsageFilter{Item: "NONE"}))
	for _, u := range []inventory.PastUsage{{Station: "NONE", Item: bandage, Period: "2026-01"}, {Station: north,
		Item: "NONE", Period: "2026-01"}, {Station: north, Item: bandage, Period: "2026"}, {Station: north, Item: bandage,
		Period: "2026-01", Qty: -1}} {
		c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.SetPastUsage(u) })
	}
}
