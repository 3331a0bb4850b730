package web

import (
	"cmp"
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/money"
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
	Products   []ProductRow
	Preferred  int64
}

// ProductRow is a product with its price in force today.
type ProductRow struct {
	inventory.Product
	Price money.Amount
}

// showProducts lists all items, or one, with the trade packs of each and their codes.
func (s *server) showProducts(v *visit) error {
	items := v.items()
	only := inventory.NormalCode(v.Query("item"))
	products, err := s.svc.Lists.Products(v.ctx(), v.actor, inventory.ProductFilter{Item: only}, inventory.Page{})
	if err != nil {
		return err
	}
	of, today := map[string][]ProductRow{}, v.ownStation().Today(v.now)
	for _, p := range products {
		of[p.Item] = append(of[p.Item], ProductRow{p, p.PriceIn(today).Amount})
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
	Minimum                                  Field
	Preferred                                bool
	Amount, Currency, From                   Field // of a price to add
	Prices                                   []PriceRow
}

// PriceRow is a price of a product; in force today, or not.
type PriceRow struct {
	inventory.Price
	Now bool
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
		PackSize: f.number("pack_size"), MinimumPacks: f.number("minimum_packs"), Prices: old.Prices}
	save := s.svc.Lists.CreateProduct
	if old.ID != 0 {
		in.Item, in.Version, save = old.Item, f.id("position"), s.svc.Lists.UpdateProduct
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		made, err := save(ctx, by, in)
		if err == nil && f.text("preferred") != "" {
			err = s.svc.Lists.Prefer(ctx, by, made.ID)
		}
		return "/products?" + url.Values{"item": {in.Item}}.Encode(), err
	})
}

// addPrice adds what a pack of a product costs from a day on.
func (s *server) addPrice(v *visit, f *form) error {
	id := paramID(v, "product")
	p := inventory.Price{ValidFrom: f.day("valid_from")}
	var ok bool
	if p.Amount, ok = money.Of(f.text("amount"), f.text("currency")); !ok {
		f.wrong("amount", message.M("enter an amount and a currency, as in {1}", "12.50 EUR"))
	}
	return s.record(v, f, func(ctx context.Context, by inventory.Actor, _ string) (string, error) {
		_, err := s.svc.Lists.AddPrice(ctx, by, id, p)
		return "/products/" + formatID(id) + "#prices", err
	})
}

// pricesOf fills in the prices of a product, the newest first, and the fields of another.
func (page *productPage) pricesOf(f *form, p inventory.Product, today inventory.Day) {
	in, currency := p.PriceIn(today), "EUR"
	for _, x := range slices.Backward(p.Prices) {
		page.Prices = append(page.Prices, PriceRow{x, x == in})
		currency = p.Prices[len(p.Prices)-1].Currency
	}
	page.Amount = f.field("amount", message.M("Price of one pack")).Need().WithHint(message.M("e.g. 12.50"))
	page.Amount.Mode = "decimal"
	page.Currency = f.field("currency", message.M("Currency")).Need()
	page.Currency.Value = cmp.Or(page.Currency.Value, currency)
	page.From = f.dateField("valid_from", message.M("From")).Need()
	page.From.Value = cmp.Or(page.From.Value, today.String())
}

func (s *server) productForm(v *visit, f *form, failed error) error {
	p, err := s.product(v)
	if err != nil {
		return err
	}
	switch {
	case f.values.Has("pack_size"):
	case p.ID == 0:
		f.values = url.Values{"item": {v.Query("item")}, "pack_size": {"1"}}
	default:
		for name, is := range map[string]string{"item": p.Item, "gtin": p.GTIN, "hibc": p.HIBC, "supplier": p.Supplier,
			"maker_reference": p.MakerReference, "pack_size": strconv.Itoa(p.PackSize),
			"minimum_packs": filledIn(p.MinimumPacks)} {
			f.values.Set(name, is)
		}
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
	page.Minimum = f.numberField("minimum_packs", message.M("Fewest packs per order"))
	page.Preferred = f.text("preferred") != "" || p.ID != 0 && v.itemsByCode()[p.Item].PreferredProduct == p.ID
	page.pricesOf(f, p, v.ownStation().Today(v.now))
	page.Form.Position = p.Version
	return s.renderForm(v, f, page, failed)
}
