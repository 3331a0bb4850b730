package inventory

import "strconv"

// What the service as a whole keeps: who changed it stands nowhere else than in
// the history.

func (r recorder) AddCategory(c Category) error {
	return r.keep(r.Writer.AddCategory(c), Deed{Kind: DeedCategory, Detail: string(c)})
}

func (r recorder) AddSite(s Site) error {
	return r.keep(r.Writer.AddSite(s), Deed{Kind: DeedSite, Site: s.Code, Detail: s.Code})
}

func (r recorder) AddPlace(p Place) error {
	return r.keep(r.Writer.AddPlace(p), Deed{Kind: DeedPlace, Site: p.Site, Place: p.Code})
}

func (r recorder) UpdatePlace(p Place) (Place, error) {
	out, err := r.Writer.UpdatePlace(p)
	return out, r.keep(err, Deed{Kind: DeedPlace, Site: out.Site, Place: p.Code, Detail: "changed"})
}

func (r recorder) AddItem(it Item) error {
	return r.keep(r.Writer.AddItem(it), Deed{Kind: DeedItem, Detail: it.Code})
}

func (r recorder) UpdateItem(it Item) (Item, error) {
	out, err := r.Writer.UpdateItem(it)
	return out, r.keep(err, Deed{Kind: DeedItem, Detail: it.Code + ", changed"})
}

func (r recorder) AddProduct(p Product) (Product, error) {
	out, err := r.Writer.AddProduct(p)
	return out, r.keep(err, Deed{Kind: DeedProduct, Detail: p.Item})
}

func (r recorder) UpdateProduct(p Product) (Product, error) {
	out, err := r.Writer.UpdateProduct(p)
	return out, r.keep(err, Deed{Kind: DeedProduct, Detail: p.Item + ", changed"})
}

func (r recorder) AddKitList(k KitList) error {
	return r.keep(r.Writer.AddKitList(k), Deed{Kind: DeedKitList, Detail: versionText(k)})
}

func (r recorder) AddBag(b Bag) error {
	return r.keep(r.Writer.AddBag(b), Deed{Kind: DeedBag, Site: b.AtSite, Place: b.Code})
}

func (r recorder) SetSheetOffset(o SheetOffset) error {
	return r.keep(r.Writer.SetSheetOffset(o), Deed{Kind: DeedSheetOffset, Site: o.Site, Detail: o.Sheet})
}

func versionText(k KitList) string { return k.Code + ", version " + strconv.Itoa(k.Version) }

func (r recorder) SetPastUsage(u PastUsage) error {
	return r.keep(r.Writer.SetPastUsage(u), Deed{Kind: DeedPastUsage, Site: u.Site, Detail: u.Item + ", " + u.Period})
}
