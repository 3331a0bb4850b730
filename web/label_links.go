package web

import (
	"net/http"
	"net/url"
	"slices"

	"stowkeeper/inventory"
)

// toShelf leads from a shelf's label to what lies there, at one's own stations.
func (s *server) toShelf(v *visit) error {
	place, item := inventory.NormalCode(v.Param("place")), inventory.NormalCode(v.Param("item"))
	places, err := s.svc.Lists.Places(v.ctx(), v.actor, inventory.PlaceFilter{}, inventory.Page{})
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(places, func(p inventory.Place) bool { return p.Code == place }) {
		return inventory.Errorf(inventory.NotFound, "none of your stations has a place with this code")
	}
	v.Redirect(http.StatusSeeOther, "/stock/"+url.PathEscape(place)+"?item="+url.QueryEscape(item))
	return nil
}

// toDevice leads from a device's label to its page.
func (s *server) toDevice(v *visit) error {
	lot, err := s.svc.Stock.DeviceLot(v.ctx(), v.actor, paramID(v, "id"))
	if err != nil {
		return err
	}
	v.Redirect(http.StatusSeeOther, devicePath(lot))
	return nil
}
