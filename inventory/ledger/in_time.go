package ledger

import (
	"maps"
	"slices"

	"stowkeeper/inventory"
)

// flows are what came to places and left them, of the lots that movements take from them back in time. Nothing is
// read where all happen now, since nothing is dated later.
type flows map[inventory.PlaceLot][]Flow

// InTime brings the time of a movement that is not posted by the unit into the order of things. Refuses: Conflict.
func (u *Unit) InTime(m inventory.Movement) (inventory.Movement, error) {
	known, err := u.flowsFor([]inventory.Movement{m})
	if err != nil {
		return m, err
	}
	return known.fit(m, u.Decided)
}

// flowsFor reads what movements that are dated back are judged by. The stations are locked first, so that nobody dates
// anything back meanwhile.
func (u *Unit) flowsFor(ms []inventory.Movement) (flows, error) {
	batches, stations := map[string][]int64{}, map[string]bool{}
	for _, m := range ms {
		if m.HappenedAt == 0 || m.HappenedAt >= u.Now || inventory.OutsideCode(m.From) {
			continue
		}
		lot, noLot := u.Lot(m.LotID)
		from, noPlace := u.Place(m.From)
		if noLot != nil || noPlace != nil { // which is said where it was named
			continue
		}
		stations[from.Station] = true
		batches[m.From] = append(batches[m.From], lot.Batch.ID)
	}
	if len(batches) == 0 {
		return nil, nil
	}
	if err := u.W.LockStations(slices.Sorted(maps.Keys(stations))); err != nil {
		return nil, err
	}
	known := flows{}
	for place, of := range batches {
		moved, err := u.W.Movements(inventory.MovementFilter{Place: place, Batches: of}, inventory.Page{})
		if err != nil {
			return nil, err
		}
		for _, m := range moved {
			known.add(m, place)
		}
	}
	return known, nil
}

// add adds what a movement does to the balances of one of its places, or of both where none is named.
func (f flows) add(m inventory.Movement, place string) {
	for k, qty := range map[inventory.PlaceLot]int{{Place: m.From, Lot: m.LotID}: -m.Qty,
		{Place: m.To, Lot: m.IntoLotID}: m.Qty} {
		if _, known := f[k]; place == k.Place || place == "" && known {
			f[k] = append(f[k], Flow{At: m.HappenedAt, Qty: qty})
		}
	}
}

// fit brings a movement into the order of things, and keeps the time that was sent. That a place does not hold the
// units at all is for others to say.
func (f flows) fit(m inventory.Movement, decided bool) (inventory.Movement, error) {
	earliest, ok := EarliestOut(f[inventory.PlaceLot{Place: m.From, Lot: m.LotID}], m.Qty)
	if !ok || m.HappenedAt == 0 {
		return m, nil
	}
	at, err := InTime(m.HappenedAt, earliest, decided)
	if at != m.HappenedAt {
		m.Note = inventory.WithNote("time sent: "+m.HappenedAt.String(), m.Note)
	}
	m.HappenedAt = at
	return m, err
}
