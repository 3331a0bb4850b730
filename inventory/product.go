package inventory

import (
	"strconv"
	"strings"

	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/money"
)

// Product is a trade pack of an item.
type Product struct {
	ID             int64  `json:"id"`
	Item           string `json:"item" doc:"Item code"`
	GTIN           string `json:"gtin,omitempty" doc:"GTIN in 8, 12, 13 or 14 digits"`
	HIBC           string `json:"hibc,omitempty" doc:"HIBC primary code without + and check character"`
	MakerReference string `json:"maker_reference,omitempty" doc:"The maker's catalogue number"`
	Supplier       string `json:"supplier,omitempty"`
	PackSize       int    `json:"pack_size" minimum:"1" maximum:"100000" doc:"Units in one pack"`
	MinimumPacks   int    `json:"minimum_packs,omitempty" minimum:"0" maximum:"10000" doc:"Fewest packs that are sent"`
	Version        int64  `json:"version" doc:"Goes up with each change; the ETag"`

	Prices []Price `json:"prices,omitempty" doc:"Of one pack, each from its day on; of one day the last counts"`
}

// Price is what one pack of a product costs from a day on.
type Price struct {
	money.Amount
	ValidFrom Day `json:"valid_from" format:"date"`
}

// PriceIn is the price in force on a day: the one that began last by then; no currency for none.
func (pr Product) PriceIn(day Day) (in Price) {
	for _, p := range pr.Prices {
		if p.ValidFrom <= day && p.ValidFrom >= in.ValidFrom {
			in = p
		}
	}
	return in
}

// Check refuses a product whose fields do not make sense. Refuses: Invalid by field.
func (pr Product) Check() error {
	var p Problems
	CheckCode(&p, "item", pr.Item)
	p.When(pr.GTIN != "" && !barcode.ValidGTIN(pr.GTIN), "gtin", "check the GTIN: a digit is wrong or missing")
	p.When(pr.HIBC != "" && !barcode.ValidHIBC(pr.HIBC), "hibc", "enter the HIBC code as printed")
	CheckText(&p, "maker_reference", pr.MakerReference, false, MaxName)
	CheckText(&p, "supplier", pr.Supplier, false, MaxName)
	p.When(pr.PackSize < 1 || pr.PackSize > 100000, "pack_size", "enter {1} to {2}", 1, 100000)
	p.When(pr.MinimumPacks < 0 || pr.MinimumPacks > MaxPacks, "minimum_packs", "enter {1} to {2}", 0, MaxPacks)
	p.When(len(pr.Prices) > 200, "prices", "enter at most {1}", 200)
	for i, x := range pr.Prices {
		p.When(!x.Right(), "prices["+strconv.Itoa(i)+"].amount", "enter an amount and a currency, as in {1}", "12.50 EUR")
		p.When(x.ValidFrom == 0, "prices["+strconv.Itoa(i)+"].valid_from", "enter a date like 2027-06-14")
	}
	return p.Err()
}

// Tidy brings the codes of a product to their kept form: a GTIN without the blanks and hyphens between its digits,
// and of a whole HIBC label its primary code.
func (pr Product) Tidy() Product {
	pr.GTIN = strings.NewReplacer(" ", "", "-", "").Replace(pr.GTIN)
	pr.HIBC = strings.ToUpper(strings.TrimSpace(pr.HIBC))
	if strings.HasPrefix(pr.HIBC, "+") {
		f, err := barcode.Parse(pr.HIBC, barcode.Date{Year: 2000, Month: 1, Day: 1})
		if err == nil && f.ProductCode != "" {
			pr.HIBC = f.ProductCode
		}
	}
	return pr
}

// HasCode tells whether a code that was scanned is the product's. A GTIN may be written shorter than in 14 digits.
func (pr Product) HasCode(scheme barcode.Scheme, code string) bool {
	if scheme == barcode.HIBC {
		return code != "" && pr.HIBC == code
	}
	return code != "" && pr.GTIN != "" && barcode.GTIN14(pr.GTIN) == barcode.GTIN14(code)
}
