package shift_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
	"stowkeeper/inventory/shift"
)

// TestSuggestionOfCounts: what adjusting a waiting check starts from.
func TestSuggestionOfCounts(t *testing.T) {
	for _, c := range []struct {
		name string
		row  shift.CountReview
		want inventory.CheckLine
	}{
		{"as it was", shift.CountReview{Expected: 6, Counted: 6, Now: 6, Posted: 6, Listed: true},
			inventory.CheckLine{Counted: 6}},
		{"one missing, two used since", shift.CountReview{Expected: 6, Counted: 5, Now: 4, Posted: 3, Listed: true,
			Reason: inventory.CountMissing}, inventory.CheckLine{Counted: 3, Reason: inventory.CountMissing}},
		{"more gone than there is", shift.CountReview{Expected: 6, Counted: 1, Now: 2, Posted: -3, Listed: true,
			Reason: inventory.CountUsed, Incident: "I"}, inventory.CheckLine{Counted: 0, Reason: inventory.CountUsed,
			Incident: "I"}},
		{"nothing left to explain", shift.CountReview{Expected: 6, Counted: 5, Now: 0, Posted: -1, Listed: true,
			Reason: inventory.CountMissing}, inventory.CheckLine{Counted: 0}},
		{"came in since, so it was not counted", shift.CountReview{Now: 3, Posted: 3}, inventory.CheckLine{Counted: 3}},
	} {
		assert.Equal(t, c.want, c.row.Suggestion(), c.name)
	}
}
