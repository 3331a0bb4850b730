package inventory

import (
	"strings"

	"stowkeeper/inventory/barcode"
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
	Version        int64  `json:"version" doc:"Goes up with each change; the ETag"`
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
