package web

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/shift"
)

// ModuleView is a module as one line of its bag's checklist.
type ModuleView struct {
	inventory.ModuleState
	Href, Swap string // its page, and the way to exchange it
	SealOK     bool
}

func moduleViews(c inventory.Checklist, may bool) []ModuleView {
	var out []ModuleView
	for _, m := range c.Modules {
		x := ModuleView{ModuleState: m, Href: bagPath(m.Bag), SealOK: m.Seal != "" && m.SealState == inventory.SealIntact}
		if may {
			x.Swap = swapPath(c.Bag.Code, m.Bag)
		}
		out = append(out, x)
	}
	return out
}

type swapPage struct {
	Base
	Bag          inventory.Bag
	Out          string
	Was          *ModuleView // what comes out
	Spare, Unfit []shift.SpareModule
	Note         Field
	Wanted       bool // the bag has modules at all
}

// swap exchanges a used module whole for a ready one.
func (s *server) swap(v *visit, f *form) error {
	in := shift.Swap{Out: f.text("out"), In: f.text("in"), Note: f.text("note")}
	return v.once(func(ctx context.Context, _ string) (string, error) {
		code := v.Param("code")
		_, err := s.svc.Shift.SwapModule(ctx, v.actor, code, in)
		return bagPath(inventory.NormalCode(code)) + "?done=swap", err
	})
}

func (s *server) swapForm(v *visit, f *form, failed error) error {
	c, err := s.checklist(v)
	if err != nil {
		return err
	}
	if !inService(v, c.Bag) {
		return nil
	}
	p := &swapPage{Base: Base{Title: message.M("Swap module of {1}", c.Bag.Code)}, Bag: c.Bag,
		Wanted: len(c.KitList.Modules)+
			len(c.Modules) > 0}
	p.Out = inventory.NormalCode(f.text("out"))
	if len(f.values) == 0 {
		p.Out = inventory.NormalCode(v.Query("out"))
	}
	for _, m := range moduleViews(c, false) {
		if m.Bag == p.Out {
			p.Was = &m
		}
	}
	if p.Was == nil {
		p.Out = ""
	}
	all, err := s.svc.Shift.SpareModules(v.ctx(), v.actor, c.Bag.Code, p.Out)
	if err != nil {
		return err
	}
	for _, m := range all {
		if m.Why == nil {
			p.Spare = append(p.Spare, m)
		} else {
			p.Unfit = append(p.Unfit, m)
		}
	}
	p.Note = f.field("note", message.M("Note"))
	return s.renderForm(v, f, p, failed)
}
