package ledger

import (
	"context"

	"stowkeeper/inventory"
)

// Opened is units that somebody opens where they lie.
type Opened struct {
	Place      string            `json:"place" doc:"Place code"`
	Qty        int               `json:"qty" minimum:"1" maximum:"1000000"`
	HappenedAt inventory.Instant `json:"happened_at,omitempty" format:"date-time" doc:"Default: now"`
	Note       string            `json:"note,omitempty" maxLength:"2000"`
}

// OpenUnits starts the opened clock for some units of a lot where they lie: they become a lot of their own, which it
// returns, and the others stay as they are. Refuses: Forbidden without check where the place is; NotFound for the
// lot; Invalid by field, and where a controlled item lacks signatures; Conflict where nothing would start, or fewer
// units lie there. Locks the bag.
func (s *Service) OpenUnits(ctx context.Context, by inventory.Actor, lot int64, in Opened) (inventory.Lot, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActCheck, func(w inventory.Writer) (inventory.Lot, error) {
		u := NewUnit(w, by, s.now(), TwoSign)
		pl, err := u.Place(PlaceCode(in.Place))
		if err != nil {
			return inventory.Lot{}, inventory.AsField(err, "place", "not found")
		}
		if pl.Outside() {
			return inventory.Lot{}, inventory.InvalidField("place", "choose one of {1}",
				inventory.KindList(inventory.InsideKinds...))
		}
		station, err := u.CurrentStation(pl)
		if err != nil {
			return inventory.Lot{}, err
		}
		if err := by.Must(inventory.ActCheck, station.Code); err != nil {
			return inventory.Lot{}, err
		}
		if err := w.LockBags([]string{pl.Code}); err != nil {
			return inventory.Lot{}, err
		}
		m, err := u.opening(lot, pl, station, in)
		if err != nil {
			return inventory.Lot{}, err
		}
		if m, err = u.sign(m); err != nil {
			return inventory.Lot{}, err
		}
		if _, err := u.Append([]inventory.Movement{m}); err != nil {
			return inventory.Lot{}, err
		}
		return w.Lot(m.IntoLotID)
	})
}

// opening prepares the movement, in place, of units into their opened lot.
func (u *Unit) opening(lot int64, pl inventory.Place, station inventory.Station, in Opened) (inventory.Movement,
	error) {
	l, err := u.W.Lot(lot)
	if err != nil {
		return inventory.Movement{}, err
	}
	it, err := u.Item(l.Item)
	if err != nil {
		return inventory.Movement{}, err
	}
	at, err := Happened(in.HappenedAt, u.Now, "opened_at")
	var ps inventory.Problems
	if err != nil {
		ps.Take("", err)
	}
	ps.When(in.Qty < 1 || in.Qty > inventory.MaxQty, "qty", "enter {1} to {2}", 1, inventory.MaxQty)
	inventory.CheckText(&ps, "note", in.Note, false, inventory.MaxNote)
	if err := ps.Err(); err != nil {
		return inventory.Movement{}, err
	}
	switch {
	case it.Life.OpenedDays == 0:
		return inventory.Movement{}, inventory.Refuse(inventory.Conflict, "no limit after opening")
	case l.OpenedOn != 0:
		return inventory.Movement{}, inventory.Refuse(inventory.Conflict, "already opened")
	}
	clocks := l.Clocks
	clocks.OpenedOn = station.Today(at)
	into, err := u.ensureLot(inventory.Lot{Batch: l.Batch, Clocks: clocks, Parent: l.ID, ReceivedOn: l.ReceivedOn})
	if err != nil {
		return inventory.Movement{}, err
	}
	return u.InTime(inventory.Movement{Station: pl.Station, LotID: l.ID, IntoLotID: into.ID, Qty: in.Qty, From: pl.Code,
		To: pl.Code, Reason: inventory.ReasonTransfer,
		HappenedAt: at, RecordedAt: u.Now, By: u.By.Name, Note: in.Note})
}
