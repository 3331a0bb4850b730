package ledger

import (
	"context"
	"errors"
	"stowkeeper/inventory/barcode"

	"stowkeeper/inventory"
)

// ReadBarcode tells what a pack's barcode says, and which products have its code. It changes nothing. Refuses:
// Forbidden without see; Invalid where it cannot be read, with the position.
func (s *Service) ReadBarcode(ctx context.Context, by inventory.Actor, text string) (inventory.PackFacts, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) (inventory.PackFacts, error) {
		if err := by.Must(inventory.ActSee, ""); err != nil {
			return inventory.PackFacts{}, err
		}
		f, err := PackFacts(text, s.now().In(inventory.Utc), "text")
		if err != nil {
			return f, err
		}
		f.Products, err = ProductsWithCode(r, f.Scheme, f.ProductCode)
		if f.Products == nil {
			f.Products = []inventory.Product{}
		}
		return f, err
	})
}

// PackFacts reads a barcode's text; two-digit years are those nearest to today. What is wrong is said under path,
// with its position. Refuses: Invalid.
func PackFacts(text string, today inventory.Day, path string) (inventory.PackFacts, error) {
	y, m, d := today.Date()
	f, err := barcode.Parse(text, barcode.Date{Year: y, Month: int(m), Day: d})
	var refused *barcode.Error
	if errors.As(err, &refused) {
		return inventory.PackFacts{}, &inventory.Error{Kind: inventory.Invalid, Message: "some fields need mending",
			Fields: []inventory.Field{{Path: path, Fix: refused.Error()}}, Cause: refused}
	}
	if err != nil {
		return inventory.PackFacts{}, err
	}
	out := inventory.PackFacts{Scheme: f.Scheme, ProductCode: f.ProductCode, BatchNo: f.BatchNo, Serial: f.Serial,
		EndPrinted: f.EndPrinted, EndTime: f.EndTime, Qty: f.Qty,
		Separator: f.SeparatorSeen, Elements: f.Elements, Warnings: []inventory.PackWarning{}}
	if f.EndPrinted != "" {
		out.EndWording = wordingOfCode
	}
	for _, w := range f.Warnings {
		out.Warnings = append(out.Warnings, inventory.PackWarning{Kind: w.Kind, Position: w.Position, Text: w.Text})
	}
	var ps inventory.Problems
	for _, date := range []struct {
		name string
		from barcode.Date
		to   *inventory.Day
	}{{"end date", f.UsableThrough, &out.Through}, {"date of manufacture", f.MadeOn, &out.MadeOn}, {"best-before date",
		f.BestBefore, &out.BestBefore}} {
		if !date.from.IsZero() {
			*date.to, err = inventory.NewDay(date.from.Year, inventory.MonthOf(date.from.Month), date.from.Day)
			ps.When(err != nil, path,
				"its %s lies outside the years 1900 to 2199; compare it with the print and type in what is printed", date.name)
		}
	}
	return out, ps.Err()
}

// wordingOfCode is what the end dates of barcodes say that they are. (17) and
// (7003) of GS1 are expiry dates, and so is the end date of HIBC; day 00 means
// the last day of the month. (15), best before, is no end date, and its wording
// is none of those that set one, so it never gets here.
const wordingOfCode = inventory.WordExpiry

// ProductsWithCode finds the products that have a code as Facts has it. A
// product's GTIN may be written shorter than in 14 digits.
func ProductsWithCode(r inventory.Reader, scheme barcode.Scheme, code string) ([]inventory.Product, error) {
	if code == "" {
		return nil, nil
	}
	if scheme == barcode.HIBC {
		return r.Products(inventory.ProductFilter{HIBC: code}, inventory.Page{})
	}
	var all []inventory.Product
	for _, form := range barcode.GTINForms(code) {
		some, err := r.Products(inventory.ProductFilter{GTIN: form}, inventory.Page{})
		if err != nil {
			return nil, err
		}
		all = append(all, some...)
	}
	return all, nil
}

// fromCode completes a receipt with what its barcode says: the product and so
// the item, number and dates, and the units in so many packs. What was given
// beside the code fills in what it leaves out, and must agree with the rest.
func (p *Unit) fromCode(in inventory.Receipt, today inventory.Day) (inventory.Receipt, error) {
	if in.Barcode == "" {
		if in.Packs != 0 {
			return in, inventory.Invalidf("packs", "leave this out where no barcode is given, and give qty")
		}
		return in, nil
	}
	f, err := PackFacts(in.Barcode, today, "barcode")
	if err != nil {
		return in, err
	}
	found, err := ProductsWithCode(p.W, f.Scheme, f.ProductCode)
	if err != nil {
		return in, err
	}
	pr, err := productMeant(in, f, found)
	if err != nil {
		return in, err
	}
	it, err := p.Item(pr.Item)
	if err != nil {
		return in, err
	}
	return f.Applied(in, it, pr)
}

// productMeant is the one product that a code and a receipt mean.
func productMeant(in inventory.Receipt, f inventory.PackFacts, found []inventory.Product) (inventory.Product, error) {
	switch {
	case f.ProductCode == "":
		return inventory.Product{}, inventory.Invalidf("barcode", "this code names no product: it is the second of two on "+
			"the pack; scan or send both as one text, or give item, batch_no and end_printed instead")
	case len(found) == 0:
		return inventory.Product{}, errUnknownCode(f.Scheme)
	case len(found) == 1 && (in.Product == 0 || in.Product == found[0].ID):
		return found[0], nil
	}
	for _, pr := range found {
		if pr.ID == in.Product {
			return pr, nil
		}
	}
	if in.Product != 0 {
		return inventory.Product{}, inventory.Invalidf("product", "the code is another product's; leave this out")
	}
	return inventory.Product{}, inventory.Invalidf("product",
		"several products have this code: name the one that is meant")
}

func errUnknownCode(scheme barcode.Scheme) error {
	field := "gtin"
	if scheme == barcode.HIBC {
		field = "hibc"
	}
	return inventory.Invalidf("barcode",
		"no product has this code: make one under /products with %s, its item and its pack size, then send this again", field)
}
