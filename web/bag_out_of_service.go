package web

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
	"stowkeeper/inventory/message"
)

type outOfServicePage struct {
	Base
	Bag       inventory.Bag
	Reason    Field
	MayReturn bool
}

func (s *server) outOfServiceForm(v *visit, f *form, failed error) error {
	b, err := s.svc.Lists.Bag(v.ctx(), v.actor, v.Param("code"))
	if err != nil {
		return noSuchBag(err)
	}
	if !inService(v, b) {
		return nil
	}
	title, reason := message.M("Take {1} out of service", b.Code), message.M("Reason")
	if b.OutOfService != nil {
		title, reason = message.M("{1} is out of service", b.Code), message.M("New reason")
	}
	p := &outOfServicePage{Base: Base{Title: title}, Bag: b, MayReturn: v.may(inventory.ActKeepStock)}
	p.Reason = f.field("reason", reason).Need()
	p.Form.Position = b.Position
	return s.renderForm(v, f, p, failed)
}

// takeOutOfService takes a bag off the run. It does not ask what changed meanwhile:
// that a bag must not go out is true whatever it holds.
func (s *server) takeOutOfService(v *visit, f *form) error {
	reason := f.text("reason")
	if reason == "" {
		f.wrong("reason", message.M("enter a reason"))
	}
	reason = v.asSaid(reason)
	err := f.err()
	if err == nil {
		err = s.changeBag(v, ledger.BagChange{OutOfService: &reason, OutSince: v.madeAt()}, 0)
	}
	f.names = func(string) string { return "reason" }
	return err
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
