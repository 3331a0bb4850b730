package web

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
)

type convertPage struct {
	Base
	Item                   inventory.Item
	Unit, Old, New, Reason Field
	Rows                   []lists.ConvertedPlace // what each place will hold
	Total                  lists.ConvertedPlace
	Checked                bool // it would come out so
	Signing                *SigningFields
}

func conversionOf(f *form) lists.UnitConversion {
	return lists.UnitConversion{Unit: f.text("unit"), Old: f.number("old"), New: f.number("new"), Reason: f.text("reason")}
}

// convertForm shows what a conversion comes to before anybody makes it: the first button asks, the second one does it.
func (s *server) convertForm(v *visit, f *form, failed error) error {
	it, err := s.item(v)
	if err != nil {
		return err
	}
	p := &convertPage{Base: Base{Title: message.M("Convert unit")}, Item: it}
	if f.values.Has("unit") {
		plan, err := s.svc.Lists.PlanConversion(v.ctx(), v.actor, it.Code, conversionOf(f))
		if p.Checked, p.Rows = err == nil, plan.Places; failed == nil {
			failed = err
			f.take(err, f.names)
		}
	}
	for _, row := range p.Rows {
		p.Total.Before, p.Total.After = p.Total.Before+row.Before, p.Total.After+row.After
	}
	p.Unit = f.field("unit", message.M("New unit")).Need().WithHint(message.M("e.g. each, pair, roll"))
	p.Old = f.numberField("old", message.M("{1}: {2}", message.M("Units"), it.Unit)).Need()
	p.New = f.numberField("new", message.M("{1}: {2}", message.M("Units"), message.M("New unit"))).Need()
	p.Reason = f.field("reason", message.M("Reason")).Need()
	p.Signing = f.signing(it.Controlled)
	return s.renderForm(v, f, p, failed)
}

// convertUnit counts an item in another unit from now on, once somebody has seen what that comes to.
func (s *server) convertUnit(v *visit, f *form) error {
	in := conversionOf(f)
	if f.text("seen") == "" {
		if _, err := s.svc.Lists.PlanConversion(v.ctx(), v.actor, v.Param("item"), in); err != nil {
			return err
		}
		return s.convertForm(v, f, nil)
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Lists.ConvertUnit(ctx, by, v.Param("item"), in)
		return itemPath(v.Param("item")), err
	})
}
