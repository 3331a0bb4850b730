package verify

import (
	"regexp"
	"strconv"
	"strings"

	"stowkeeper/inventory"
)

var headLine = regexp.MustCompile(`^(\S+?)[ ,](\d+)(?:[ ,]([0-9a-f]{64})?)?$`)

// ParseHeads reads heads that were kept, a line for each: chain, number and hash, as Head prints them or as they stand
// on an export. Refuses: Invalid where a line is none.
func ParseHeads(text string) ([]inventory.Head, error) {
	var out []inventory.Head
	for _, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(strings.TrimPrefix(line, "\ufeff"))
		if line == "" || strings.HasPrefix(line, "chain,") {
			continue
		}
		part := headLine.FindStringSubmatch(line)
		if part == nil {
			return nil, inventory.InvalidField("since",
				"give heads as verify --heads prints them: a chain, a number and a hash")
		}
		h := inventory.Head{Station: part[1], Hash: part[3]}
		if h.Station == inventory.ServiceChain {
			h.Station = ""
		}
		h.Seq, _ = strconv.ParseInt(part[2], 10, 64)
		if h.Seq > 0 { // a chain that was empty says nothing
			out = append(out, h)
		}
	}
	return out, nil
}
