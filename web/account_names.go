package web

import (
	"slices"
	"strings"

	"stowkeeper/inventory/account"
)

// latelyCookie holds the numbers of the people who signed in here last, and nothing else of them.
const (
	latelyCookie = "stowkeeper_lately"
	latelyKept   = 6
	namesShown   = 12 // as buttons; more are found by typing
)

// namesHere lists the people who may sign in by PIN on this terminal, those who were here lately first; nobody on a
// browser that is none.
func (s *server) namesHere(v *visit, stations ...string) ([]account.NameHere, error) {
	names, err := s.svc.Account.NamesHere(v.ctx(), s.terminalSecret(v), stations...)
	lately := latelyHere(v)
	place := func(n account.NameHere) int {
		if i := slices.Index(lately, formatID(n.ID)); i >= 0 {
			return i
		}
		return latelyKept
	}
	slices.SortStableFunc(names, func(a, b account.NameHere) int { return place(a) - place(b) })
	return names, err
}

func latelyHere(v *visit) []string {
	c, err := v.Request.Cookie(latelyCookie)
	if err != nil {
		return nil
	}
	ids := strings.Split(c.Value, ".")
	return ids[:min(len(ids), latelyKept)]
}

// wasHere puts who signed in before the others of this terminal.
func (s *server) wasHere(v *visit, name string) {
	names, err := s.namesHere(v)
	i := slices.IndexFunc(names, func(n account.NameHere) bool { return strings.EqualFold(n.Name, name) })
	if err != nil || i < 0 {
		return // a help that is done without
	}
	own := formatID(names[i].ID)
	ids := append([]string{own}, slices.DeleteFunc(latelyHere(v), func(id string) bool { return id == own })...)
	v.keep(latelyCookie, strings.Join(ids[:min(len(ids), latelyKept)], "."), terminalLife, false)
}
