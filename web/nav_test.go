package web

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

// Each role sees the sections that it may use, in their groups, and the one that
// it is in is marked, on the pages beneath it too.
func TestSections(t *testing.T) {
	for _, c := range []struct {
		role inventory.Role
		here string
		want string
	}{
		{"", "/sign-in", ""},
		{inventory.Crew, "/board", "*Bags, Controlled drugs, Devices, Away"},
		{inventory.Crew, "/b/CEN-01/use", "*Bags, Controlled drugs, Devices, Away"},
		{inventory.Manager, "/year", "Bags, Stock | Controlled drugs, Devices, Away, Recalls | Labels, *Reports, Admin"},
		{inventory.Quartermaster, "/bags/CEN-01/restock", "Bags, *Store, Receive, Review, Stock | " +
			"Controlled drugs, Devices, Away, Recalls | Labels, Reports, Admin"},
		{inventory.Administrator, "/people/3", "Bags, Store, Receive, Review, Stock | " +
			"Controlled drugs, Devices, Away, Recalls | Labels, Reports, *Admin"},
		{inventory.Administrator, "/account", "Bags, Store, Receive, Review, Stock | " +
			"Controlled drugs, Devices, Away, Recalls | Labels, Reports, Admin"},
	} {
		b := Base{Role: string(c.role), Here: c.here}
		var groups []string
		for _, g := range b.Sections() {
			groups = append(groups, navText(g))
		}
		assert.Equal(t, c.want, strings.Join(groups, " | "), "%s at %s", c.role, c.here)
	}
	for role, want := range map[inventory.Role]string{
		inventory.Crew:          "",
		inventory.Manager:       "Kit lists, Items, Places, *History",
		inventory.Quartermaster: "Import, Export, Stations, Kit lists, Items, Places, *History",
		inventory.Administrator: "Import, Export, Stations, People, Terminals, Tokens, Service, Kit lists, Items, " +
			"Places, *History",
	} {
		assert.Equal(t, want, navText((&Base{Role: string(role), Here: "/history"}).Admin()), role)
	}
}

func navText(links []NavLink) string {
	var out []string
	for _, l := range links {
		out = append(out, map[bool]string{true: "*"}[l.Current]+l.Text.String())
	}
	return strings.Join(out, ", ")
}
