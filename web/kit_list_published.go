package web

import (
	"context"
	"net/http"

	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/message"
)

type publishedPage struct {
	Base
	Lists []lists.PublishedList
	Made  string // code of the list that was made a moment ago
}

func (s *server) showPublished(v *visit) error {
	lists, err := s.svc.Lists.PublishedLists(v.actor)
	if err != nil {
		return err
	}
	p := &publishedPage{Base: Base{Title: message.M("Published kit lists"), Caution: true}, Lists: lists}
	if made := v.Query("made"); made != "" {
		k, err := s.svc.Lists.KitList(v.ctx(), v.actor, made, 0)
		if err == nil {
			p.Made = k.Code
		}
	}
	return s.render(v, http.StatusOK, p)
}

type publishedListPage struct {
	Base
	List       lists.PublishedList
	Code, Name Field
}

func (s *server) publishedForm(v *visit, f *form, failed error) error {
	l, err := s.svc.Lists.PublishedList(v.actor, v.Param("list"))
	if err != nil {
		return err
	}
	p := &publishedListPage{Base: Base{Title: message.Plain(l.Title), Caution: true}, List: l}
	p.Code = f.field("code", message.M("Code")).Need()
	p.Name = f.field("name", message.M("Name")).WithHint(message.M("Default: published title"))
	return s.renderForm(v, f, p, failed)
}

func (s *server) copyPublished(v *visit, f *form) error {
	in := lists.PublishedCopy{Code: f.text("code"), Name: f.text("name")}
	return v.once(func(ctx context.Context, _ string) (string, error) {
		k, err := s.svc.Lists.CopyPublished(ctx, v.actor, v.Param("list"), in)
		return "/published?made=" + k.Code, err
	})
}
