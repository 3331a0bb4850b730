package barcode

// ValidGTIN tells whether s is a GTIN of 8, 12, 13 or 14 digits whose check
// digit is right (General Specifications s.7.9).
func ValidGTIN(s string) bool {
	return gtinLength(len(s)) && allDigits(s) && hasCheckDigit(s, Date{}) == nil
}

// GTIN14 fills a GTIN up to 14 digits, the form in which Facts has it.
func GTIN14(gtin string) string {
	if len(gtin) >= 14 {
		return gtin
	}
	return "00000000000000"[len(gtin):] + gtin
}

// GTINForms lists the ways in which the GTIN that Facts has may be written:
// itself, and without the zeros that fill up shorter ones.
func GTINForms(gtin14 string) []string {
	forms := []string{gtin14}
	for _, size := range []int{13, 12, 8} {
		cut := len(gtin14) - size
		if cut > 0 && gtin14[:cut] == "000000"[:cut] {
			forms = append(forms, gtin14[cut:])
		}
	}
	return forms
}

// ValidHIBC tells whether code is the primary code of an HIBC label in the form in which Facts has it: labeler,
// product code and unit of measure, without "+" and check character.
func ValidHIBC(code string) bool {
	text := "+" + code
	for i := 0; i < len(code); i++ {
		if hibcCode.outside(code[i:i+1]) >= 0 {
			return false
		}
	}
	facts, err := Parse(text+string(hibcCheck(text)), Date{Year: 2000, Month: 1, Day: 1})
	return err == nil && facts.ProductCode == code
}
