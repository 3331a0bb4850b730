package barcode

import (
	"strings"

	"stowkeeper/inventory/message"
)

func gtinLength(n int) bool { return n == 8 || n == 12 || n == 13 || n == 14 }

// digitsAlone reads as many digits as a GTIN has, from a scanner that names no symbology. They are a GTIN when the
// check digit is right, unless they are exactly as long as one element of fixed length: eight digits that begin with
// 17 are a date and no GTIN-8, though one in ten has a right check digit by chance. Else they are an element string.
// Where a doubt is left, it warns.
func digitsAlone(text string, from int, today Date) (Facts, *Error) {
	item, itemErr := fromTokens(GS1, today)(tradeItem(text, from, len(text)-from))
	elements, elementsErr := fromTokens(GS1, today)(elementString(text, from))
	single := oneFixedElement(text[from:])
	switch {
	case single && elementsErr != nil && itemErr == nil:
		elementsErr.Reason = message.Join("; ", elementsErr.Reason,
			message.M("for a GTIN, enter (01) and 14 digits"))
		return elements, elementsErr
	case single && itemErr == nil:
		elements.ambiguous(from, message.M("read as element string, not as GTIN"))
		return elements, nil
	case single:
		return elements, elementsErr
	case itemErr == nil && elementsErr == nil && elements.tellsOfPack():
		item.ambiguous(from, message.M("read as GTIN, not as element string"))
		return item, nil
	case itemErr != nil && elementsErr == nil:
		elements.ambiguous(from, message.M("read as element string, not as GTIN"))
		return elements, nil
	}
	return item, itemErr
}

func (f *Facts) ambiguous(at int, text message.Message) {
	f.Warnings = append(f.Warnings, Warning{Kind: Ambiguous, Position: at, Text: text})
}

// tellsOfPack tells whether there is a lot, serial number, date or count: only
// then is the other reading worth a warning. Many a GTIN begins with 40 or 9.
func (f *Facts) tellsOfPack() bool {
	return f.BatchNo+f.Serial != "" || f.Qty != 0 ||
		!f.MadeOn.IsZero() || !f.UsableThrough.IsZero() || !f.BestBefore.IsZero()
}

// oneFixedElement tells whether s is as long as the one element that it begins with, whose length is fixed.
func oneFixedElement(s string) bool {
	id, ok := identify(s)
	if !ok {
		return false
	}
	size := len(id.ai)
	for _, p := range id.parts {
		if p.min != p.max || p.optional {
			return false
		}
		size += p.max
	}
	return size == len(s)
}

// tradeItem reads a GTIN of size digits and fills it up to 14.
func tradeItem(text string, from, size int) ([]token, *Error) {
	got := text[from:]
	if i := numeric.outside(got); i >= 0 {
		return nil, &Error{Position: from + i, AI: "01", Reason: message.M("character not allowed")}
	}
	if len(got) < size {
		return nil, &Error{Position: len(text), AI: "01", Reason: message.M("too short")}
	}
	if len(got) > size {
		return nil, &Error{Position: from + size, AI: "01", Reason: message.M("too long")}
	}
	offsets := make([]int, 14)
	for i := range offsets {
		offsets[i] = max(from, from+size-14+i)
	}
	padded := strings.Repeat("0", 14-size) + got
	return []token{{known["01"], padded, from, offsets}}, nil
}
