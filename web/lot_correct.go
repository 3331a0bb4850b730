package web

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/stock"
)

// ConflictFields offer both dates where a batch is known with another one.
type ConflictFields struct {
	Asked      bool
	Which, Why Field
}

func conflictFields(f *form) ConflictFields {
	c := ConflictFields{Asked: f.fixes["on_conflict"] != "" || f.fixes["correction_reason"] != "" ||
		f.text("on_conflict") != ""}
	if !c.Asked {
		return c
	}
	c.Which = f.choice("on_conflict", "Which date is right", []Option{
		{Value: string(inventory.KeepEarlier), Text: "the earlier record: keep it"},
		{Value: string(inventory.CorrectEarlier), Text: "this one: the earlier record was mistyped"},
	})
	c.Why = f.field("correction_reason", "Why the earlier record is wrong").
		WithHint("Kept with the old date, for good. Only where this one is right.")
	return c
}

type correctPage struct {
	Base
	Lot         stock.LotSummary
	Name, Label string
	Back        string
	BatchNo     Field
	Serial      Field
	EndPrinted  Field
	EndWording  Field
	MadeOn      Field
	Reason      Field
	Form        Form
}

func correctPath(lot int64) string { return "/lots/" + formatID(lot) + "/correct" }

func (s *server) showCorrect(v *visit) error { return s.correctForm(v, openForm(nil), nil) }

// correct records that what was typed of a batch is wrong, and what is right.
func (s *server) correct(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := inventory.LotCorrection{BatchNo: f.given("batch_no"), Serial: f.given("serial"), MadeOn: f.given("made_on"),
		EndPrinted: f.given("end_printed"), Reason: f.text("reason")}
	if w := f.given("end_wording"); w != nil {
		word := inventory.Wording(*w)
		in.EndWording = &word
	}
	id := paramID(v, "id")
	err := v.once(func(ctx context.Context, _ string) (string, error) {
		c, err := s.svc.Ledger.CorrectLot(ctx, v.actor, id, in)
		return "/lots/" + formatID(id) + "?done=corrected-" + formatID(c.ID), err
	})
	return f.fix(v, err, nil, s.correctForm)
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
		return noSuchLot(err)
	}
	it, err := s.svc.Lists.Item(v.ctx(), v.actor, l.Item)
	if err != nil {
		return err
	}
	if len(f.values) == 0 {
		for name, value := range map[string]string{"batch_no": l.BatchNo, "serial": l.Serial, "end_printed": l.EndPrinted,
			"end_wording": string(l.EndWording), "made_on": l.MadeOn.String()} {
			f.values.Set(name, value)
		}
	}
	p := &correctPage{Base: Base{Title: "Correct " + it.Name}, Lot: l.LotSummary, Name: it.Name, Label: lotLabel(l.BatchNo,
		l.Serial), Back: "/lots/" + formatID(l.ID)}
	if l.Device() {
		p.Serial = f.field("serial", "Serial number as printed")
	} else {
		p.BatchNo = f.field("batch_no", "Batch number as printed")
	}
	p.EndPrinted = f.field("end_printed", "Date as printed").WithHint("2027-06 or 2027-06-14")
	p.EndWording = f.choice("end_wording", "Words beside the date", wordingOptions())
	p.MadeOn = f.field("made_on", "Date of manufacture as printed").WithHint("2024-06 or 2024-06-14")
	p.Reason = f.field("reason", "Why, and who looked").Need()
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

// CorrectionRow is a correction of a batch, for everywhere that tells of it.
type CorrectionRow struct {
	At       When
	Text, By string
}

func correctionRows(all []inventory.BatchCorrection, station inventory.Station) []CorrectionRow {
	var out []CorrectionRow
	for _, c := range all {
		out = append(out, CorrectionRow{whenAt(c.RecordedAt, station), inventory.CorrectionText(c), c.By})
	}
	return out
}
