package web

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
)

type outOfServicePage struct {
	Base
	Bag       inventory.Bag
	Form      Form
	Reason    Field
	MayReturn bool
}

func (s *server) showOutOfService(v *visit) error { return s.outOfServiceForm(v, openForm(nil), nil) }

func (s *server) outOfServiceForm(v *visit, f *form, failed error) error {
	b, err := s.svc.Lists.Bag(v.ctx(), v.actor, v.Param("code"))
	if err != nil {
		return noSuchBag(err)
	}
	if !inService(v, b) {
		return nil
	}
	p := &outOfServicePage{Base: Base{Title: "Take off " + b.Code}, Bag: b, MayReturn: v.may(inventory.ActKeepStock)}
	p.Reason = f.field("reason", "Why it must not go out").Need()
	p.Form = f.state(failed, f.keyOr(newKey), b.Position)
	return s.render(v, statusOf(failed), p)
}

// takeOff takes a bag off the run. It does not ask what changed meanwhile:
// that a bag must not go out is true whatever it holds.
func (s *server) takeOutOfService(v *visit) error {
	f := openForm(v.Request.PostForm)
	reason := f.text("reason")
	if reason == "" {
		f.wrong("reason", "say why, so that the next crew knows")
	}
	err := f.err()
	if err == nil {
		err = s.changeBag(v, ledger.BagChange{OutOfService: &reason, OutSince: v.madeAt()}, 0)
	}
	return f.fix(v, err, func(string) string { return "reason" }, s.outOfServiceForm)
}

func (s *server) returnToService(v *visit) error {
	none := ""
	return s.changeBag(v, ledger.BagChange{OutOfService: &none}, 0)
}

func (s *server) changeBag(v *visit, ch ledger.BagChange, version int64) error {
	return v.once(func(ctx context.Context, _ string) (string, error) {
		b, err := s.svc.Lists.UpdateBag(ctx, v.actor, v.Param("code"), version, ch)
		return bagPath(b.Code), err
	})
}
