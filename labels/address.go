package labels

import "strings"

// Address joins a base URL and a bag's code to the address that the bag's symbol holds: the base, "/b/" and the code.
func Address(base, code string) string { return Link(base, "b/"+code) }

// Link joins a base URL and a path below it to the address that a symbol holds.
//
// A base without a path comes back in upper case, the path below it included, because upper-case text makes a smaller
// symbol (alphanumeric mode) and scheme and host mean the same in either case (RFC 3986, sections 3.1 and 3.2.2); the
// service answers paths in either case. A base with a path keeps its case: a path can belong to somebody else's
// server, where case may count (section 6.2.2.1).
func Link(base, path string) string {
	base = strings.TrimRight(base, "/")
	_, rest, _ := strings.Cut(base, "://")
	if strings.Contains(rest, "/") {
		return base + "/" + path
	}
	return strings.ToUpper(base + "/" + path)
}
