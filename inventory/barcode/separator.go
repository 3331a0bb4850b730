package barcode

import (
	"strings"

	"stowkeeper/inventory/message"
)

// Some scanners send the separator as another character, or as several, or leave it out. What a scanner makes of it
// is learnt from a test symbol whose content is known: it holds a GTIN of the prefix for examples, a serial number, a
// separator, and a lot.
const (
	testGTIN   = "0109529999999993"
	testSerial = "21SEPARATOR-TEST"
	testLot    = "10LAST"
)

// SeparatorTest is the text of the test symbol, as a scanner that passes the separator on sends it.
const SeparatorTest = testGTIN + testSerial + string(separator) + testLot

// Separator is what a scanner sends for a separator: Native for ASCII 29 itself, or its substitute.
type Separator string

// Native is the separator as it stands in the symbol.
const Native Separator = Separator(separator)

// LearnSeparator tells from what a scanner made of the test symbol what it sends for a separator.
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
	var why message.Message
	switch {
	case !ok:
		why = message.M("Not the test symbol. Scan the one on this page.")
	case middle == "":
		why = message.M("This scanner drops the separator. Set it to send FNC1 as GS (ASCII 29) or another character, " +
			"then scan again.")
	case len(middle) > 10:
		why = message.M("Too much between both parts. Scan again.")
	case strings.Trim(middle, digits+upper+"abcdefghijklmnopqrstuvwxyz") == "":
		why = message.M("This scanner sends a letter or digit as separator. Set another character, then scan again.")
	default:
		return Separator(middle), nil
	}
	return "", &Error{Reason: why}
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
