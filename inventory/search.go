package inventory

import (
	"slices"
)

// SharesSite tells whether a person belongs to a site of the actor's.
func (a Actor) SharesSite(p Person) bool {
	seen := a.SitesSeen()
	return len(seen) == 0 || len(p.Sites) == 0 || slices.ContainsFunc(p.Sites, func(s string) bool { return slices.Contains(seen, s) })
}
