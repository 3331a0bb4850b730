package labels

import "strings"

// Address joins a base URL and a bag's code to the address that the bag's
// symbol holds: the base, "/b/" and the code.
//
// A base without a path comes back in upper case, "/B/" and code included,
// because upper-case text makes a smaller symbol (alphanumeric mode) and scheme
// and host mean the same in either case (RFC 3986, sections 3.1 and 3.2.2); the
// service answers "/B/CODE" as well. A base with a path keeps its case: a path
// can belong to somebody else's server, where case may count (section 6.2.2.1).
func Address(base, code string) string {
	base = strings.TrimRight(base, "/")
	_, rest, _ := strings.Cut(base, "://")
	if strings.Contains(rest, "/") {
		return base + "/b/" + code
	}
	return strings.ToUpper(base + "/b/" + code)
}
