package inventory

import "slices"

// Grant is what a person, a token or a terminal lets whoever holds it do, where, and until when.
type Grant struct {
	Role     Role
	Stations []string // as of an actor of the role
	Scope    []Action // none means all that the role may do
	EndsAt   Instant  // 0 for no end
}

// Inherited narrows what a grant leaves open to what its maker is kept to. A grant without end gets the maker's.
func (a Actor) Inherited(g Grant) Grant {
	if len(g.Stations) == 0 {
		g.Stations = a.Stations
	}
	if len(g.Scope) == 0 && len(a.Scope) > 0 {
		g.Scope = slices.DeleteFunc(slices.Clone(a.Scope), func(act Action) bool { return !May(g.Role, act) })
	}
	if g.EndsAt == 0 {
		g.EndsAt = a.EndsAt
	}
	return g
}

// MustGrant refuses to hand on more than one has: an action, a station or a time. Refuses: Forbidden.
func (a Actor) MustGrant(g Grant) error {
	given := Actor{Role: g.Role, Stations: g.Stations, Scope: g.Scope}
	for _, act := range Actions {
		if act == ActOpen || act == ActAccount || !given.May(act) { // about nobody else
			continue
		}
		if !a.May(act) || ReachOf(g.Role, act) > ReachOf(a.Role, act) {
			return Refuse(Forbidden, "not allowed for this token")
		}
	}
	if a.EndsAt != 0 && (g.EndsAt == 0 || g.EndsAt > a.EndsAt) {
		return Refuse(Forbidden, "not allowed for this token")
	}
	everywhere := len(g.Stations) == 0 && given.At("")
	if everywhere && (len(a.Stations) > 0 || !a.At("")) || slices.ContainsFunc(g.Stations,
		func(s string) bool { return !a.At(s) }) {
		return ErrNotYours()
	}
	return nil
}

// Grants is what a person who can sign in may do. It has no end: an administrator ends it.
func (p Person) Grants() Grant { return Grant{Role: p.Role, Stations: p.Stations} }

// Grants is what people may do who sign in on the terminal without a password.
func (t Terminal) Grants() Grant {
	g := Grant{Role: Crew}
	if t.Station != "" {
		g.Stations = []string{t.Station}
	}
	return g
}
