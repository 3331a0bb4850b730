package lists

import (
	"stowkeeper/inventory"
)

// holdsControlled refuses to give a place with controlled items in it another
// holder: they change hands only by two signatures.
func holdsControlled(r inventory.Reader, pl inventory.Place) error {
	stock, err := r.Stock(inventory.StockFilter{Places: []string{pl.Code}})
	if err != nil {
		return err
	}
	var codes []string
	for _, st := range stock {
		codes = append(codes, st.Lot.Item)
	}
	if len(codes) == 0 {
		return nil
	}
	items, err := ItemsByCode(r, inventory.ItemFilter{Codes: codes})
	for _, it := range items {
		if it.Controlled {
			return inventory.Errorf(inventory.Conflict,
				"controlled items lie there: sign them back before somebody else holds it")
		}
	}
	return err
}
