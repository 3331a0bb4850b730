package shift_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/shift"
)

// TestOverdueBack: the day due back itself is not too late.
func TestOverdueBack(t *testing.T) {
	p := inventory.Place{Kind: inventory.KindAway, DueBack: inventorytest.Day("2027-06-16")}
	assert.False(t, shift.OverdueBack(p, inventorytest.Day("2027-06-16")))
	assert.True(t, shift.OverdueBack(p, inventorytest.Day("2027-06-17")))
	p.DueBack = 0
	assert.False(t, shift.OverdueBack(p, inventorytest.Day("2199-12-31")), "what has no day is never overdue")
	assert.False(t, shift.OverdueBack(inventory.Place{Kind: inventory.KindStore, DueBack: 1},
		inventorytest.Day("2027-06-17")))
}
