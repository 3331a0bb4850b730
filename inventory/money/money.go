// Package money is amounts in a currency, as people write them and as they add up. It knows nothing of ours.
package money

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// Amount is money in the smallest unit of its currency, so that nothing is rounded.
type Amount struct {
	Minor    int64  `json:"amount" minimum:"0" maximum:"1000000000" doc:"In the currency's smallest unit, as in cents"`
	Currency string `json:"currency" minLength:"3" maxLength:"3" doc:"ISO 4217, as in EUR"`
}

// Most is the most that one thing may cost, in smallest units.
const Most = 1_000_000_000

// currencies are those in use by ISO 4217 (list one, without funds, metals and codes for testing), by how many digits
// their smallest unit has behind the point.
var currencies = map[int]string{
	0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF",
	2: "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF CHF CNY COP CRC " +
		"CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD " +
		"KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO " +
		"NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL " +
		"THB TJS TMT TOP TRY TTD TWD TZS UAH USD UYU UZS VES WST XCD YER ZAR ZMW",
	3: "BHD IQD JOD KWD LYD OMR TND",
}

// Digits is how many digits the smallest unit of a currency has behind the point; false for no currency in use.
func Digits(currency string) (int, bool) {
	for n, codes := range currencies {
		if slices.Contains(strings.Fields(codes), currency) {
			return n, true
		}
	}
	return 0, false
}

// Right tells whether it is an amount that something may cost, in a currency in use.
func (a Amount) Right() bool {
	_, ok := Digits(a.Currency)
	return ok && a.Minor >= 0 && a.Minor <= Most
}

// String is the amount as it is typed, as in 12.50 EUR; nothing for none.
func (a Amount) String() string {
	if a.Currency == "" {
		return ""
	}
	return a.Number() + " " + a.Currency
}

// Number is the amount without its currency.
func (a Amount) Number() string {
	n, _ := Digits(a.Currency)
	s := strconv.FormatInt(a.Minor, 10)
	if n == 0 {
		return s
	}
	s = strings.Repeat("0", max(0, n+1-len(s))) + s
	return s[:len(s)-n] + "." + s[len(s)-n:]
}

// Of reads an amount that was typed, with a point or a comma; false for what is none that something may cost.
func Of(number, currency string) (Amount, bool) {
	a := Amount{Currency: strings.ToUpper(strings.TrimSpace(currency))}
	n, ok := Digits(a.Currency)
	whole, part, point := strings.Cut(strings.ReplaceAll(strings.TrimSpace(number), ",", "."), ".")
	digits := strings.IndexFunc(whole+part, func(r rune) bool { return r < '0' || r > '9' }) < 0
	if !ok || whole == "" || !digits || len(part) > n || point && part == "" || len(whole) > 12 {
		return a, false
	}
	minor, err := strconv.ParseInt(whole+part+strings.Repeat("0", n-len(part)), 10, 64)
	a.Minor = minor
	return a, err == nil && a.Right()
}

// Times is what so many cost.
func (a Amount) Times(n int) Amount {
	if a.Minor > 0 && int64(n) > math.MaxInt64/a.Minor {
		return Amount{math.MaxInt64, a.Currency}
	}
	return Amount{a.Minor * int64(n), a.Currency}
}

// Sum adds amounts up, by currency in the order of its code: nobody here knows what one is worth in another.
func Sum(all []Amount) []Amount {
	var out []Amount
	for _, a := range all {
		i := slices.IndexFunc(out, func(x Amount) bool { return x.Currency == a.Currency })
		switch {
		case a.Currency == "":
		case i < 0:
			out = append(out, a)
		default:
			out[i].Minor += min(a.Minor, math.MaxInt64-out[i].Minor)
		}
	}
	slices.SortFunc(out, func(a, b Amount) int { return strings.Compare(a.Currency, b.Currency) })
	return out
}
