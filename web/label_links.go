package web

import (
	"net/url"
	"slices"

	"stowkeeper/inventory"
)

// toShelf leads from a shelf's label to what lies there, at one's own stations.
func (s *server) toShelf(v *visit) error {
	place, item := inventory.NormalCode(v.Param("place")), inventory.NormalCode(v.Param("item"))
	if !slices.ContainsFunc(v.places(), func(p inventory.Place) bool { return p.Code == place }) {
		return inventory.Refuse(inventory.NotFound, "not found at your stations")
	}
	return v.to("/stock/" + url.PathEscape(place) + "?item=" + url.QueryEscape(item))
}

func (s *server) toDevice(v *visit) error {
	lot, err := s.svc.Stock.DeviceLot(v.ctx(), v.actor, paramID(v, "id"))
	if err != nil {
		return err
	}
	return v.to(devicePath(lot))
}
