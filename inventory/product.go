package inventory

import (
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
	p.When(pr.GTIN != "" && !barcode.ValidGTIN(pr.GTIN), "gtin", "give 8, 12, 13 or 14 digits with a right check digit")
	p.When(pr.HIBC != "" && !barcode.ValidHIBC(pr.HIBC), "hibc",
		"give the primary code as printed: the plus sign, letters and digits, the check character")
	CheckText(&p, "maker_reference", pr.MakerReference, false, MaxName)
	CheckText(&p, "supplier", pr.Supplier, false, MaxName)
	p.When(pr.PackSize < 1 || pr.PackSize > 100000, "pack_size", "give 1 to 100000 units")
	return p.Err()
}
