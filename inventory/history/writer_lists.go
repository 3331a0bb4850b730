package history

import (
	"cmp"
	"strconv"

	"stowkeeper/inventory"
)

// What the service as a whole keeps: who changed it stands nowhere else than in the history.

func (r writer) AddCategory(c inventory.Category) error {
	return r.keep(r.Writer.AddCategory(c), inventory.HistoryEntry{Kind: inventory.HistoryCategory, Detail: string(c)})
}

func (r writer) AddStation(s inventory.Station) error {
	return r.keep(r.Writer.AddStation(s), inventory.HistoryEntry{Kind: inventory.HistoryStation, Station: s.Code,
		Detail: s.Code})
}

func (r writer) UpdateStation(s inventory.Station) error {
	was, err := r.Station(s.Code)
	detail := "changed"
	if s.Closed() != was.Closed() {
		detail = map[bool]string{true: "closed", false: "reopened"}[s.Closed()]
	}
	return r.keep(cmp.Or(err, r.Writer.UpdateStation(s)), inventory.HistoryEntry{Kind: inventory.HistoryStation,
		Station: s.Code, Detail: detail})
}

func (r writer) MovePlace(code, station string, at inventory.Instant) error {
	return r.keep(r.Writer.MovePlace(code, station, at), inventory.HistoryEntry{Kind: inventory.HistoryPlace,
		Station: station, Place: code})
}

func (r writer) AddPlace(p inventory.Place) error {
	return r.keep(r.Writer.AddPlace(p), inventory.HistoryEntry{Kind: inventory.HistoryPlace, Station: p.Station,
		Place: p.Code})
}

func (r writer) UpdatePlace(p inventory.Place) (inventory.Place, error) {
	out, err := r.Writer.UpdatePlace(p)
	return out, r.keep(err, inventory.HistoryEntry{Kind: inventory.HistoryPlace, Station: out.Station, Place: p.Code,
		Detail: "changed"})
}

func (r writer) AddItem(it inventory.Item) error {
	return r.keep(r.Writer.AddItem(it), inventory.HistoryEntry{Kind: inventory.HistoryItem, Detail: it.Code})
}

func (r writer) UpdateItem(it inventory.Item) (inventory.Item, error) {
	out, err := r.Writer.UpdateItem(it)
	return out, r.keep(err, inventory.HistoryEntry{Kind: inventory.HistoryItem, Detail: it.Code + ", changed"})
}

func (r writer) AddConversion(c inventory.Conversion) error {
	return r.keep(r.Writer.AddConversion(c), inventory.HistoryEntry{Kind: inventory.HistoryItem,
		Detail: c.Item + ", " + c.Text().String()})
}

func (r writer) AddProduct(p inventory.Product) (inventory.Product, error) {
	out, err := r.Writer.AddProduct(p)
	return out, r.keep(err, inventory.HistoryEntry{Kind: inventory.HistoryProduct, Detail: p.Item})
}

func (r writer) UpdateProduct(p inventory.Product) (inventory.Product, error) {
	out, err := r.Writer.UpdateProduct(p)
	return out, r.keep(err, inventory.HistoryEntry{Kind: inventory.HistoryProduct, Detail: p.Item + ", changed"})
}

func (r writer) AddKitList(k inventory.KitList) error {
	return r.keep(r.Writer.AddKitList(k), inventory.HistoryEntry{Kind: inventory.HistoryKitList, Detail: versionText(k)})
}

func (r writer) AddBag(b inventory.Bag) error {
	return r.keep(r.Writer.AddBag(b), inventory.HistoryEntry{Kind: inventory.HistoryBag, Station: b.AtStation,
		Place: b.Code})
}

func (r writer) SetSheetOffset(o inventory.SheetOffset) error {
	return r.keep(r.Writer.SetSheetOffset(o), inventory.HistoryEntry{Kind: inventory.HistorySheetOffset,
		Station: o.Station, Detail: o.Sheet})
}

func versionText(k inventory.KitList) string { return k.Code + ", version " + strconv.Itoa(k.Version) }

func (r writer) SetPastUsage(u inventory.PastUsage) error {
	return r.keep(r.Writer.SetPastUsage(u), inventory.HistoryEntry{Kind: inventory.HistoryPastUsage, Station: u.Station,
		Detail: u.Item + ", " + u.Period})
}
