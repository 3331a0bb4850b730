package ledger

import (
	"context"
	"errors"

	"stowkeeper/inventory"
)

// Identification is what was found out of unidentified units.
type Identification struct {
	Place            string               `json:"place" doc:"Code of the quarantine where they are"`
	Qty              int                  `json:"qty" minimum:"1" maximum:"100000"`
	Product          int64                `json:"product,omitempty" doc:"Product id, where known"`
	BatchNo          string               `json:"batch_no,omitempty" maxLength:"40" doc:"Batch number"`
	Serial           string               `json:"serial,omitempty" maxLength:"40" doc:"Serial number, for a device"`
	MadeOn           string               `json:"made_on,omitempty" doc:"Date of manufacture: YYYY-MM or YYYY-MM-DD"`
	EndPrinted       string               `json:"end_printed,omitempty" doc:"The date as printed: YYYY-MM or YYYY-MM-DD"`
	EndWording       inventory.Wording    `json:"end_wording,omitempty" enum:"expiry,hourglass,use_by,use_before"`
	Note             string               `json:"note" maxLength:"2000" doc:"How it was found out"`
	OnConflict       inventory.OnConflict `json:"on_conflict,omitempty" enum:"keep,correct" doc:"With another date"`
	CorrectionReason string               `json:"correction_reason,omitempty" maxLength:"2000" doc:"With correct: why"`
}

// receipt is the identification as a pack would have been received.
func (in Identification) receipt(item string) inventory.Receipt {
	return inventory.Receipt{Item: item, Product: in.Product, BatchNo: in.BatchNo, Serial: in.Serial, MadeOn: in.MadeOn,
		EndPrinted: in.EndPrinted,
		EndWording: in.EndWording, Qty: in.Qty, Note: in.Note, OnConflict: in.OnConflict,
		CorrectionReason: in.CorrectionReason}
}

// Identify turns unidentified units into units of the batch that they turned out to be of, and returns their lot.
// They stay in quarantine; a release follows as for any others. Refuses: Forbidden without keep_stock at the place's
// station; NotFound for the lot; Invalid by field; Conflict for what is identified, for other dates than the batch
// was received with, and for a serial number that is somewhere else. Locks the item of a batch that is new or
// corrected.
func (s *Service) Identify(ctx context.Context, by inventory.Actor, lot int64, in Identification) (inventory.Lot,
	error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepStock, func(w inventory.Writer) (inventory.Lot, error) {
		u := NewUnit(w, by, s.now(), TwoSign)
		old, err := w.Lot(lot)
		if err != nil {
			return inventory.Lot{}, err
		}
		place, err := u.Place(PlaceCode(in.Place))
		if err != nil {
			return inventory.Lot{}, inventory.AsField(err, "place", "not found")
		}
		if err := u.May(inventory.ActKeepStock, place); err != nil {
			return inventory.Lot{}, err
		}
		if !old.Unidentified {
			return inventory.Lot{}, inventory.Refuse(inventory.Conflict, "already identified")
		}
		if place.Kind != inventory.KindQuarantine {
			return inventory.Lot{}, inventory.InvalidField("place", "choose {1}", inventory.KindList(inventory.KindQuarantine))
		}
		return u.identify(old, place, in)
	})
}

func (u *Unit) identify(old inventory.Lot, place inventory.Place, in Identification) (inventory.Lot, error) {
	var ps inventory.Problems
	inventory.CheckText(&ps, "note", in.Note, true, inventory.MaxNote)
	if err := ps.Err(); err != nil {
		return inventory.Lot{}, err
	}
	station, err := u.Station(place.Station)
	if err != nil {
		return inventory.Lot{}, err
	}
	from, lot, err := u.identity(in.receipt(old.Item), old, place, station.Today(u.Now))
	if err != nil {
		return inventory.Lot{}, err
	}
	ms, err := u.Post([]inventory.Movement{
		{LotID: old.ID, Qty: in.Qty, From: place.Code, To: string(inventory.KindFound), Reason: inventory.ReasonFound,
			Note: in.Note},
		{LotID: lot.ID, Qty: in.Qty, From: from, To: place.Code, Reason: inventory.ReasonFound, Note: in.Note},
	}, "lines")
	if err != nil {
		return inventory.Lot{}, err
	}
	return u.W.Lot(ms[1].IntoLotID)
}

// identity returns the lot that units turned out to be of, and whether the
// ledger has it as lost: then that is where the device comes from.
func (u *Unit) identity(in inventory.Receipt, old inventory.Lot, place inventory.Place, day inventory.Day) (from string,
	lot inventory.Lot, err error) {
	known, err := u.ReceiptFacts(old.Item)
	if err != nil {
		return "", inventory.Lot{}, err
	}
	plan, err := inventory.JudgeReceipt(in, inventory.Carried{}, place, day, known)
	if err == nil {
		lot, err = u.lotOf(plan)
		return string(inventory.KindFound), lot, err
	}
	if !errors.Is(err, inventory.ErrReceived) {
		return "", inventory.Lot{}, err
	}
	b, none := u.W.FindBatch(old.Item, 0, "", inventory.OneLine(in.Serial))
	if none != nil { // it is written otherwise
		return "", inventory.Lot{}, err
	}
	was, _, lost, err := LostAs(u.W, b.ID)
	if err == nil && !lost {
		err = inventory.Refuse(inventory.Conflict, "serial number recorded elsewhere")
	}
	if err != nil {
		return "", inventory.Lot{}, err
	}
	lot, err = u.W.Lot(was)
	return string(inventory.KindLost), lot, err
}
