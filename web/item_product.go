package web

import (
	"context"
	"net/http"
	"net/url"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

type productsPage struct {
	Base
	Groups  []ProductGroup
	MayKeep bool
}

// ProductGroup is the products of one item.
type ProductGroup struct {
	Item, Name string
	Href       string // empty for who may not see it
	NewHref    string
	Products   []inventory.Product
	Preferred  int64
}

// showProducts lists all items, or one, with the trade packs of each and their codes.
func (s *server) showProducts(v *visit) error {
	items := v.items()
	only := inventory.NormalCode(v.Query("item"))
	products, err := s.svc.Lists.Products(v.ctx(), v.actor, inventory.ProductFilter{Item: only}, inventory.Page{})
	if err != nil {
		return err
	}
	of := map[string][]inventory.Product{}
	for _, p := range products {
		of[p.Item] = append(of[p.Item], p)
	}
	p := &productsPage{Base: Base{Title: message.M("Items")}, MayKeep: v.may(inventory.ActKeepLists)}
	for _, it := range items {
		if only != "" && only != it.Code {
			continue
		}
		g := ProductGroup{Item: it.Code, Name: it.Name, Products: of[it.Code], Preferred: it.PreferredProduct,
			NewHref: "/products/new?" + url.Values{"item": {it.Code}}.Encode()}
		if v.may(inventory.ActHistory) {
			g.Href = itemPath(it.Code)
		}
		p.Groups = append(p.Groups, g)
	}
	return s.render(v, http.StatusOK, p)
}

type productPage struct {
	Base
	ID                                       int64 // 0 for a new one
	ItemName                                 string
	Item, GTIN, HIBC, Maker, Supplier, Packs Field
}

// product is the one that the path names, none where it is about a new one.
func (s *server) product(v *visit) (inventory.Product, error) {
	if v.Param("product") == "" {
		return inventory.Product{}, nil
	}
	return s.svc.Lists.Product(v.ctx(), v.actor, paramID(v, "product"))
}

func (s *server) saveProduct(v *visit, f *form) error {
	old, err := s.product(v)
	if err != nil {
		return err
	}
	in := inventory.Product{ID: old.ID, Item: inventory.NormalCode(f.text("item")), GTIN: f.text("gtin"),
		HIBC: f.text("hibc"), MakerReference: f.text("maker_reference"), Supplier: f.text("supplier"),
		PackSize: f.number("pack_size")}
	save := s.svc.Lists.CreateProduct
	if old.ID != 0 {
		in.Item, in.Version, save = old.Item, f.id("position"), s.svc.Lists.UpdateProduct
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := save(ctx, by, in)
		return "/products?" + url.Values{"item": {in.Item}}.Encode(), err
	})
}

func (s *server) productForm(v *visit, f *form, failed error) error {
	p, err := s.product(v)
	if err != nil {
		return err
	}
	switch {
	case len(f.values) > 0:
	case p.ID == 0:
		f.values = url.Values{"item": {v.Query("item")}, "pack_size": {"1"}}
	default:
		f.values = url.Values{"item": {p.Item}, "gtin": {p.GTIN}, "hibc": {p.HIBC}, "supplier": {p.Supplier},
			"maker_reference": {p.MakerReference}, "pack_size": {strconv.Itoa(p.PackSize)}}
	}
	items := v.items()
	page := &productPage{Base: Base{Title: message.M("New product")}, ID: p.ID}
	for _, it := range items {
		if it.Code == p.Item {
			page.ItemName, page.Title = it.Name, message.M("Product for {1}", it.Name)
		}
	}
	page.Item = f.choice("item", message.M("Item"), itemOptions(items, inventory.KitList{})).Need()
	page.GTIN = f.field("gtin", message.M("GTIN")).WithHint(message.M("8, 12, 13 or 14 digits below the barcode"))
	page.HIBC = f.field("hibc", message.M("HIBC code")).WithHint(message.M("Begins with +"))
	page.Maker = f.field("maker_reference", message.M("Maker's reference"))
	page.Supplier = f.field("supplier", message.M("Supplier"))
	page.Packs = f.numberField("pack_size", message.M("Units per pack")).Need().WithHint(message.M("Box of ten: 10"))
	page.Form.Position = p.Version
	return s.renderForm(v, f, page, failed)
}
