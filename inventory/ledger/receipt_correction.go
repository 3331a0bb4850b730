package ledger

import (
	"context"
	"slices"

	"stowkeeper/inventory"
)

// ReceiptCorrection is what a receipt should have said.
type ReceiptCorrection struct {
	Qty    int    `json:"qty" minimum:"0" maximum:"1000000" doc:"Units that were received; 0 for a receipt that was none"`
	Reason string `json:"reason" maxLength:"2000" doc:"Why: what was looked at, and who mistyped it"`
}

// CorrectReceipt corrects how many units came in. The receipt is made again with the right number, of the same lot and
// into the same place, and the wrong one is reversed exactly, so that what was received, and nothing else, is what
// changes, on the day on which it came; the newer receipt can be corrected like any. What has left the place since
// stays where it is: no correction takes it back. Returns both records. Refuses: Forbidden without keep_stock at the
// place; NotFound; Invalid for the number and the reason, and where a controlled item lacks signatures; Conflict for
// what is no receipt, for one that was corrected, and for a number below what has left. Locks the station.
func (s *Service) CorrectReceipt(ctx context.Context, by inventory.Actor, movement int64,
	in ReceiptCorrection) ([]inventory.Movement, error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) ([]inventory.Movement,
		error) {
		u := NewUnit(w, by, s.now(), TwoSign)
		was, err := w.Movement(movement)
		if err != nil {
			return nil, err
		}
		place, err := u.Place(was.To)
		if err != nil {
			return nil, err
		}
		if err := u.May(inventory.ActKeepStock, place); err != nil {
			return nil, err
		}
		if !place.Outside() {
			if err := w.LockStations([]string{place.Station}); err != nil {
				return nil, err
			}
		}
		if err := u.judgeReceiptCorrection(was, in); err != nil {
			return nil, err
		}
		undo, err := inventory.CorrectionOf(was, inventory.OutsidePlace(inventory.KindSupplier), place)
		if err != nil {
			return nil, err
		}
		undo.Note, undo.HappenedAt = in.Reason, was.HappenedAt
		again := inventory.Movement{LotID: was.LotID, Qty: in.Qty, From: was.From, To: was.To, Reason: was.Reason,
			HappenedAt: was.HappenedAt, Reference: was.Reference, Note: in.Reason}
		ms := []inventory.Movement{again, undo}
		u.received = true
		if in.Qty == 0 {
			ms = ms[1:]
		}
		return u.Post(ms, "receipt")
	})
}

// judgeReceiptCorrection refuses what cannot be corrected so.
func (u *Unit) judgeReceiptCorrection(was inventory.Movement, in ReceiptCorrection) error {
	lot, err := u.Lot(was.LotID)
	if err != nil {
		return err
	}
	of, err := u.W.Movements(inventory.MovementFilter{LotID: was.LotID, Place: was.To}, inventory.Page{})
	if err != nil {
		return err
	}
	if err := MayCorrectReceipt(was, of); err != nil {
		return err
	}
	held := 0
	for _, m := range of {
		if m.To == was.To && m.IntoLotID == was.LotID {
			held += m.Qty
		}
		if m.From == was.To && m.LotID == was.LotID {
			held -= m.Qty
		}
	}
	return ReceiptCorrectable(was.Qty, held, in, lot.Device())
}

// MayCorrectReceipt tells whether a movement is a receipt that nothing corrects, of all movements of its lot. Refuses:
// Conflict.
func MayCorrectReceipt(m inventory.Movement, of []inventory.Movement) error {
	if m.Reason != inventory.ReasonReceipt && m.Reason != inventory.ReasonOpening {
		return inventory.Refuse(inventory.Conflict, "not a receipt")
	}
	if slices.ContainsFunc(of, func(x inventory.Movement) bool { return x.Corrects == m.ID }) {
		return inventory.Refuse(inventory.Conflict, "corrected already")
	}
	return nil
}

// ReceiptCorrectable judges the number of units that a receipt of so many should have had, where so many are still
// there. Refuses: Invalid by field; Conflict for fewer than have left.
func ReceiptCorrectable(received, held int, in ReceiptCorrection, device bool) error {
	var ps inventory.Problems
	inventory.CheckText(&ps, "reason", in.Reason, true, inventory.MaxNote)
	ps.When(in.Qty < 0 || in.Qty > inventory.MaxQty, "qty", "enter {1} to {2}", 0, inventory.MaxQty)
	ps.When(in.Qty == received, "qty", "change at least one value")
	ps.When(device && in.Qty > 1, "qty", "one device at a time")
	if err := ps.Err(); err != nil {
		return err
	}
	if gone := received - held; in.Qty < gone {
		return inventory.Refuse(inventory.Conflict, "{1} {1|unit|units} of these went on from there: bring them back first, "+
			"or enter {1} or more", gone)
	}
	return nil
}

// ItemCorrectable tells whether units that were received as one item may turn out to be another, with all that was
// recorded of them: the clocks of both run alike, and no register knows either. Refuses: Conflict.
func ItemCorrectable(was, is inventory.Item) error {
	if was.Code == is.Code {
		return nil
	}
	a, b := was.Life, is.Life
	a.MadeMonths, b.MadeMonths = 0, 0 // is read from the pack
	if was.Controlled || is.Controlled || was.TrackedBy != is.TrackedBy || was.Unit != is.Unit ||
		was.SingleUse != is.SingleUse || a != b {
		return inventory.Refuse(inventory.Conflict,
			"controlled, counted, tracked or aging in another way: correct its receipt to 0 and receive it again")
	}
	return nil
}
