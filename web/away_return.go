package web

import (
	"context"
	"slices"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/shift"
)

type awayBackPage struct {
	Base
	Place        shift.AwayPlace
	Today        inventory.Day
	Rows         []AwayFields
	To, Due      Field
	DueForm      Form
	Lost         Field // which lot does not come back
	LostQty, Why Field
	MayLose      bool

	Signing, Signing2 *SigningFields // for what comes back, and for what does not
}

const backPrefix = "back."

// recordBack records that units came back, devices through an inspection.
func (s *server) recordBack(v *visit, f *form) error {
	a, _, err := s.awayAsked(v)
	if err != nil {
		return err
	}
	var lines []shift.ReturnLine
	var rows []string
	answers := map[string][]string{}
	for _, row := range rowsWith(f, backPrefix, ".qty") {
		n := f.number(row + ".qty")
		if n == 0 {
			continue
		}
		l := shift.ReturnLine{LotID: idOf(strings.TrimPrefix(row, backPrefix)), Qty: n, To: f.text("to")}
		if i := slices.IndexFunc(a.Lots, func(x shift.AwayLot) bool { return x.LotID == l.LotID }); i >= 0 {
			l.Points, answers[row] = readPoints(f, v.itemsByCode()[a.Lots[i].Item], l.LotID)
		}
		lines, rows = append(lines, l), append(rows, row)
	}
	if len(lines) == 0 && f.ok() {
		f.wrong("lines", message.M("enter at least one quantity"))
	}
	f.names = func(path string) string { return backName(path, rows, answers) }
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Shift.ComeBack(ctx, by, a.Code, lines)
		return "/away?done=back", err
	})
}

// backName turns the path of a wrong field of a return into the field's name on the form.
func backName(path string, rows []string, answers map[string][]string) string {
	i, field, ok := indexed(path, "lines")
	switch {
	case !ok || i >= len(rows):
		return path
	case field == "to":
		return "to"
	case strings.HasPrefix(field, "points") && len(answers[rows[i]]) > 0:
		return inspectedName(field, answers[rows[i]])
	}
	return rows[i] + ".qty"
}

func (s *server) changeDue(v *visit, f *form) error {
	a, _, err := s.awayAsked(v)
	if err != nil {
		return err
	}
	day := f.day("due_back")
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Lists.UpdatePlace(ctx, by, a.Code, 0, lists.PlaceChange{DueBack: &day})
		return "/away", err
	})
}

func (s *server) loseAway(v *visit, f *form) error {
	a, _, err := s.awayAsked(v)
	if err != nil {
		return err
	}
	m := inventory.Movement{LotID: f.id("lost_lot"), Qty: f.number("lost_qty"), From: a.Code,
		To: string(inventory.KindLost), Reason: inventory.ReasonLost, Cause: inventory.CauseMissing, Note: f.text("why")}
	f.names = func(path string) string {
		switch strings.TrimPrefix(path, "movements[0].") {
		case "lot_id":
			return "lost_lot"
		case "qty":
			return "lost_qty"
		}
		return path
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Ledger.Move(ctx, by, []inventory.Movement{m})
		return "/away?done=lost", err
	})
}

func (s *server) awayAsked(v *visit) (shift.AwayPlace, []inventory.Place, error) {
	all, err := s.svc.Shift.Away(v.ctx(), v.actor, nil)
	for _, a := range all {
		if a.Code == inventory.NormalCode(v.Param("place")) {
			return a, v.places(), err
		}
	}
	if err == nil {
		err = inventory.Refuse(inventory.NotFound, "not found")
	}
	return shift.AwayPlace{}, nil, err
}

func (s *server) awayBackForm(v *visit, f *form, failed error) error {
	a, places, err := s.awayAsked(v)
	if err != nil {
		return err
	}
	items := v.itemsByCode()
	station := v.station(a.Station)
	p := &awayBackPage{Base: Base{Title: message.M("Return from {1}", a.Name), Caution: true}, Place: a,
		Today: station.Today(v.now), MayLose: v.may(inventory.ActKeepStock)}
	var lots []Option
	for _, l := range a.Lots {
		x := AwayFields{Name: l.Name, Label: lotLabel(l.BatchNo, l.Serial), There: l.Qty}
		x.Qty = f.numberFrom(backPrefix+formatID(l.LotID)+".qty", message.M("Returned: {1}, {2}", x.Name, x.Label), l.Qty)
		if l.Inspects {
			x.Points = pointFields(f, items[l.Item], l.LotID)
		}
		p.Rows = append(p.Rows, x)
		lots = append(lots, Option{Value: formatID(l.LotID), Text: message.M("{1}, {2}", x.Name, x.Label)})
	}
	p.To = f.choice("to", message.M("Return to"), backOptions(places, a.Place))
	p.To.Empty = message.M("the store")
	p.Due = dueField(f, p.Today)
	if !f.values.Has("due_back") && a.DueBack != 0 {
		p.Due = p.Due.choose(a.DueBack.String())
	}
	p.Lost = f.choice("lost_lot", message.M("Item"), lots).Need()
	p.LostQty = f.numberField("lost_qty", message.M("Quantity")).Need()
	p.Why = f.field("why", message.M("Reason"))
	p.Signing = f.signing(slices.ContainsFunc(a.Lots, func(l shift.AwayLot) bool { return items[l.Item].Controlled })).
		folded()
	p.Signing2 = p.Signing.sentAgain()
	p.DueForm = Form{Key: newKey()}
	return s.renderForm(v, f, p, failed)
}

// backOptions lists where units may go when they come back: places of their own station first.
func backOptions(places []inventory.Place, away inventory.Place) []Option {
	return placeOptions(places, away.Station, func(p inventory.Place) bool {
		return inventory.Allowed(away, p, inventory.ReasonReturn, "") == nil ||
			inventory.Allowed(away, p, inventory.ReasonQuarantine, "") == nil
	})
}
