package web

import (
	"net/http"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

type retiredPage struct {
	Base
	Bag      inventory.Bag
	Station  inventory.Station
	Headline message.Message
	At       When
	Next     *NearLink // the bag that took its place
	Done     *Done

	MayChange, MaySeeHistory bool
}

// NearLink leads to a bag.
type NearLink struct{ Href, Code, Name string }

// showRetired is the page behind the label of a bag that is out of service.
func (s *server) showRetired(v *visit, c inventory.Checklist, done *Done) error {
	p := &retiredPage{Base: Base{Title: message.M("{1} {2}", c.Bag.Code, c.Bag.Name)}, Bag: c.Bag, Station: c.Station,
		Headline: inventory.Headline(c.Bag, c.Readiness), At: whenAt(c.Bag.RetiredAt, c.Station), Done: done,
		MayChange: v.may(inventory.ActKeepLists), MaySeeHistory: v.may(inventory.ActHistory)}
	if code := c.Bag.Successor; code != "" {
		p.Next = &NearLink{Href: bagPath(code), Code: code}
		next, err := s.svc.Lists.Bag(v.ctx(), v.actor, code)
		switch {
		case err == nil:
			p.Next.Name = next.Name
		case inventory.KindOf(err) != inventory.Forbidden: // at another station its code is enough
			return err
		}
	}
	return s.render(v, http.StatusOK, p)
}

// inService sends who opens a form of a retired bag to its page instead, and tells whether there is a form to show.
func inService(v *visit, b inventory.Bag) bool {
	if b.Retired() {
		v.Redirect(http.StatusSeeOther, bagPath(b.Code))
	}
	return !b.Retired()
}
