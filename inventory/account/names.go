package account

import (
	"context"
	"slices"
	"strings"

	"stowkeeper/inventory"
)

// NameHere is who may sign in by PIN on a terminal, by name and number alone.
type NameHere struct {
	ID   int64  `json:"id"`
	Name string `json:"name"`
}

// NamesHere lists the people who may sign in by PIN on the enrolled terminal that a secret stands for, by name; nobody
// for a browser that is none. stations leaves only the people of some of them, none given those of all.
// It never refuses.
func (s *Service) NamesHere(ctx context.Context, terminal string, stations ...string) ([]NameHere, error) {
	return inventory.Read(ctx, s.store, func(r inventory.Reader) ([]NameHere, error) {
		t, err := liveTerminal(r, terminal)
		if err != nil || t.ID == 0 {
			return nil, err
		}
		people, err := r.People()
		return namesOn(t, stations, people), err
	})
}

// namesOn picks those who a terminal lets in by PIN.
func namesOn(t inventory.Terminal, stations []string, people []inventory.Person) []NameHere {
	var out []NameHere
	for _, p := range people {
		a := attempt{person: p, terminal: t}
		near := len(stations) == 0 || slices.ContainsFunc(p.Stations,
			func(x string) bool { return slices.Contains(stations, x) })
		if near && p.Role.UsesPIN() && a.expected() != "" {
			out = append(out, NameHere{p.ID, p.Name})
		}
	}
	slices.SortFunc(out, func(a, b NameHere) int { return strings.Compare(a.Name, b.Name) })
	return out
}
