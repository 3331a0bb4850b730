// Package labelof fills in labels with what the storeroom knows, for whoever prints them.
package labelof

import (
	"stowkeeper/inventory/storeroom"
	"stowkeeper/labels"
)

// Facts is the printed label that says the facts. base is the address of the service, which its symbol opens a page of.
func Facts(f storeroom.LabelFacts, base string) labels.Label {
	address := labels.Link(base, f.Path)
	switch f.Kind {
	case storeroom.LabelCard:
		c := labels.Card{Code: f.Code, Name: f.Name, KitList: f.KitList, Edition: f.Edition,
			EarliestDate: f.Contents.Earliest.Text(), LastFullCheck: f.Contents.LastFullCheck.Text(), Seal: f.Contents.Seal,
			Address: address}
		for _, l := range f.Contents.Lines {
			c.Contents = append(c.Contents, labels.CardLine{Pouch: l.Pouch, Item: l.Item, Quantity: l.Qty})
		}
		return c
	case storeroom.LabelShelf:
		return labels.Shelf{Code: f.Code, Name: f.Name, Place: f.Place, Unit: f.Unit, Address: address}
	case storeroom.LabelDevice:
		return labels.Device{Serial: f.Serial, Name: f.Name, Code: f.Code, UsableThrough: f.UsableThrough.Text(),
			Training: f.Training, Address: address}
	}
	return labels.Bag{Code: f.Code, Name: f.Name, KitList: f.KitList, Edition: f.Edition, Address: address}
}
