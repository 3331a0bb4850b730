package store_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
)

// TestRowsHoldWhatValuesHold: each field of a value goes into the field of its
// row that has its name and comes back from there, but for those that stand
// here, which are written by hand.
func TestRowsHoldWhatValuesHold(t *testing.T) {
	values := map[string]any{
		"answer": inventory.Answer{}, "bag": inventory.Bag{}, "bag_check": inventory.Check{},
		"bag_log": inventory.BagLogEntry{},
		"bag_use": inventory.Use{}, "balance_check": inventory.BalanceCheck{}, "batch": inventory.Batch{},
		"batch_correction": inventory.BatchCorrection{}, "delivery": inventory.Delivery{},
		"history_entry": inventory.HistoryEntry{}, "inspection": inventory.Inspection{}, "item": inventory.Item{},
		"kit_list": inventory.KitList{}, "notice": inventory.Notice{}, "observation": inventory.Observation{},
		"one_time_link": inventory.Link{}, "place": inventory.Place{}, "product": inventory.Product{},
		"reported": inventory.Reported{},
		"restock":  inventory.Restock{}, "seal": inventory.SealEntry{}, "session": inventory.Session{},
		"station": inventory.Station{}, "terminal": inventory.Terminal{}, "training_use": inventory.TrainingUse{},
		"vehicle_out_of_service": inventory.VehicleOutOfService{},
	}
	byHand := map[string][]string{
		// in the bag's place, and in three columns
		"bag": {"Station", "AtStation", "Name", "Purpose", "OutOfService"},
		// of other checks and uses
		"bag_check": {"StillReported"},
		// worked out
		"reported": {"Counts"},
		// whose warnings are kept as messages
		"delivery": {"Lines"},
		// the bag's own record says which list it has from then on
		"restock": {"ListMove"},
		// tables of their own
		"kit_list": {"Lines", "Modules", "Rules"},
	}
	for _, row := range store.RowStructs() {
		table := store.TableOf(row)
		if value, ok := values[table]; ok {
			assert.Equal(t, byHand[table], store.Unpaired(row, value), table)
			delete(values, table)
		}
	}
	assert.Empty(t, values)
}
