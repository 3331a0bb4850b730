package web

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

type openPage struct {
	Base
	Name      string
	Label     message.Message
	Lot       stock.LotSummary
	Place     inventory.Place
	There     int
	Days      int // how long it counts once it is opened
	Back      string
	Qty, Note Field
	Signing   *SigningFields
}

func openPath(lot int64, place string) string {
	return "/lots/" + formatID(lot) + "/open?place=" + place
}

// openUnits starts the opened clock for some units where they lie.
func (s *server) openUnits(v *visit, f *form) error {
	in := ledger.Opened{Place: f.text("place"), Qty: f.number("qty"), Note: f.text("note")}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		l, err := s.svc.Ledger.OpenUnits(ctx, by, paramID(v, "id"), in)
		return "/lots/" + formatID(l.ID) + "?done=opened-" + formatID(l.ID), err
	})
}

func (s *server) openForm(v *visit, f *form, failed error) error {
	x, err := s.lotAt(v, f)
	if err != nil {
		return err
	}
	if failed == nil && !stock.MayOpen(x.item, x.lot.Lot) {
		return inventory.Refuse(inventory.Conflict, "no limit after opening")
	}
	p := &openPage{Base: Base{Title: message.M("Opened: {1}", x.item.Name), Caution: x.item.Category.Medicinal()},
		Name: x.item.Name, Label: lotLabel(x.lot.BatchNo, x.lot.Serial), Lot: x.lot.LotSummary, Place: x.place,
		There: x.there, Days: x.item.Life.OpenedDays, Back: "/lots/" + formatID(x.lot.ID)}
	if x.place.Kind == inventory.KindBag {
		p.Back = bagPath(x.place.Code)
	}
	p.Qty = f.numberFrom("qty", message.M("Units"), 1).Need()
	p.Note = f.field("note", message.M("Note"))
	p.Signing = f.signing(x.item.Controlled)
	return s.renderForm(v, f, p, failed)
}
