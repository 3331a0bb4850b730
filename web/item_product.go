package web

import (
	"context"
	"net/http"
	"net/url"

	"stowkeeper/inventory"
)

type productsPage struct {
	Base
	Form    Form
	Only    Field // the item whose products are shown
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

// showProducts lists the trade packs of each item with their codes.
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
	p := &productsPage{Base: Base{Title: "Products"}, MayKeep: v.may(inventory.ActKeepLists)}
	f := openForm(url.Values{"item": {only}})
	p.Only = f.choice("item", "Item", itemOptions(items, inventory.KitList{}))
	p.Only.Empty = "all items"
	for _, it := range items {
		if only == "" && len(of[it.Code]) == 0 || only != "" && only != it.Code {
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
	Form                                     Form
	ID                                       int64 // 0 for a new one
	ItemName                                 string
	Item, GTIN, HIBC, Maker, Supplier, Packs Field
}

func (s *server) showNewProduct(v *visit) error {
	return s.productForm(v, openForm(url.Values{"item": {v.Query("item")}, "pack_size": {"1"}}), inventory.Product{}, nil)
}

func productIn(f *form) inventory.Product {
	return inventory.Product{Item: inventory.NormalCode(f.text("item")), GTIN: f.text("gtin"), HIBC: f.text("hibc"),
		MakerReference: f.text("maker_reference"), Supplier: f.text("supplier"), PackSize: f.number("pack_size")}
}

func (s *server) createProduct(v *visit) error {
	f := openForm(v.Request.PostForm)
	in := productIn(f)
	err := s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Lists.CreateProduct(ctx, by, in)
		return "/products?" + url.Values{"item": {in.Item}}.Encode(), err
	})
	return f.fix(v, err, nil, func(v *visit, f *form, err error) error {
		return s.productForm(v, f, inventory.Product{}, err)
	})
}

// product reads the product that the address names.
func (s *server) product(v *visit) (inventory.Product, error) {
	return s.svc.Lists.Product(v.ctx(), v.actor, paramID(v, "product"))
}

func (s *server) showProduct(v *visit) error {
	p, err := s.product(v)
	if err != nil {
		return err
	}
	f := openForm(url.Values{"item": {p.Item}, "gtin": {p.GTIN}, "hibc": {p.HIBC}, "maker_reference": {p.MakerReference},
		"supplier": {p.Supplier}, "pack_size": {formatID(int64(p.PackSize))}, "version": {formatID(p.Version)}})
	return s.productForm(v, f, p, nil)
}

func (s *server) changeProduct(v *visit) error {
	old, err := s.product(v)
	if err != nil {
		return err
	}
	f := openForm(v.Request.PostForm)
	in := productIn(f)
	in.ID, in.Item, in.Version = old.ID, old.Item, f.id("position")
	err = s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Lists.UpdateProduct(ctx, by, in)
		return "/products?" + url.Values{"item": {in.Item}}.Encode(), err
	})
	return f.fix(v, err, nil, func(v *visit, f *form, err error) error { return s.productForm(v, f, old, err) })
}

func (s *server) productForm(v *visit, f *form, p inventory.Product, failed error) error {
	items := v.items()
	page := &productPage{Base: Base{Title: "New product"}, ID: p.ID}
	for _, it := range items {
		if it.Code == p.Item {
			page.ItemName, page.Title = it.Name, "Product of "+it.Name
		}
	}
	page.Item = f.choice("item", "Item", itemOptions(items, inventory.KitList{})).Need()
	page.GTIN = f.field("gtin", "GTIN").WithHint("The number under the pack's barcode: 8, 12, 13 or 14 digits.")
	page.HIBC = f.field("hibc", "HIBC code").WithHint("Begins with a plus sign.")
	page.Maker = f.field("maker_reference", "Maker's reference")
	page.Supplier = f.field("supplier", "Bought from")
	page.Packs = f.numberField("pack_size", "Units in one pack").Need().WithHint("A box of ten is ten units.")
	page.Form = f.state(failed, f.keyOr(newKey), p.Version)
	return s.render(v, statusOf(failed), page)
}
