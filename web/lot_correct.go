package web

import (
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/stock"
)

// ConflictFields offer both dates where a batch is known with another one.
type ConflictFields struct {
	Asked      bool
	Which, Why Field
}

func conflictFields(f *form) ConflictFields {
	c := ConflictFields{Asked: f.fixes["on_conflict"] != nil || f.fixes["correction_reason"] != nil ||
		f.text("on_conflict") != ""}
	if !c.Asked {
		return c
	}
	c.Which = f.choice("on_conflict", message.M("Correct date"), []Option{
		{Value: string(inventory.KeepEarlier), Text: message.M("keep the earlier")},
		{Value: string(inventory.CorrectEarlier), Text: message.M("this one")},
	})
	c.Why = f.field("correction_reason", message.M("Reason")).
		WithHint(message.M("Kept in history. Only if this date is right."))
	return c
}

type correctPage struct {
	Base
	Lot                                             stock.LotSummary
	Name                                            string
	Label                                           message.Message
	Back                                            string
	BatchNo, Serial, EndPrinted, EndWording, MadeOn Field
	Merge                                           Field // asked once the number is another batch's
	Item                                            Field
	Reason                                          Field
}

func correctPath(lot int64) string { return "/lots/" + formatID(lot) + "/correct" }

// correct records that what was typed of a batch is wrong, and what is right.
func (s *server) correct(v *visit, f *form) error {
	in := inventory.LotCorrection{Item: f.given("item"), BatchNo: f.given("batch_no"), Serial: f.given("serial"),
		MadeOn: f.given("made_on"), EndPrinted: f.given("end_printed"), Merge: f.text("merge") != "",
		Reason: f.text("reason")}
	if w := f.given("end_wording"); w != nil {
		word := inventory.Wording(*w)
		in.EndWording = &word
	}
	id := paramID(v, "id")
	return v.once(func(ctx context.Context, _ string) (string, error) {
		c, err := s.svc.Ledger.CorrectLot(ctx, v.actor, id, in)
		return "/lots/" + formatID(id) + "?done=corrected-" + formatID(c.ID), err
	})
}

// given returns a value that the form has, empty or not.
func (f *form) given(name string) *string {
	if !f.values.Has(name) {
		return nil
	}
	text := f.text(name)
	return &text
}

func (s *server) correctForm(v *visit, f *form, failed error) error {
	l, err := s.svc.Stock.Lot(v.ctx(), v.actor, paramID(v, "id"))
	if err != nil {
		return notFound(err)
	}
	it, err := s.svc.Lists.Item(v.ctx(), v.actor, l.Item)
	if err != nil {
		return err
	}
	if len(f.values) == 0 {
		for name, value := range map[string]string{"batch_no": l.BatchNo, "serial": l.Serial, "end_printed": l.EndPrinted,
			"end_wording": string(l.EndWording), "made_on": l.MadeOn.String(), "item": l.Item} {
			f.values.Set(name, value)
		}
	}
	p := &correctPage{Base: Base{Title: message.M("Correct {1}", it.Name)}, Lot: l.LotSummary, Name: it.Name,
		Label: lotLabel(l.BatchNo, l.Serial), Back: "/lots/" + formatID(l.ID)}
	if l.Device() {
		p.Serial = f.field("serial", message.M("Serial number"))
	} else {
		p.BatchNo = f.field("batch_no", message.M("Batch number"))
	}
	p.EndPrinted = f.field("end_printed", message.M("Date on pack")).WithHint(message.M("2027-06 or 2027-06-14"))
	p.EndWording = f.choice("end_wording", message.M("Date wording on pack"), wordingOptions())
	p.MadeOn = f.field("made_on", message.M("Date of manufacture")).WithHint(message.M("2027-06 or 2027-06-14"))
	p.Item = f.choice("item", message.M("Item"), itemOptions(v.items(), inventory.KitList{}))
	if f.fixes["merge"] != nil || f.text("merge") != "" {
		p.Merge = f.choice("merge", message.M("Are both one batch?"), []Option{{Text: message.M("No, change the number")},
			{Value: "yes", Text: message.M("Yes, merge: recalls of either hold both")}})
	}
	p.Reason = f.field("reason", message.M("Reason, and who checked")).Need()
	return s.renderForm(v, f, p, failed)
}

func correctionRows(all []inventory.BatchCorrection, station inventory.Station) []StepRow {
	var out []StepRow
	for _, c := range all {
		out = append(out, StepRow{whenAt(c.RecordedAt, station), inventory.CorrectionText(c), c.By})
	}
	return out
}

type receiptCorrectPage struct {
	Base
	Lot         stock.LotSummary
	Label       message.Message
	Move        MoveRow
	Receipt     int64
	Qty, Reason Field
	Signing     *SigningFields
}

func receiptPath(lot, receipt int64) string {
	return "/lots/" + formatID(lot) + "/receipts/" + formatID(receipt) + "/correct"
}

func (s *server) receiptCorrectForm(v *visit, f *form, failed error) error {
	l, err := s.svc.Stock.Lot(v.ctx(), v.actor, paramID(v, "id"))
	if err != nil {
		return notFound(err)
	}
	it, err := s.svc.Lists.Item(v.ctx(), v.actor, l.Item)
	if err != nil {
		return err
	}
	id := paramID(v, "receipt")
	i := slices.IndexFunc(l.History, func(m inventory.Movement) bool { return m.ID == id })
	if i < 0 || failed == nil && ledger.MayCorrectReceipt(l.History[i], l.History) != nil {
		return inventory.Refuse(inventory.NotFound, "not found")
	}
	m := l.History[i]
	p := &receiptCorrectPage{Base: Base{Title: message.M("Correct {1}", it.Name)}, Lot: l.LotSummary, Receipt: id,
		Label: lotLabel(l.BatchNo, l.Serial), Move: moveRow(m, v.station(m.Station))}
	p.Qty = f.numberFrom("qty", message.M("Units"), m.Qty).Need().
		WithHint(message.M("As the delivery note says. 0: nothing was received."))
	p.Reason = f.field("reason", message.M("Reason, and who checked")).Need()
	p.Signing = f.signing(it.Controlled)
	return s.renderForm(v, f, p, failed)
}

// correctReceipt records how many units a receipt should have had.
func (s *server) correctReceipt(v *visit, f *form) error {
	lot, id := paramID(v, "id"), paramID(v, "receipt")
	in := ledger.ReceiptCorrection{Qty: f.number("qty"), Reason: f.text("reason")}
	if f.text("qty") == "" {
		f.wrong("qty", message.M("fill this in"))
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		done, err := s.svc.Ledger.CorrectReceipt(ctx, by, id, in)
		if err != nil {
			return "", err
		}
		return "/lots/" + formatID(lot) + "?done=received-" + formatID(done[0].ID), nil
	})
}
