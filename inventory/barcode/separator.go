package barcode

import (
	"fmt"
	"strings"
)

// Some scanners send the separator as another character, or as several, or
// leave it out. What a scanner makes of it is learnt from a test symbol whose
// content is known: it holds a GTIN of the prefix for examples, a serial number, a
// separator, and a lot.
const (
	testGTIN   = "0109529999999993"
	testSerial = "21SEPARATOR-TEST"
	testLot    = "10LAST"
)

// SeparatorTest is the text of the test symbol, as a scanner that passes the
// separator on sends it.
const SeparatorTest = testGTIN + testSerial + string(separator) + testLot

// Separator is what a scanner sends for a separator: Native for ASCII 29
// itself, or its substitute.
type Separator string

// Native is the separator as it stands in the symbol.
const Native Separator = Separator(separator)

// LearnSeparator tells from what a scanner made of the test symbol what it
// sends for a separator.
func LearnSeparator(scanned string) (Separator, error) {
	text := strings.TrimRight(scanned, "\r\n")
	if len(text) > 3 && text[0] == ']' {
		text = text[3:]
	}
	text = strings.TrimPrefix(text, string(separator))
	middle, ok := strings.CutPrefix(text, testGTIN+testSerial)
	if ok {
		middle, ok = strings.CutSuffix(middle, testLot)
	}
	switch {
	case !ok:
		return "", fmt.Errorf("that was not the test symbol: scan the one on this page")
	case middle == "":
		return "", fmt.Errorf("this scanner leaves the separator out: switch on in its settings that it sends FNC1 as GS " +
			"(ASCII 29) or as a character of your choice, then scan again")
	case len(middle) > 10:
		return "", fmt.Errorf("too much came between the two parts: scan again")
	case strings.Trim(middle, digits+upper+"abcdefghijklmnopqrstuvwxyz") == "":
		return "", fmt.Errorf("this scanner sends a letter or digit for the separator, which lot numbers hold as well: " +
			"choose another character in its settings, then scan again")
	}
	return Separator(middle), nil
}

// Restore puts the separator back into what a scanner sent. In texts that are
// no element strings nothing is changed, since they have none.
func (s Separator) Restore(text string) string {
	rest := text
	if len(rest) > 3 && rest[0] == ']' {
		rest = rest[3:]
	}
	if s == "" || s == Native || rest == "" || rest[0] == '(' || selfMarked(rest) {
		return text
	}
	return strings.ReplaceAll(text, string(s), string(separator))
}
