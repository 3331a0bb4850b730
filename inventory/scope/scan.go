package scope

import (
	"strings"

	"stowkeeper/inventory"
)

// BareCode is a code without all that people leave out when they type it.
func BareCode(s string) string {
	return strings.NewReplacer("-", "", ".", "").Replace(inventory.NormalCode(s))
}
