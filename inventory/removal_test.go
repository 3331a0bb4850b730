package inventory_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

func TestTakeOutBy(t *testing.T) {
	station := inventory.Station{Code: "N"}
	for _, c := range []struct {
		purpose inventory.Purpose
		how     inventory.Removal
		want    inventory.TakeOutLine
	}{
		{inventory.ForIssue, inventory.RemoveToStore, inventory.TakeOutLine{To: "N-STORE", Reason: inventory.ReasonReturn}},
		{inventory.ForTraining, inventory.RemoveToStore, inventory.TakeOutLine{To: "N-TRAINING",
			Reason: inventory.ReasonReturn}},
		{inventory.ForIssue, inventory.RemoveToQuarantine, inventory.TakeOutLine{To: "N-QUARANTINE",
			Reason: inventory.ReasonQuarantine}},
		{inventory.ForTraining, inventory.RemoveToQuarantine, inventory.TakeOutLine{To: "N-TRAINING-QUARANTINE",
			Reason: inventory.ReasonQuarantine}},
		{inventory.ForIssue, inventory.RemoveDamaged, inventory.TakeOutLine{To: "disposed", Reason: inventory.ReasonDisposed,
			Cause: inventory.CauseDamaged}},
		{inventory.ForIssue, "", inventory.TakeOutLine{}},
	} {
		c.want.LotID, c.want.Qty = 7, 2
		assert.Equal(t, c.want, inventory.RemovalLine(station, inventory.Bag{Purpose: c.purpose}, c.how, 7, 2),
			"%s from a bag for %s", c.how, c.purpose)
	}
}

func TestSealUnsettled(t *testing.T) {
	for state, want := range map[inventory.SealState]bool{inventory.SealNone: false, inventory.SealIntact: false,
		inventory.SealBroken: true, inventory.SealDifferent: true} {
		assert.Equal(t, want, inventory.BagRecord{SealState: state}.SealUnsettled(), state)
	}
}
