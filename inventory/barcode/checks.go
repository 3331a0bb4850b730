package barcode

import (
	"slices"
	"strings"
)

// fault is what is wrong with a value, at a byte offset within it.
type fault struct {
	at     int
	reason string
	// tooLong: the value runs on beyond its longest length.
	tooLong bool
}

// twice is the reason when two values contradict each other.
const twice = "given twice with different values"

// check looks at one part of a value whose length and characters are right.
type check func(v string, today Date) *fault

// checkDigit returns the digit that belongs after digits: weights 3, 1, 3, …
// from the right, up to the next ten (General Specifications s.7.9.1).
func checkDigit(digits string) byte {
	sum := 0
	for i := 0; i < len(digits); i++ {
		weight := 1
		if (len(digits)-i)%2 == 1 {
			weight = 3
		}
		sum += weight * int(digits[i]-'0')
	}
	return byte('0' + (10-sum%10)%10)
}

func hasCheckDigit(v string, _ Date) *fault {
	last := len(v) - 1
	if want := checkDigit(v[:last]); v[last] != want {
		return &fault{at: last, reason: "wrong check digit: the digits before it give " + string(want)}
	}
	return nil
}

// hasCheckPair checks the two last characters of model numbers: the values of
// the others in set 82, weighted from the right by the primes 2, 3, 5, …, modulo
// 1021, written in 32 characters (General Specifications s.7.9.5).
func hasCheckPair(v string, _ Date) *fault {
	data := len(v) - 2
	if data < 0 {
		return &fault{at: len(v), reason: "too short for its two check characters"}
	}
	const alphabet = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
	if data > len(primes) {
		return &fault{at: len(v), reason: "too long for its check characters"}
	}
	sum := 0
	for i := 0; i < data; i++ {
		sum += strings.IndexByte(set82, v[i]) * primes[data-1-i]
	}
	sum %= 1021
	if v[data] != alphabet[sum>>5] || v[data+1] != alphabet[sum&31] {
		return &fault{at: data, reason: "wrong check characters"}
	}
	return nil
}

var primes = [...]int{2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83}

// companyPrefix: a company prefix begins with two digits at least.
func companyPrefix(v string, _ Date) *fault {
	for i := range 2 {
		if i >= len(v) {
			return &fault{at: i, reason: "too short for a company prefix"}
		}
		if !isDigit(v[i]) {
			return &fault{at: i, reason: "a company prefix begins with digits"}
		}
	}
	return nil
}

func dateOrMonth(v string, today Date) *fault {
	_, f := shortDate(v, today, true)
	return f
}

func dateWithDay(v string, today Date) *fault {
	_, f := shortDate(v, today, false)
	return f
}

func hourMinute(v string, today Date) *fault {
	if f := hour(v[:2], today); f != nil {
		return f
	}
	if f := sixtieth(v[2:], today); f != nil {
		return &fault{at: 2, reason: f.reason}
	}
	return nil
}

func hour(v string, _ Date) *fault {
	return unless(number(v) <= 23, "the hour must be 00 to 23")
}

func sixtieth(v string, _ Date) *fault {
	return unless(number(v) <= 59, "minutes and seconds must be 00 to 59")
}

func country(v string, _ Date) *fault {
	return unless(listed(countryNumbers, v), "no such country number (ISO 3166-1)")
}

func countryOr999(v string, today Date) *fault {
	if v == "999" {
		return nil
	}
	return country(v, today)
}

func countryLetters(v string, _ Date) *fault {
	return unless(listed(countryCodes, v), "no such country code (ISO 3166-1 alpha-2)")
}

func currency(v string, _ Date) *fault {
	return unless(listed(currencyNumbers, v), "no such currency number (ISO 4217)")
}

func zero(v string, _ Date) *fault { return unless(v == "0", "must be 0") }

func yesOrNo(v string, _ Date) *fault {
	return unless(v == "0" || v == "1", "must be 0 or 1")
}

func winding(v string, _ Date) *fault {
	return unless(v == "0" || v == "1" || v == "9", "must be 0, 1 or 9")
}

func minus(v string, _ Date) *fault { return unless(v == "-", "must be a minus sign") }

func notZero(v string, _ Date) *fault {
	return unless(strings.Trim(v, "0") != "", "must not be zero")
}

func noLeadingZero(v string, _ Date) *fault {
	return unless(v[0] != '0' || len(v) == 1, "must not begin with 0")
}

func notAllDigits(v string, _ Date) *fault {
	return unless(!allDigits(v), "must hold a character that is no digit")
}

func latitude(v string, _ Date) *fault {
	return unless(v <= "1800000000", "beyond the pole")
}

func longitude(v string, _ Date) *fault {
	return unless(v <= "3600000000", "beyond the full circle")
}

func mediaType(v string, _ Date) *fault {
	n := number(v)
	return unless(n >= 1 && n <= 10 || n >= 80, "no such media type")
}

// pieceOfTotal: two digits piece, two digits total, neither 00.
func pieceOfTotal(v string, _ Date) *fault {
	piece, total := v[:2], v[2:]
	switch {
	case piece == "00":
		return &fault{at: 0, reason: "the piece must not be 00"}
	case total == "00":
		return &fault{at: 2, reason: "the total must not be 00"}
	case piece > total:
		return &fault{at: 0, reason: "the piece is beyond the total"}
	}
	return nil
}

func importerIndex(v string, _ Date) *fault {
	return unless(v == "-" || v == "_" || set39Letter(v[0]) || v[0] >= 'a' && v[0] <= 'z', "not an importer index")
}

func percentEncoded(v string, _ Date) *fault {
	for i := 0; i < len(v); i++ {
		if v[i] != '%' {
			continue
		}
		if _, ok := hexByte(v, i+1); !ok {
			return &fault{at: i, reason: "a percent sign needs two hexadecimal digits after it"}
		}
	}
	return nil
}

// padded: base64 ends in two padding characters at most.
func padded(v string, _ Date) *fault {
	body := strings.TrimRight(v, "=")
	if i := strings.IndexByte(body, '='); i >= 0 {
		return &fault{at: i, reason: "padding may stand only at the end"}
	}
	return unless(len(v)-len(body) <= 2 && body != "", "too much padding")
}

// bankAccount is the modulo 97 check of ISO 13616.
func bankAccount(v string, _ Date) *fault {
	if len(v) <= 4 {
		return &fault{at: len(v), reason: "too short for a bank account number"}
	}
	rest := 0
	for i := range len(v) {
		at := (i + 4) % len(v)
		switch c := v[at]; {
		case isDigit(c):
			rest = (10*rest + int(c-'0')) % 97
		case c >= 'A' && c <= 'Z':
			rest = (100*rest + int(c-'A') + 10) % 97
		default:
			return &fault{at: at, reason: "only digits and capital letters may stand here"}
		}
	}
	if rest != 1 {
		return &fault{at: 2, reason: "wrong check digits"}
	}
	return countryLetters(v[:2], Date{})
}

func unless(ok bool, reason string) *fault { return unlessAt(0, ok, reason) }

func unlessAt(at int, ok bool, reason string) *fault {
	if ok {
		return nil
	}
	return &fault{at: at, reason: reason}
}

// listed looks v up in a sorted table of codes.
func listed(table []string, v string) bool {
	_, found := slices.BinarySearch(table, v)
	return found
}
