package barcode

import (
	"slices"
	"strings"

	"stowkeeper/inventory/message"
)

// fault is what is wrong with a value, at a byte offset within it.
type fault struct {
	at     int
	reason message.Message
	// tooLong: the value runs on beyond its longest length.
	tooLong bool
}

// twice is the reason when two values contradict each other.
var twice = message.M("there twice with different values")

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
		return &fault{at: last, reason: message.M("wrong check digit")}
	}
	return nil
}

// hasCheckPair checks the two last characters of model numbers: the values of the others in set 82, weighted from the
// right by the primes 2, 3, 5, …, modulo 1021, written in 32 characters (General Specifications s.7.9.5).
func hasCheckPair(v string, _ Date) *fault {
	data := len(v) - 2
	if data < 0 {
		return &fault{at: len(v), reason: message.M("too short")}
	}
	const alphabet = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
	if data > len(primes) {
		return &fault{at: len(v), reason: message.M("too long")}
	}
	sum := 0
	for i := 0; i < data; i++ {
		sum += strings.IndexByte(set82, v[i]) * primes[data-1-i]
	}
	sum %= 1021
	if v[data] != alphabet[sum>>5] || v[data+1] != alphabet[sum&31] {
		return &fault{at: data, reason: message.M("wrong check digit")}
	}
	return nil
}

var primes = [...]int{2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83}

// companyPrefix: a company prefix begins with two digits at least.
func companyPrefix(v string, _ Date) *fault {
	for i := range 2 {
		if i >= len(v) {
			return &fault{at: i, reason: message.M("too short")}
		}
		if !isDigit(v[i]) {
			return &fault{at: i, reason: message.M("character not allowed")}
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
	return unless(number(v) <= 23, message.M("no such time"))
}

func sixtieth(v string, _ Date) *fault {
	return unless(number(v) <= 59, message.M("no such time"))
}

func country(v string, _ Date) *fault {
	return unless(listed(countryNumbers, v), message.M("no such country"))
}

func countryOr999(v string, today Date) *fault {
	if v == "999" {
		return nil
	}
	return country(v, today)
}

func countryLetters(v string, _ Date) *fault {
	return unless(listed(countryCodes, v), message.M("no such country"))
}

func currency(v string, _ Date) *fault {
	return unless(listed(currencyNumbers, v), message.M("no such currency"))
}

func zero(v string, _ Date) *fault { return unless(v == "0", message.M("value out of range")) }

func yesOrNo(v string, _ Date) *fault {
	return unless(v == "0" || v == "1", message.M("value out of range"))
}

func winding(v string, _ Date) *fault {
	return unless(v == "0" || v == "1" || v == "9", message.M("value out of range"))
}

func minus(v string, _ Date) *fault { return unless(v == "-", message.M("character not allowed")) }

func notZero(v string, _ Date) *fault {
	return unless(strings.Trim(v, "0") != "", message.M("value out of range"))
}

func noLeadingZero(v string, _ Date) *fault {
	return unless(v[0] != '0' || len(v) == 1, message.M("value out of range"))
}

func notAllDigits(v string, _ Date) *fault {
	return unless(!allDigits(v), message.M("character not allowed"))
}

func latitude(v string, _ Date) *fault {
	return unless(v <= "1800000000", message.M("value out of range"))
}

func longitude(v string, _ Date) *fault {
	return unless(v <= "3600000000", message.M("value out of range"))
}

func mediaType(v string, _ Date) *fault {
	n := number(v)
	return unless(n >= 1 && n <= 10 || n >= 80, message.M("value out of range"))
}

// pieceOfTotal: two digits piece, two digits total, neither 00.
func pieceOfTotal(v string, _ Date) *fault {
	piece, total := v[:2], v[2:]
	switch {
	case piece == "00":
		return &fault{at: 0, reason: message.M("value out of range")}
	case total == "00":
		return &fault{at: 2, reason: message.M("value out of range")}
	case piece > total:
		return &fault{at: 0, reason: message.M("value out of range")}
	}
	return nil
}

func importerIndex(v string, _ Date) *fault {
	return unless(v == "-" || v == "_" || set39Letter(v[0]) || v[0] >= 'a' && v[0] <= 'z',
		message.M("character not allowed"))
}

func percentEncoded(v string, _ Date) *fault {
	for i := 0; i < len(v); i++ {
		if v[i] != '%' {
			continue
		}
		if _, ok := hexByte(v, i+1); !ok {
			return &fault{at: i, reason: message.M("character not allowed")}
		}
	}
	return nil
}

// padded: base64 ends in two padding characters at most.
func padded(v string, _ Date) *fault {
	body := strings.TrimRight(v, "=")
	if i := strings.IndexByte(body, '='); i >= 0 {
		return &fault{at: i, reason: message.M("character not allowed")}
	}
	return unless(len(v)-len(body) <= 2 && body != "", message.M("character not allowed"))
}

// bankAccount is the modulo 97 check of ISO 13616.
func bankAccount(v string, _ Date) *fault {
	if len(v) <= 4 {
		return &fault{at: len(v), reason: message.M("too short")}
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
			return &fault{at: at, reason: message.M("character not allowed")}
		}
	}
	if rest != 1 {
		return &fault{at: 2, reason: message.M("wrong check digit")}
	}
	return countryLetters(v[:2], Date{})
}

func unless(ok bool, reason message.Message) *fault { return unlessAt(0, ok, reason) }

func unlessAt(at int, ok bool, reason message.Message) *fault {
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
