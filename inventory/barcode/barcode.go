// Package barcode reads the text of a pack's barcode into facts: product code, lot, serial number, dates, count.
//
// It reads GS1 element strings as scanners send them (with or without a symbology identifier, separators as ASCII 29)
// and as they are printed for people, with identifiers in brackets; plain GTINs of 8, 12, 13 and 14 digits; GS1
// Digital Link URIs; and HIBC supplier labels, primary, secondary and combined. Everything about GS1 identifiers is
// in one table, dictionary.
//
// Parse is total: any text gives facts or an *Error, and no fact is made up. What looks wrong but is legal comes as a
// Warning and is never repaired. The package knows no clock; the day is a parameter, since two-digit years depend on
// it.
package barcode

import (
	"strings"

	"stowkeeper/inventory/message"
)

// separator is FNC1 between elements as scanners send it: ASCII 29.
const separator = '\x1d'

// maxText is more than any symbol holds: a QR Code of the largest version has
// room for 7089 digits (ISO/IEC 18004 table 7).
const maxText = 7200

// Parse reads text. Two-digit years of GS1 are those nearest to today, from
// 49 years back to 50 ahead. The error is an *Error.
//
// Line ends after the text are ignored, as scanners send them. Blanks are
// not: a blank can be the check character of an HIBC label.
func Parse(text string, today Date) (Facts, error) {
	facts, err := parse(text, today)
	if err != nil {
		return Facts{}, err
	}
	facts.SeparatorSeen = strings.IndexByte(text, separator) >= 0
	return facts, nil
}

func parse(text string, today Date) (Facts, *Error) {
	text = strings.TrimRight(text, "\r\n")
	switch {
	case !today.Valid():
		return Facts{}, &Error{Reason: message.M("no day to judge two-digit years by")}
	case text == "":
		return Facts{}, &Error{Reason: message.M("no data")}
	case len(text) > maxText:
		return Facts{}, &Error{Position: maxText, Reason: message.M("too long"), Trouble: NoPack}
	case text[0] == ']':
		return carried(text, today)
	case len(text) > 2 && text[0] == '*' && text[len(text)-1] == '*':
		return detect(text[:len(text)-1], 1, today) // Code 39 is printed with its start and stop characters
	}
	return detect(text, 0, today)
}

// detect tells the schemes apart by how the text begins.
func detect(text string, from int, today Date) (Facts, *Error) {
	rest := text[from:]
	switch {
	case rest[0] == '(':
		return fromTokens(GS1, today)(bracketed(text, from))
	case allDigits(rest) && gtinLength(len(rest)):
		return digitsAlone(text, from, today)
	case selfMarked(rest):
		return marked(text, from, today)
	}
	return fromTokens(GS1, today)(elementString(text, from))
}

// selfMarked tells whether the text itself says that it is no element string.
func selfMarked(rest string) bool {
	return strings.ContainsRune("+=&", rune(rest[0])) || webAddress(rest)
}

// marked reads what selfMarked recognises.
func marked(text string, from int, today Date) (Facts, *Error) {
	switch text[from] {
	case '+':
		return supplierLabel(text, from)
	case '=', '&':
		return Facts{}, &Error{Position: from, Reason: message.M("blood and tissue labels (ISBT 128) are not supported"),
			Trouble: Foreign}
	}
	return fromTokens(DigitalLink, today)(digitalLink(text, from))
}
