package web

import (
	"errors"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode"
	"stowkeeper/inventory/message"
)

// partWords are the parts of a pack's code, for a person at a shelf.
var partWords = map[string]message.Message{
	"01": message.M("product code"), "10": message.M("batch number"), "11": message.M("date of manufacture"),
	"15": message.M("best-before date"), "17": message.M("expiry date"), "21": message.M("serial number"),
	"30": message.M("count"), "7003": message.M("expiry time"), "pcn": message.M("product code"),
	"lot": message.M("batch number"), "end": message.M("expiry date"), "14D": message.M("expiry date"),
	"16D": message.M("date of manufacture"), "S": message.M("serial number"), "Q": message.M("count"),
	"qty": message.M("count"),
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
		return inventory.InvalidField("text",
			"Not a pack code. Scan the square code or the bars, or type the number below them.")
	case barcode.Foreign:
		return inventory.InvalidField("text", "Codes of patients, blood and tissue are not read here.")
	}
	why := refused.Reason
	if strings.HasPrefix(why.Key(), "wrong check") {
		why = message.M("a character is wrong or missing")
	}
	if part := partWords[refused.AI]; part != nil {
		return inventory.InvalidField("text", "Code misread at {1}: {2}. Scan again, or enter the pack by hand.", part, why)
	}
	return inventory.InvalidField("text", "Code misread: {1}. Scan again, or enter the pack by hand.", why)
}
