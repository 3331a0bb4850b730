package inventory_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"stowkeeper/inventory"
)

// mayDo is the table of roles written a second time, by role: what it may do at
// its own stations, and what at any.
var mayDo = map[inventory.Role][2]string{
	inventory.Crew:          {"see check out_of_service", "open account"},
	inventory.Quartermaster: {"see check out_of_service keep_stock keep_lists order report history label", "open account"},
	inventory.Manager:       {"see order report history label", "open account"},
	inventory.Administrator: {"",
		"open account see check out_of_service keep_stock keep_lists keep_stations order report history label keep_people"},
	"":        {"", "open"},
	"visitor": {"", "open"},
}

func TestMay(t *testing.T) {
	for role, lists := range mayDo {
		for _, a := range inventory.Actions {
			want := inventory.Nowhere
			if slices.Contains(strings.Fields(lists[0]), string(a)) {
				want = inventory.OwnStation
			} else if slices.Contains(strings.Fields(lists[1]), string(a)) {
				want = inventory.AnyStation
			}
			assert.Equal(t, want, inventory.ReachOf(role, a), "%s, %s", role, a)
			assert.Equal(t, want != inventory.Nowhere, inventory.May(role, a), "%s, %s", role, a)
		}
		assert.False(t, inventory.May(role, "dance"), "what is not in the table is refused")
	}
	assert.Len(t, mayDo, len(inventory.Roles)+2)
}

// TestAdmit: a token may be kept to some of what its role may do, and never has
// more.
func TestAdmit(t *testing.T) {
	program := inventory.Actor{Name: "till", Role: inventory.Manager, Program: true,
		Scope: []inventory.Action{inventory.ActReport, inventory.ActKeepStock}}
	for act, want := range map[inventory.Action]inventory.ErrorKind{
		inventory.ActOpen: "", inventory.ActReport: "", inventory.ActSee: inventory.Forbidden,
		inventory.ActHistory:   inventory.Forbidden,
		inventory.ActKeepStock: inventory.Forbidden, inventory.ActAccount: inventory.Forbidden, "dance": inventory.Forbidden,
	} {
		err := inventory.Admit(program, act)
		if want == "" {
			assert.NoError(t, err, act)
			continue
		}
		assert.Equal(t, want, inventory.KindOf(err), act)
	}
	assert.Equal(t, inventory.SignedOut, inventory.KindOf(inventory.Admit(inventory.Actor{}, inventory.ActSee)))
}

func TestActorAt(t *testing.T) {
	for _, c := range []struct {
		actor   inventory.Actor
		station string
		want    bool
	}{
		{inventory.Actor{Role: inventory.Crew, Stations: []string{"N", "S"}}, "S", true},
		{inventory.Actor{Role: inventory.Crew, Stations: []string{"N", "S"}}, "E", false},
		{inventory.Actor{Role: inventory.Crew}, "N", false}, // crew always belong to named stations
		{inventory.Actor{Role: inventory.Quartermaster}, "N", true},
		{inventory.Actor{Role: inventory.Quartermaster, Stations: []string{"N"}}, "S", false},
		{inventory.Actor{Role: inventory.Manager}, "N", true},
		{inventory.Actor{Role: inventory.Administrator}, "N", true},
		{inventory.Actor{}, "N", false},
	} {
		assert.Equal(t, c.want, c.actor.At(c.station), "%+v at %s", c.actor, c.station)
	}
}

// TestRecordKeysAreOnesOwn: a program cannot name itself so that its key is another's.
func TestRecordKeysAreOnesOwn(t *testing.T) {
	seen := map[string]string{}
	for _, name := range []string{"a", "a/b", "a%2Fb", "a%", "a%25"} {
		for _, key := range []string{"c", "b/c", "/c", "2Fb/c"} {
			for _, program := range []bool{true, false} {
				a := inventory.Actor{Name: name, Program: program}
				k, who := a.RecordKey(key), fmt.Sprint(a.Principal(), " and ", key)
				assert.NotContains(t, seen, k, "%s: as %s", who, seen[k])
				seen[k] = who
				_, rest, _ := strings.Cut(k, ":")
				written, left, _ := strings.Cut(rest, "/")
				assert.Equal(t, []string{name, key}, []string{inventory.NameInKey(written), left})
			}
		}
	}
	assert.Empty(t, inventory.Actor{Name: "a"}.RecordKey(""))
}
