package web

import (
	"net/http"
	"net/url"

	"stowkeeper/inventory"
)

// toShelf leads from a shelf's label to what lies there.
func (s *server) toShelf(v *visit) error {
	place, item := inventory.NormalCode(v.Param("place")), inventory.NormalCode(v.Param("item"))
	v.Redirect(http.StatusSeeOther, "/stock/"+url.PathEscape(place)+"?item="+url.QueryEscape(item))
	return nil
}

// toDevice leads from a device's label to its page.
func (s *server) toDevice(v *visit) error {
	lot, err := s.svc.DeviceLot(v.ctx(), v.actor, paramID(v, "id"))
	if err != nil {
		return err
	}
	v.Redirect(http.StatusSeeOther, devicePath(lot))
	return nil
}
