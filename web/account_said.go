package web

import (
	"context"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

// saidPage lists what was recorded without signal under somebody's name, for them to confirm.
type saidPage struct {
	Base
	Rows []ReviewRow
}

func (s *server) showSaid(v *visit) error {
	x, err := s.svc.Shift.SaidToBe(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &saidPage{Base: Base{Title: message.M("To review")}}
	checks, uses := v.reviewRows(x.Checks, x.Uses)
	p.Rows = append(checks, uses...)
	for i := range p.Rows {
		p.Rows[i].Because = nil
		if i < len(checks) {
			p.Rows[i].Href = "/said/checks/" + formatID(x.Checks[i].ID)
		} else {
			p.Rows[i].Href = "/said/uses/" + formatID(x.Uses[i-len(checks)].ID)
		}
	}
	return s.renderForm(v, openForm(nil), p, nil)
}

func (s *server) confirmCheck(v *visit) error {
	return v.once(func(ctx context.Context, _ string) (string, error) {
		_, err := s.svc.Shift.ConfirmCheck(ctx, v.actor, paramID(v, "id"))
		return "/said", err
	})
}

func (s *server) confirmUse(v *visit) error {
	return v.once(func(ctx context.Context, _ string) (string, error) {
		_, err := s.svc.Shift.ConfirmUse(ctx, v.actor, paramID(v, "id"))
		return "/said", err
	})
}

// saidToBe is how many records are said to be the visitor's, for who records any.
func (s *server) saidToBe(v *visit) (int, error) {
	if !v.may(inventory.ActCheck) {
		return 0, nil
	}
	x, err := s.svc.Shift.SaidToBe(v.ctx(), v.actor)
	return x.Len(), err
}
