package barcode_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/barcode"
)

func TestLearnSeparator(t *testing.T) {
	facts, err := barcode.Parse(barcode.SeparatorTest, theDay)
	require.NoError(t, err)
	assert.Equal(t, []string{"09529999999993", "SEPARATOR-TEST", "LAST"}, []string{facts.ProductCode, facts.Serial,
		facts.BatchNo})
	sent := func(separator string) string {
		return strings.Replace(barcode.SeparatorTest, "\x1d", separator, 1)
	}
	for _, sub := range []string{"\x1d", "~", "^]", "<GS>", "|", "\u2194", "%"} {
		for _, before := range []string{"", "]d2", "]C1", "]d2\x1d", "\x1d"} {
			got, err := barcode.LearnSeparator(before + sent(sub) + "\r\n")
			require.NoError(t, err, "%q", sub)
			assert.Equal(t, barcode.Separator(sub), got)
		}
		lot := "0109521234543213211234" + sub + "10AB-1" + sub + "17270614"
		restored := barcode.Separator(sub).Restore(lot)
		assert.Equal(t, "0109521234543213211234\x1d10AB-1\x1d17270614", restored)
	}
	for _, none := range []string{"", "A", "7", "x1", "#0123456789"} {
		_, err := barcode.LearnSeparator(sent(none))
		assert.Error(t, err, "%q", none)
	}
	_, err = barcode.LearnSeparator("0109521234543213")
	assert.ErrorContains(t, err, "Not the test symbol")
}

// TestRestoreLeavesOthers: only element strings hold separators.
func TestRestoreLeavesOthers(t *testing.T) {
	for _, text := range []string{"", "+A123BJC5D6E71/$LOT%1", "https://id.example.org/01/09521234543213/10/A%2FB",
		"(01)09521234543213(10)A%B", "]d1+A123BJC5D6E71G"} {
		assert.Equal(t, text, barcode.Separator("%").Restore(text))
	}
	assert.Equal(t, "10A%B", barcode.Separator("").Restore("10A%B"))
}

func TestProductCodes(t *testing.T) {
	assert.Equal(t, []string{"00000012345670", "0000012345670", "000012345670", "12345670"},
		barcode.GTINForms("00000012345670"))
	assert.Equal(t, []string{"09521234543213", "9521234543213"}, barcode.GTINForms("09521234543213"))
	assert.Equal(t, []string{"19521234543210"}, barcode.GTINForms("19521234543210"))
	for _, form := range barcode.GTINForms("00000012345670") {
		assert.True(t, barcode.ValidGTIN(form))
		assert.Equal(t, "00000012345670", barcode.GTIN14(form))
	}
	assert.False(t, barcode.ValidGTIN("12345671"))
}
