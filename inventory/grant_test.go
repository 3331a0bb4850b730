package inventory_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

var grantStations = []string{"N1", "S2", "E3"}

func drawGrant(t *rapid.T, name string) inventory.Grant {
	return inventory.Grant{
		Role:     rapid.SampledFrom(inventory.Roles).Draw(t, name+" role"),
		Stations: rapid.SliceOfNDistinct(rapid.SampledFrom(grantStations), 0, 2, rapid.ID[string]).Draw(t, name+" stations"),
		Scope: rapid.SliceOfNDistinct(rapid.SampledFrom(inventory.Actions), 0, 4,
			rapid.ID[inventory.Action]).Draw(t, name+" scope"),
		EndsAt: inventory.Instant(rapid.Int64Range(0, 5).Draw(t, name+" ends")),
	}
}

func holder(g inventory.Grant) inventory.Actor {
	return inventory.Actor{Name: "x", Role: g.Role, Stations: g.Stations, Scope: g.Scope, EndsAt: g.EndsAt, Program: true}
}

// TestNobodyHandsOnMore: whoever makes what, and so on from hand to hand, nothing that is made may do an action, at a
// station or at a time, that its maker may not.
func TestNobodyHandsOnMore(t *testing.T) {
	made := 0
	rapid.Check(t, func(t *rapid.T) {
		maker := holder(drawGrant(t, "maker"))
		for range 3 {
			g := maker.Inherited(drawGrant(t, "made"))
			if maker.MustGrant(g) != nil {
				return
			}
			made++
			next := holder(g)
			for _, act := range inventory.Actions {
				if act == inventory.ActOpen || act == inventory.ActAccount {
					continue
				}
				for _, station := range grantStations {
					if next.Must(act, station) == nil {
						assert.NoError(t, maker.Must(act, station), "%s at %s", act, station)
					}
				}
				assert.False(t, next.May(act) && !maker.May(act), act)
			}
			if maker.EndsAt != 0 {
				assert.True(t, next.EndsAt != 0 && next.EndsAt <= maker.EndsAt)
			}
			maker = next
		}
	})
	assert.Greater(t, made, 20, "grants that were allowed")
}

func TestMustGrant(t *testing.T) {
	keeper := inventory.Actor{Name: "k", Role: inventory.Administrator, Stations: []string{"N1"},
		Scope: []inventory.Action{inventory.ActKeepPeople, inventory.ActSee}, EndsAt: 9, Program: true}
	crew := func(scope ...inventory.Action) inventory.Grant {
		return inventory.Grant{Role: inventory.Crew, Scope: scope, EndsAt: 8}
	}
	for name, c := range map[string]struct {
		give inventory.Grant
		ok   bool
	}{
		"what it leaves open is inherited": {inventory.Grant{Role: inventory.Administrator}, true},
		"less":                             {crew(inventory.ActSee), true},
		"another station":                  {inventory.Grant{Role: inventory.Crew, Stations: []string{"S2"}}, false},
		"another action":                   {crew(inventory.ActCheck), false},
		"a longer time":                    {inventory.Grant{Role: inventory.Crew, EndsAt: 10}, false},
	} {
		if err := keeper.MustGrant(keeper.Inherited(c.give)); c.ok {
			assert.NoError(t, err, name)
		} else {
			inventorytest.RequireKind(t, inventory.Forbidden, err)
		}
	}
	for _, p := range []inventory.Person{{Role: inventory.Administrator},
		{Role: inventory.Crew, Stations: []string{"N1"}}} {
		inventorytest.RequireKind(t, inventory.Forbidden, keeper.MustGrant(p.Grants())) // who has no end
	}
	inventorytest.RequireKind(t, inventory.Forbidden, keeper.MustGrant(inventory.Terminal{}.Grants()))
	whole := inventory.Actor{Name: "a", Role: inventory.Administrator}
	assert.NoError(t, whole.MustGrant(inventory.Terminal{Station: "N1"}.Grants()))
	assert.NoError(t, whole.MustGrant(inventory.Person{Role: inventory.Administrator}.Grants()))
	assert.False(t, slices.ContainsFunc(inventory.Roles, func(r inventory.Role) bool {
		return whole.MustGrant(inventory.Grant{Role: r}) != nil
	}))
}
