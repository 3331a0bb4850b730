package web

import (
	"context"
	"net/http"

	"stowkeeper/inventory"
	"stowkeeper/inventory/lists"
)

type publishedPage struct {
	Base
	Lists []inventory.PublishedList
	Made  string // code of the list that was made a moment ago
}

func (s *server) showPublished(v *visit) error {
	lists, err := s.svc.Lists.PublishedLists(v.actor)
	if err != nil {
		return err
	}
	p := &publishedPage{Base: Base{Title: "Published kit lists", Caution: true}, Lists: lists}
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
	List       inventory.PublishedList
	Form       Form
	Code, Name Field
}

func (s *server) showPublishedList(v *visit) error { return s.publishedForm(v, openForm(nil), nil) }

func (s *server) publishedForm(v *visit, f *form, failed error) error {
	l, err := s.svc.Lists.PublishedList(v.actor, v.Param("list"))
	if err != nil {
		return err
	}
	p := &publishedListPage{Base: Base{Title: l.Title, Caution: true}, List: l}
	p.Code = f.field("code", "Code of your list").Need()
	p.Name = f.field("name", "Its name").WithHint("The published title if left out.")
	p.Form = f.state(failed, f.keyOr(newKey), 0)
	return s.render(v, statusOf(failed), p)
}

func (s *server) copyPublished(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := lists.PublishedCopy{Code: f.text("code"), Name: f.text("name")}
	err := v.once(func(ctx context.Context, _ string) (string, error) {
		k, err := s.svc.Lists.CopyPublished(ctx, v.actor, v.Param("list"), in)
		return "/published?made=" + k.Code, err
	})
	return f.fix(v, err, nil, s.publishedForm)
}
