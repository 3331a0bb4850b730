package web

import (
	"net/url"

	"stowkeeper/inventory/message"
)

// scanPath is the page that reads the label of the next bag.
const scanPath = "/scan"

type scanPage struct{ Base }

func (s *server) scanForm(v *visit, f *form, failed error) error {
	v.Header("Permissions-Policy", "camera=(self)")
	return s.renderForm(v, f, &scanPage{Base: Base{Title: message.M("Scan label")}}, failed)
}

// scanLabel opens what the label on a photo leads to.
func (s *server) scanLabel(v *visit, _ *form) error {
	text, err := s.readPhoto(v)
	if err != nil {
		return err
	}
	if path := s.labelPath(text); path != "" {
		return v.to(path)
	}
	return v.to("/search?q=" + url.QueryEscape(text))
}
