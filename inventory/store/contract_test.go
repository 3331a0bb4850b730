package store_test

import (
	"testing"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/storetest"
)

// TestContract tries every promise of inventory.Store on both engines.
func TestContract(t *testing.T) {
	for _, engine := range []string{store.SQLite, store.Postgres} {
		t.Run(engine, func(t *testing.T) {
			storetest.Run(t, func(t *testing.T) inventory.Store { return storetest.OpenEmpty(t, engine) })
		})
	}
}
