package barcode_test

import (
	"strings"
	"testing"

	"stowkeeper/inventory/barcode"
)

func BenchmarkParse(b *testing.B) {
	for _, form := range []struct{ name, text string }{
		{"element string", "]d2010952123454321317270630" + "10LOT-7A\x1d21SN0042"},
		{"lot swallowed", "0109521234543213" + "10N4053724112201132002"},
		{"bracketed", "(01)09521234543213(17)270630(10)LOT-7A(21)SN0042"},
		{"GTIN", "9521234543213"},
		{"Digital Link", "https://example.com/01/09521234543213/10/LOT-7A/21/SN0042?17=270630"},
		{"HIBC", "+X999123ABC0/$$31905151234AB/S5678EDFG/16D20151001J"},
		{"longest", strings.Repeat("2000", 1800)},
		{"refused", "0109521234543213" + "17271301"},
	} {
		b.Run(form.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				_, _ = barcode.Parse(form.text, theDay)
			}
		})
	}
}
