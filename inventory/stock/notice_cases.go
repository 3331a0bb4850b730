package stock

import (
	"stowkeeper/inventory"
)

func LotsByID(lots []inventory.Lot) map[int64]inventory.Lot {
	out := map[int64]inventory.Lot{}
	for _, l := range lots {
		out[l.ID] = l
	}
	return out
}
