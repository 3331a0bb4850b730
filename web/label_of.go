package web

import (
	"stowkeeper/inventory/storeroom"
	"stowkeeper/labels"
)

// labelOf is the printed label that says the facts; its symbol opens a page of
// the service.
func (s *server) labelOf(f storeroom.LabelFacts) labels.Label {
	address := labels.Link(s.opt.BaseURL, f.Path)
	switch f.Kind {
	case storeroom.LabelCard:
		c := labels.Card{Code: f.Code, Name: f.Name, KitList: f.KitList, Edition: f.Edition,
			EarliestDate:  f.Contents.Earliest.String(),
			LastFullCheck: f.Contents.LastFullCheck.String(), Seal: f.Contents.Seal, Address: address}
		for _, l := range f.Contents.Lines {
			c.Contents = append(c.Contents, labels.CardLine{Pouch: l.Pouch, Item: l.Item, Quantity: l.Qty})
		}
		return c
	case storeroom.LabelShelf:
		return labels.Shelf{Code: f.Code, Name: f.Name, Place: f.Place, Unit: f.Unit, Address: address}
	case storeroom.LabelDevice:
		return labels.Device{Serial: f.Serial, Name: f.Name, Code: f.Code, UsableThrough: f.UsableThrough.String(),
			Training: f.Training, Address: address}
	}
	return labels.Bag{Code: f.Code, Name: f.Name, KitList: f.KitList, Edition: f.Edition, Address: address}
}
