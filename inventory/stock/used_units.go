package stock

import "stowkeeper/inventory"

// UsedUnits is a past use.
type UsedUnits struct {
	Incident   string            `json:"incident"`
	Bag        string            `json:"bag" doc:"Where the units were taken from"`
	HappenedAt inventory.Instant `json:"happened_at" format:"date-time"`
	By         string            `json:"by"`
	LotID      int64             `json:"lot_id"`
	BatchNo    string            `json:"batch_no,omitempty"`
	Serial     string            `json:"serial,omitempty"`
	Qty        int               `json:"qty"`
}

// UnitsUsed picks the uses out of movements, reusable devices among them. What
// was corrected is left out. lots are those that moved, by id.
func UnitsUsed(ms []inventory.Movement, lots map[int64]inventory.Lot) []UsedUnits {
	undone := map[int64]bool{}
	for _, m := range ms {
		undone[m.Corrects] = true
	}
	out := []UsedUnits{}
	for _, m := range ms {
		if m.Reason == inventory.ReasonUsed && !undone[m.ID] {
			l := lots[m.LotID]
			out = append(out, UsedUnits{m.Reference, m.From, m.HappenedAt, m.By, m.LotID, l.BatchNo, l.Serial, m.Qty})
		}
	}
	return out
}

func LotsByID(lots []inventory.Lot) map[int64]inventory.Lot {
	out := map[int64]inventory.Lot{}
	for _, l := range lots {
		out[l.ID] = l
	}
	return out
}
