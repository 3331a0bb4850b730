package inventory

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A scan ticks the lines that it names, and no others.
func TestPickListMatches(t *testing.T) {
	pl := PickList{Lines: []Pick{
		{Item: "TQ", LotID: 1, BatchNo: "A1"}, {Item: "TQ", LotID: 2, BatchNo: "A2"}, {Item: "PEN", LotID: 3},
		{Item: "PLAIN", LotID: 4, BatchNo: "A1", Pouch: "one"}, {Item: "PLAIN", LotID: 4, BatchNo: "A1", Pouch: "two"},
		{Item: "SPLINT", LotID: 5, Serial: "S-9"},
	}}
	for name, c := range map[string]struct {
		scan PickScan
		want []int
	}{
		"a pack":                       {PickScan{Items: []string{"TQ"}, BatchNo: "A1"}, []int{0}},
		"a number of two items":        {PickScan{BatchNo: "a1", Serial: "a1"}, []int{0, 3, 4}},
		"a shelf with one lot":         {PickScan{Items: []string{"PEN"}}, []int{2}},
		"a shelf, two pouches":         {PickScan{Items: []string{"PLAIN"}}, []int{3, 4}},
		"a shelf with two lots":        {PickScan{Items: []string{"TQ"}}, nil},
		"a device's label":             {PickScan{LotID: 5}, []int{5}},
		"a serial number":              {PickScan{BatchNo: "s-9", Serial: "s-9"}, []int{5}},
		"another batch of the item":    {PickScan{Items: []string{"TQ"}, BatchNo: "A3"}, nil},
		"another item with the number": {PickScan{Items: []string{"MASK"}, BatchNo: "A1"}, nil},
		"nothing":                      {PickScan{}, nil},
	} {
		assert.Equal(t, c.want, pl.Matches(c.scan), name)
	}
}
