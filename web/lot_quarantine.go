package web

import (
	"context"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/stock"
)

type quarantinePage struct {
	Base
	Lot         stock.LotSummary
	Place       inventory.Place
	There       int
	Name, Label string
	Form        Form
	Qty         Field
	Conflict    ConflictFields
	BatchNo     Field
	Serial      Field
	EndPrinted  Field
	EndWording  Field
	Note        Field
	Signing     *SigningFields
	Signing2    *SigningFields // for the second form
	ReleaseQty  Field
	To          Field
	DisposeQty  Field
	Cause       Field
	MayRelease  bool
	BySerial    bool
}

func (s *server) showQuarantine(v *visit) error { return s.quarantineForm(v, openForm(nil), nil) }

// identify records what unidentified units turned out to be.
func (s *server) identify(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := ledger.Identification{Place: f.text("place"), Qty: f.number("qty"), BatchNo: f.text("batch_no"),
		Serial: f.text("serial"), EndPrinted: f.text("end_printed"),
		EndWording: inventory.Wording(f.text("end_wording")), Note: f.text("note"),
		OnConflict: inventory.OnConflict(f.text("on_conflict")), CorrectionReason: f.text("correction_reason")}
	return s.changeQuarantined(v, f, func(ctx context.Context, by inventory.Actor) (string, error) {
		l, err := s.svc.Ledger.Identify(ctx, by, paramID(v, "id"), in)
		return "/lots/" + formatID(l.ID) + "?done=identified-" + formatID(l.ID), err
	})
}

// release brings units that were set apart back into a store.
func (s *server) releaseQuarantined(v *visit) error {
	f := openForm(v.Request.PostForm)
	return s.moveQuarantined(v, f, inventory.Movement{Qty: f.number("release_qty"), To: f.text("to"),
		Reason: inventory.ReasonRelease}, "release_qty")
}

// disposeApart disposes of units that were set apart.
func (s *server) disposeQuarantined(v *visit) error {
	f := openForm(v.Request.PostForm)
	return s.moveQuarantined(v, f, inventory.Movement{Qty: f.number("dispose_qty"), To: string(inventory.KindDisposed),
		Reason: inventory.ReasonDisposed, Cause: inventory.Cause(f.text("cause"))}, "dispose_qty")
}

func (s *server) moveQuarantined(v *visit, f *form, m inventory.Movement, qty string) error {
	m.LotID, m.From = paramID(v, "id"), f.text("place")
	f.values.Set("qty_field", qty)
	return s.changeQuarantined(v, f, func(ctx context.Context, by inventory.Actor) (string, error) {
		_, err := s.svc.Ledger.Move(ctx, by, []inventory.Movement{m})
		return "/lots/" + formatID(m.LotID) + "?done=apart-" + formatID(m.LotID), err
	})
}

func (s *server) changeQuarantined(v *visit, f *form,
	do func(ctx context.Context, by inventory.Actor) (string, error)) error {
	err := s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		return do(ctx, by)
	})
	return f.fix(v, err, func(path string) string {
		path = strings.TrimPrefix(strings.TrimPrefix(path, "movements[0]."), "lines[0].")
		if path == "qty" && f.text("qty_field") != "" {
			return f.text("qty_field")
		}
		return path
	}, s.quarantineForm)
}

func (s *server) quarantineForm(v *visit, f *form, failed error) error {
	x, err := s.lotAt(v, f)
	if err != nil {
		return err
	}
	if x.place.Kind != inventory.KindQuarantine {
		return inventory.Errorf(inventory.Conflict, "these units are not set apart")
	}
	p := &quarantinePage{Base: Base{Title: "Set apart: " + x.item.Name, Caution: x.item.Category.Medicinal()},
		Lot: x.lot.LotSummary, Place: x.place, There: x.there, Name: x.item.Name,
		Label: lotLabel(x.lot.BatchNo, x.lot.Serial), MayRelease: inventory.AllowedLot(x.item, x.lot.Lot,
			inventory.Place{Kind: inventory.KindStore, Purpose: x.place.Purpose}, inventory.ReasonRelease) == nil,
		BySerial: x.item.TrackedBy == inventory.BySerial}
	many := func(name, label string) Field {
		n := f.numberField(name, label).Need()
		if !f.values.Has(name) {
			n.Value = strconv.Itoa(x.there)
		}
		return n
	}
	p.Qty = many("qty", "How many are known now")
	p.BatchNo = f.field("batch_no", "Batch number as printed")
	p.Serial = f.field("serial", "Serial number as printed")
	p.EndPrinted = f.field("end_printed", "Date as printed").WithHint("2027-06 or 2027-06-14")
	p.EndWording = f.choice("end_wording", "Words beside the date",
		wordingOptions()).WithHint("Needed for medicines; else expiry if left out.")
	p.Note = f.field("note", "How it was found out").Need()
	p.Conflict = conflictFields(f)
	p.ReleaseQty = many("release_qty", "How many go back")
	p.To = f.choice("to", "Into", storeOptions(v.places(), x.place)).Need()
	if !f.values.Has("to") && len(p.To.Options) > 0 {
		p.To = p.To.choose(p.To.Options[0].Value)
	}
	p.DisposeQty = many("dispose_qty", "How many")
	p.Cause = f.choice("cause", "Why", causeOptions).Need()
	p.Signing = f.signing(x.item.Controlled)
	p.Signing2 = p.Signing.sentAgain()
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

// storeOptions lists the stores that units set apart may go back to.
func storeOptions(places []inventory.Place, from inventory.Place) []Option {
	var near, far []Option
	for _, p := range places {
		if inventory.Allowed(from, p, inventory.ReasonRelease, "") != nil {
			continue
		}
		o := Option{Value: p.Code, Text: p.Name + ", " + p.Code}
		if p.Station == from.Station {
			near = append(near, o)
		} else {
			far = append(far, o)
		}
	}
	return append(near, far...)
}
