package storetest

import (
	"testing"

	"stowkeeper/inventory"
)

// promise is one thing that every store must keep to.
type promise struct {
	name string
	try  func(*scene)
}

// promises lists all of them; each is tried on its own fresh store.
var promises = [][]promise{
	unitPromises, lookPromises, placePromises, itemPromises, kitListPromises, bagPromises, lotPromises, stockPromises,
	ledgerPromises, movementPromises, recordPromises, changePromises, devicePromises, noticePromises, peoplePromises,
	accountPromises, answerPromises, pagePromises, sheetOffsetPromises, deliveryPromises, usagePromises, registerPromises,
	documentPromises,
}

// Run tries every promise of inventory.Store. open gives an empty store.
func Run(t *testing.T, open func(t *testing.T) inventory.Store) {
	for _, group := range promises {
		for _, p := range group {
			t.Run(p.name, func(t *testing.T) {
				t.Parallel()
				p.try(newScene(t, open(t)))
			})
		}
	}
}
