package web

import (
	"errors"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
)

// partWords are the parts of a pack's code, for a person at a shelf.
var partWords = map[string]string{
	"01": "the product code", "10": "the batch number", "11": "the date of manufacture", "15": "the best-before date",
	"17": "the expiry date",
	"21": "the serial number", "30": "the count", "7003": "the expiry time", "pcn": "the product code",
	"lot": "the batch number", "end": "the expiry date",
	"14D": "the expiry date", "16D": "the date of manufacture", "S": "the serial number", "Q": "the count",
	"qty": "the count",
}

// scanFailed puts a refused scan into words for whoever holds the pack: what to
// do, rather than at which position of the text something is wrong.
func scanFailed(err error) error {
	var refused *barcode.Error
	if !errors.As(err, &refused) || inventory.KindOf(err) != inventory.Invalid {
		return err
	}
	switch refused.Trouble {
	case barcode.NoPack:
		return inventory.Invalidf("text", "this does not look like a pack's code: scan the square code or the bars on the "+
			"pack, or type the number under the bars")
	case barcode.Foreign:
		return inventory.Invalidf("text", "codes of patients, and of blood and tissue, are not read here")
	}
	why := refused.Reason
	if strings.HasPrefix(why, "wrong check") {
		why = "one character is wrong or missing"
	}
	if part := partWords[refused.AI]; part != "" {
		return inventory.Invalidf("text", "this code was not read or typed right, at %s: %s; try once more, and where it "+
			"stays so, receive the pack by what is printed on it", part, why)
	}
	return inventory.Invalidf("text", "this code was not read or typed right: %s; try once more, and where it stays so, "+
		"receive the pack by what is printed on it", why)
}
