package web

import (
	"context"
	"net/url"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

type quarantinePage struct {
	Base
	Lot                                           stock.LotSummary
	Place                                         inventory.Place
	There                                         int
	Name                                          string
	Label                                         message.Message
	Qty                                           Field
	Conflict                                      ConflictFields
	BatchNo, Serial, EndPrinted, EndWording, Note Field
	Signing                                       *SigningFields
	Signing2, Signing3                            *SigningFields // for the other forms
	ReleaseQty, To, DisposeQty, Cause, Authorised Field
	ReturnQty, Reference, SendQty, SendTo         Field
	MayRelease, BySerial, Apart                   bool
}

// identify records what unidentified units turned out to be.
func (s *server) identify(v *visit, f *form) error {
	in := ledger.Identification{Place: f.text("place"), Qty: f.number("qty"), BatchNo: f.text("batch_no"),
		Serial: f.text("serial"), EndPrinted: f.text("end_printed"),
		EndWording: inventory.Wording(f.text("end_wording")), Note: f.text("note"),
		OnConflict: inventory.OnConflict(f.text("on_conflict")), CorrectionReason: f.text("correction_reason")}
	return s.changeQuarantined(v, f, func(ctx context.Context, by inventory.Actor) (string, error) {
		l, err := s.svc.Ledger.Identify(ctx, by, paramID(v, "id"), in)
		return "/lots/" + formatID(l.ID) + "?done=identified-" + formatID(l.ID), err
	})
}

// moveUnits moves units to another place of the station, out of quarantine or into it.
func (s *server) moveUnits(v *visit, f *form) error {
	why, ok := stock.ReasonToMove(s.placeAt(v, f.text("place")), s.placeAt(v, f.text("to")))
	if !ok {
		why = inventory.ReasonRelease // which says what is wrong with it
	}
	return s.moveQuarantined(v, f, inventory.Movement{Qty: f.number("release_qty"), To: f.text("to"), Reason: why},
		"release_qty")
}

func (s *server) disposeQuarantined(v *visit, f *form) error {
	return s.moveQuarantined(v, f, inventory.Movement{Qty: f.number("dispose_qty"), To: string(inventory.KindDisposed),
		Reason: inventory.ReasonDisposed, Cause: inventory.Cause(f.text("cause")),
		AuthorisedBy: f.text("authorised_by")}, "dispose_qty")
}

func (s *server) returnQuarantined(v *visit, f *form) error {
	return s.moveQuarantined(v, f, inventory.Movement{Qty: f.number("return_qty"), To: string(inventory.KindSupplier),
		Reason: inventory.ReasonToSupplier, Reference: f.text("reference")}, "return_qty")
}

func (s *server) moveQuarantined(v *visit, f *form, m inventory.Movement, qty string) error {
	m.LotID, m.From = paramID(v, "id"), f.text("place")
	f.values.Set("qty_field", qty)
	return s.changeQuarantined(v, f, func(ctx context.Context, by inventory.Actor) (string, error) {
		_, err := s.svc.Ledger.Move(ctx, by, []inventory.Movement{m})
		if f.text("next") == "shelf" {
			return "/stock/" + url.PathEscape(m.From) + "?done=apart-1", err
		}
		return "/lots/" + formatID(m.LotID) + "?done=apart-" + formatID(m.LotID), err
	})
}

func (s *server) changeQuarantined(v *visit, f *form,
	do func(ctx context.Context, by inventory.Actor) (string, error)) error {
	f.names = func(path string) string {
		path = strings.TrimPrefix(strings.TrimPrefix(path, "movements[0]."), "lines[0].")
		if path == "qty" && f.text("qty_field") != "" {
			return f.text("qty_field")
		}
		return path
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		return do(ctx, by)
	})
}

func (s *server) quarantineForm(v *visit, f *form, failed error) error {
	x, err := s.lotAt(v, f)
	if err != nil {
		return err
	}
	if !stock.MayBeMoved(x.place) {
		return inventory.Refuse(inventory.Conflict, "not found")
	}
	p := &quarantinePage{Base: Base{Title: message.M("{1}, {2}", x.item.Name, lotLabel(x.lot.BatchNo, x.lot.Serial)),
		Caution: x.item.Category.Medicinal()}, Lot: x.lot.LotSummary, Place: x.place, There: x.there, Name: x.item.Name,
		Label: lotLabel(x.lot.BatchNo, x.lot.Serial), Apart: x.place.Kind == inventory.KindQuarantine,
		BySerial: x.item.TrackedBy == inventory.BySerial}
	p.MayRelease = !p.Apart || inventory.AllowedLot(x.item, x.lot.Lot,
		inventory.Place{Kind: inventory.KindStore, Purpose: x.place.Purpose}, inventory.ReasonRelease) == nil
	p.Qty = f.numberFrom("qty", message.M("Units"), x.there).Need()
	p.BatchNo = f.field("batch_no", message.M("Batch number"))
	p.Serial = f.field("serial", message.M("Serial number"))
	p.EndPrinted = f.field("end_printed", message.M("Date on pack")).WithHint(message.M("2027-06 or 2027-06-14"))
	p.EndWording = f.choice("end_wording", message.M("Date wording on pack"),
		wordingOptions()).WithHint(message.M("Needed for medicines. Default: expiry"))
	p.Note = f.field("note", message.M("How identified")).Need()
	p.Conflict = conflictFields(f)
	p.ReleaseQty = f.numberFrom("release_qty", message.M("Units"), x.there).Need()
	p.To = f.choice("to", message.M("To"), placeOptions(v.places(), x.place.Station, func(to inventory.Place) bool {
		_, ok := stock.ReasonToMove(x.place, to)
		return ok
	})).Need()
	if p.Apart && !f.values.Has("to") && len(p.To.Options) > 0 {
		p.To = p.To.choose(p.To.Options[0].Value)
	}
	if x.place.Kind == inventory.KindStore {
		p.SendQty = f.numberFrom("ask.0.qty", message.M("Units"), x.there).Need()
		p.SendTo = f.choice("to", message.M("To"), storeOptions(v, x.place)).Need()
		p.SendTo.Again = "-sent"
	}
	p.DisposeQty = f.numberFrom("dispose_qty", message.M("Units"), x.there).Need()
	p.Cause = f.choice("cause", message.M("Reason"), causeOptions).Need()
	p.ReturnQty = f.numberFrom("return_qty", message.M("Units"), x.there).Need()
	p.Reference = f.field("reference", message.M("Credit or return note number")).Need()
	p.Authorised = f.authorised(x.item.Controlled).Need()
	p.Signing = f.signing(x.item.Controlled)
	p.Signing2 = p.Signing.sentAgain()
	p.Signing3 = p.Signing2.sentAgain()
	return s.renderForm(v, f, p, failed)
}
