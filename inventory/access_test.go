package inventory_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

// mayDo is the table of roles written a second time, by role.
var mayDo = map[inventory.Role]string{
	inventory.Crew:          "open see check take_off",
	inventory.Quartermaster: "open see check take_off keep_stock keep_lists report history label",
	inventory.Manager:       "open see report history label",
	inventory.Administrator: "open see check take_off keep_stock keep_lists keep_sites report history label keep_people",
	"":                      "open",
	"visitor":               "open",
}

func TestMay(t *testing.T) {
	for role, list := range mayDo {
		allowed := " " + list + " "
		for _, a := range inventory.Actions {
			assert.Equal(t, strings.Contains(allowed, " "+string(a)+" "), inventory.May(role, a), "%s, %s", role, a)
		}
		assert.False(t, inventory.May(role, "dance"), "what is not in the table is refused")
	}
	assert.Len(t, mayDo, len(inventory.Roles)+2)
}

func TestActorAt(t *testing.T) {
	for _, c := range []struct {
		actor inventory.Actor
		site  string
		want  bool
	}{
		{inventory.Actor{Role: inventory.Crew, Sites: []string{"N", "S"}}, "S", true},
		{inventory.Actor{Role: inventory.Crew, Sites: []string{"N", "S"}}, "E", false},
		{inventory.Actor{Role: inventory.Crew}, "N", false}, // crew always belong to named sites
		{inventory.Actor{Role: inventory.Quartermaster}, "N", true},
		{inventory.Actor{Role: inventory.Quartermaster, Sites: []string{"N"}}, "S", false},
		{inventory.Actor{Role: inventory.Manager}, "N", true},
		{inventory.Actor{Role: inventory.Administrator}, "N", true},
		{inventory.Actor{}, "N", false},
	} {
		assert.Equal(t, c.want, c.actor.At(c.site), "%+v at %s", c.actor, c.site)
	}
}
