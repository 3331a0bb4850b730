package ledger_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/ledger"
)

func TestMayRetire(t *testing.T) {
	for _, c := range []struct {
		name                    string
		units, modules, waiting int
		want                    string
	}{
		{"empty, alone, all decided", 0, 0, 0, ""},
		{"one unit", 1, 0, 0, "empty the bag first: 1 unit in it"},
		{"units come first", 7, 2, 1, "empty the bag first: 7 units in it"},
		{"modules", 0, 2, 1, "take its 2 modules out first"},
		{"a record waits", 0, 0, 1, "review this bag's 1 pending report first"},
	} {
		err := ledger.MayRetire(c.units, c.modules, c.waiting)
		if c.want == "" {
			assert.NoError(t, err, c.name)
			continue
		}
		inventorytest.RequireKind(t, inventory.Conflict, err)
		assert.Equal(t, "conflict: "+c.want, err.Error(), c.name)
	}
}
