package barcode

import (
	"strings"

	"stowkeeper/inventory/message"
)

// The character sets of the standard, each in the order of its values:
// ISO/IEC 646 as the General Specifications section 7.11 lists it.
const (
	digits = "0123456789"
	set82  = "!\"%&'()*+,-./" + digits + ":;<=>?" + upper + "_" + lower
	set39  = "#-/" + digits + upper
	set64  = upper + lower + digits + "-_"
	upper  = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	lower  = "abcdefghijklmnopqrstuvwxyz"
)

// charset is a set of bytes.
type charset struct {
	only message.Message // the reason for a byte outside the set
	has  [256]bool
}

func newCharset(only message.Message, chars string) *charset {
	s := &charset{only: only}
	for i := 0; i < len(chars); i++ {
		s.has[chars[i]] = true
	}
	return s
}

// outside returns the offset of the first byte of v not in the set, or -1.
func (s *charset) outside(v string) int {
	for i := 0; i < len(v); i++ {
		if !s.has[v[i]] {
			return i
		}
	}
	return -1
}

var (
	numeric   = newCharset(message.M("character not allowed"), digits)
	ascii82   = newCharset(message.M("character not allowed"), set82)
	ascii39   = newCharset(message.M("character not allowed"), set39)
	base64URL = newCharset(message.M("character not allowed"), set64+"=")
)

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func allDigits(v string) bool { return v != "" && numeric.outside(v) < 0 }

func set39Letter(c byte) bool { return isDigit(c) || c >= 'A' && c <= 'Z' }

// hexByte reads two hexadecimal digits at offset i of v.
func hexByte(v string, i int) (byte, bool) {
	if i+2 > len(v) {
		return 0, false
	}
	const hex = "0123456789abcdef"
	high := strings.IndexByte(hex, lowered(v[i]))
	low := strings.IndexByte(hex, lowered(v[i+1]))
	if high < 0 || low < 0 {
		return 0, false
	}
	return byte(high<<4 | low), true // #nosec G115 -- two digits of four bits
}

func lowered(c byte) byte {
	if c >= 'A' && c <= 'Z' {
		return c + 'a' - 'A'
	}
	return c
}
