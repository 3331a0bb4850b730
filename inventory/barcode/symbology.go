package barcode

import "stowkeeper/inventory/message"

// carrier says what a kind of symbol may hold.
type carrier struct {
	elements bool // GS1 element strings
	gtin     int  // digits of a GTIN, alone
}

// carriers are the symbology identifiers of ISO/IEC 15424 in use on packs (General Specifications figure 5.1.2-2).
// Those that hold neither element strings nor a GTIN are plain symbols: HIBC or a Digital Link.
var carriers = map[string]carrier{
	"]C1": {elements: true}, // GS1-128
	"]e0": {elements: true}, // GS1 DataBar and composites
	"]d2": {elements: true}, // GS1 DataMatrix
	"]Q3": {elements: true}, // GS1 QR Code
	"]J1": {elements: true}, // GS1 DotCode
	"]E0": {gtin: 13},       // EAN-13, UPC-A, UPC-E
	"]E4": {gtin: 8},        // EAN-8
	"]I1": {gtin: 14},       // ITF-14
	"]d1": {},               // Data Matrix
	"]Q1": {},               // QR Code
	"]C0": {},               // Code 128
	"]A0": {},               // Code 39
	"]A1": {},               // Code 39 with its own check character
	"]z0": {},               // Aztec
}

// carried reads a text that begins with a symbology identifier.
func carried(text string, today Date) (Facts, *Error) {
	const size = 3
	if len(text) < size {
		return Facts{}, &Error{Position: len(text), Reason: message.M("too short")}
	}
	c, ok := carriers[text[:size]]
	switch {
	case !ok:
		return Facts{}, &Error{Reason: message.M("unknown symbology identifier"), Trouble: NoPack}
	case len(text) == size:
		return Facts{}, &Error{Position: size, Reason: message.M("no data")}
	case c.elements:
		return fromTokens(GS1, today)(elementString(text, size))
	case c.gtin > 0:
		return fromTokens(GS1, today)(tradeItem(text, size, c.gtin))
	case selfMarked(text[size:]):
		return marked(text, size, today)
	}
	return Facts{}, &Error{Position: size,
		Reason:  message.M("not a GS1, HIBC or Digital Link code"),
		Trouble: NoPack}
}
