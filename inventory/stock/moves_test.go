package stock_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

func TestReasonToMove(t *testing.T) {
	at := func(code, station string, kind inventory.PlaceKind, p inventory.Purpose) inventory.Place {
		return inventory.Place{Code: code, Station: station, Kind: kind, Purpose: p}
	}
	store := at("N-STORE", "N", inventory.KindStore, inventory.ForIssue)
	shelf := at("N-SHELF", "N", inventory.KindStore, inventory.ForIssue)
	apart := at("N-QUARANTINE", "N", inventory.KindQuarantine, inventory.ForIssue)
	belt := at("BELT", "N", inventory.KindCarrier, inventory.ForIssue)
	for _, c := range []struct {
		from, to inventory.Place
		want     inventory.Reason
	}{
		{store, shelf, inventory.ReasonTransfer}, {store, apart, inventory.ReasonQuarantine},
		{apart, store, inventory.ReasonRelease}, {store, belt, inventory.ReasonStow}, {belt, store, inventory.ReasonReturn},
		{store, store, ""}, {store, at("S-STORE", "S", inventory.KindStore, inventory.ForIssue), ""}, // it is sent
		{store, at("BAG", "N", inventory.KindBag, inventory.ForIssue), ""},             // it is restocked
		{at("N-AWAY", "N", inventory.KindAway, inventory.ForIssue), store, ""},         // it comes back
		{store, at("N-TRAINING", "N", inventory.KindStore, inventory.ForTraining), ""}, // it is for good
		{at("N-TRAINING", "N", inventory.KindStore, inventory.ForTraining), store, ""},
	} {
		got, ok := stock.ReasonToMove(c.from, c.to)
		assert.Equal(t, c.want, got, "%s to %s", c.from.Code, c.to.Code)
		assert.Equal(t, c.want != "", ok)
	}
}

func TestToTheBin(t *testing.T) {
	const today = inventory.Day(20_000)
	items := map[string]inventory.Item{"GAUZE": {Code: "GAUZE", Dated: true},
		"AMP": {Code: "AMP", Dated: true, Controlled: true}}
	lot := func(id int64, item string, through inventory.Day, withdrawn ...string) stock.LotSummary {
		return stock.LotSummary{Lot: inventory.Lot{ID: id, Batch: inventory.Batch{Item: item, LastUsable: through,
			BatchRecord: inventory.BatchRecord{Withdrawn: withdrawn}}},
			Where: []stock.AtPlace{{Place: "N-STORE", Qty: 3}, {Place: "BAG", Qty: 1}}}
	}
	held := []stock.LotSummary{lot(1, "GAUZE", today-1), lot(2, "GAUZE", today), lot(3, "GAUZE", today+1),
		lot(4, "AMP", today-1), lot(5, "GAUZE", today-1, "R-1"), lot(6, "GAUZE", 0)}
	at := inventory.Place{Code: "N-STORE", Station: "N", Kind: inventory.KindStore, Purpose: inventory.ForIssue}
	assert.Equal(t, []inventory.Movement{{LotID: 1, Qty: 3, From: "N-STORE", To: "disposed", Reason: "disposed",
		Cause: "expired"}}, stock.ToTheBin(at, held, items, today))
	at.Purpose = inventory.ForTraining
	assert.Empty(t, stock.ToTheBin(at, held, items, today))
}
