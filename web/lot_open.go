package web

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/stock"
)

type openPage struct {
	Base
	Name, Label string
	Lot         stock.LotSummary
	Place       inventory.Place
	There       int
	Days        int // how long it counts once it is opened
	Back        string
	Qty         Field
	Note        Field
	Signing     *SigningFields
	Form        Form
}

// openPath leads to the form for units of a lot that were opened in a place.
func openPath(lot int64, place string) string {
	return "/lots/" + formatID(lot) + "/open?place=" + place
}

func (s *server) showOpen(v *visit) error { return s.openForm(v, openForm(nil), nil) }

// openUnits starts the opened clock for some units where they lie.
func (s *server) openUnits(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := ledger.Opened{Place: f.text("place"), Qty: f.number("qty"), Note: f.text("note")}
	err := s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		l, err := s.svc.Ledger.OpenUnits(ctx, by, paramID(v, "id"), in)
		return "/lots/" + formatID(l.ID) + "?done=opened-" + formatID(l.ID), err
	})
	return f.fix(v, err, nil, s.openForm)
}

func (s *server) openForm(v *visit, f *form, failed error) error {
	x, err := s.lotAt(v, f)
	if err != nil {
		return err
	}
	if failed == nil && !stock.MayOpen(x.item, x.lot.Lot) {
		return inventory.Errorf(inventory.Conflict,
			"nothing starts when these units are opened: they are opened already, or their item has no limit after opening")
	}
	p := &openPage{Base: Base{Title: "Opened: " + x.item.Name, Caution: x.item.Category.Medicinal()}, Name: x.item.Name,
		Label: lotLabel(x.lot.BatchNo, x.lot.Serial), Lot: x.lot.LotSummary,
		Place: x.place, There: x.there, Days: x.item.Life.OpenedDays, Back: "/lots/" + formatID(x.lot.ID)}
	if x.place.Kind == inventory.KindBag {
		p.Back = bagPath(x.place.Code)
	}
	p.Qty = f.numberField("qty", "How many were opened").Need()
	if !f.values.Has("qty") {
		p.Qty.Value = "1"
	}
	p.Note = f.field("note", "Note")
	p.Signing = f.signing(x.item.Controlled)
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}
