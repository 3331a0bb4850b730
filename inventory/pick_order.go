package inventory

import "cmp"

// PickOrder orders two lots as a store is picked from, first expired first out:
// governing date ascending with undated lots last, then day of receipt, then id.
func PickOrder(a, b Lot, aThrough, bThrough Day) int {
	return cmp.Or(CompareEnd(aThrough, bThrough), cmp.Compare(a.ReceivedOn, b.ReceivedOn), cmp.Compare(a.ID, b.ID))
}
