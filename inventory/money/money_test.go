package money_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"golang.org/x/text/currency"

	"stowkeeper/inventory/money"
)

func TestAmounts(t *testing.T) {
	for _, c := range []struct {
		number, currency, want string
		minor                  int64
	}{
		{"12.50", "EUR", "12.50 EUR", 1250}, {"12,5", " eur ", "12.50 EUR", 1250}, {"0.05", "EUR", "0.05 EUR", 5},
		{"0", "EUR", "0.00 EUR", 0}, {"120", "JPY", "120 JPY", 120}, {"1.25", "KWD", "1.250 KWD", 1250},
		{"10000000", "EUR", "10000000.00 EUR", money.Most}, {"007", "GBP", "7.00 GBP", 700},
	} {
		a, ok := money.Of(c.number, c.currency)
		assert.True(t, ok, c.number)
		assert.Equal(t, []any{c.want, c.minor}, []any{a.String(), a.Minor})
	}
	for _, c := range [][2]string{{"12.505", "EUR"}, {"1.5", "JPY"}, {"", "EUR"}, {".5", "EUR"}, {"1.", "EUR"},
		{"-1", "EUR"}, {"1e3", "EUR"}, {"1,000.00", "EUR"}, {"1", "EURO"}, {"1", ""}, {"1", "XXX"}, {"10000000.01", "EUR"},
		{"9999999999999999999", "EUR"}} {
		_, ok := money.Of(c[0], c[1])
		assert.False(t, ok, c)
	}
	assert.Empty(t, money.Amount{}.String())
	assert.Equal(t, "7.50 EUR", money.Amount{Minor: 250, Currency: "EUR"}.Times(3).String())
	assert.Equal(t, int64(math.MaxInt64), money.Amount{Minor: money.Most, Currency: "EUR"}.Times(math.MaxInt64).Minor)
	assert.Equal(t, []money.Amount{{3, "CHF"}, {12, "EUR"}}, money.Sum([]money.Amount{{5, "EUR"}, {3, "CHF"}, {},
		{7, "EUR"}}))
}

// TestCurrencies: every code is one of ISO 4217 by the table of golang.org/x/text, taken from Unicode's CLDR.
func TestCurrencies(t *testing.T) {
	known, younger := 0, []string{"MRU", "SLE", "VES"} // than the table
	for a := 'A'; a <= 'Z'; a++ {
		for b := 'A'; b <= 'Z'; b++ {
			for c := 'A'; c <= 'Z'; c++ {
				code := string([]rune{a, b, c})
				if _, ok := money.Digits(code); ok {
					known++
					_, err := currency.ParseISO(code)
					assert.True(t, err == nil || slices.Contains(younger, code), code)
				}
			}
		}
	}
	assert.Greater(t, known, 150)
}
