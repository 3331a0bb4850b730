package inventory

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

// Check refuses a product whose fields do not make sense.
func (pr Product) Check() error {
	var p problems
	checkCode(&p, "item", pr.Item)
	p.when(pr.GTIN != "" && !validGTIN(pr.GTIN), "gtin", "give 8, 12, 13 or 14 digits with a right check digit")
	p.when(len(pr.HIBC) > 24, "hibc", "shorten to 24 characters")
	checkText(&p, "hibc", pr.HIBC, false, 24)
	checkText(&p, "maker_reference", pr.MakerReference, false, MaxName)
	checkText(&p, "supplier", pr.Supplier, false, MaxName)
	p.when(pr.PackSize < 1 || pr.PackSize > 100000, "pack_size", "give 1 to 100000 units")
	return p.err()
}

// validGTIN applies the check digit of GS1 General Specifications 7.9:
// weights 3, 1, 3 … from the right, the check digit itself left out.
func validGTIN(s string) bool {
	switch len(s) {
	case 8, 12, 13, 14:
	default:
		return false
	}
	sum := 0
	for i := range len(s) {
		c := s[len(s)-1-i]
		if c < '0' || c > '9' {
			return false
		}
		weight := 1
		if i%2 == 1 {
			weight = 3
		}
		sum += int(c-'0') * weight
	}
	return sum%10 == 0
}
