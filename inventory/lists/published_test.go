package lists_test

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
	"stowkeeper/testdata"
)

// TestPublishedSources: each list that the program carries names its standard,
// the edition, the table and where it was read, or says that it is from memory;
// a note is for who uses the list, and none tells how we came by it.
func TestPublishedSources(t *testing.T) {
	t.Parallel()
	all, err := lists.ParsePublished(testdata.KitStandards)
	require.NoError(t, err)
	require.NotEmpty(t, all)
	ours := regexp.MustCompile(`(?i)memory|reason:|some lists|edition|new in|stated no|states no`)
	for _, l := range all {
		for name, s := range map[string]string{"standard": l.Standard, "edition": l.Edition, "title": l.Title, "kit": l.Kit,
			"source": l.Source, "read": l.Read} {
			assert.NotEmpty(t, s, "%s: %s", l.Standard, name)
			assert.False(t, name != "read" && ours.MatchString(s), "%s: %s: %s", l.Standard, name, s)
		}
		assert.Equal(t, strings.HasPrefix(l.Read, "from memory"), strings.Contains(l.Validity, "from memory"), l.Standard)
		for _, it := range l.Items {
			assert.False(t, ours.MatchString(it.Name+it.Note), "%s: %s (%s)", l.Standard, it.Name, it.Note)
		}
	}
	_, err = lists.ParsePublished([]byte(`[{"standard":"Invented 1","items":[{"name":"Eyewash","min_qty":0}]}]`))
	assert.ErrorContains(t, err, "Invented 1, Eyewash", "a list that needs none of an item does not name it")
}

// TestCopyPublished: a copy takes the items that there are by name and unit and
// makes the others; what has no number asks for presence only.
func TestCopyPublished(t *testing.T) {
	t.Parallel()
	published, err := lists.ParsePublished([]byte(`[{"standard":"Invented 1, 2026 §2","title":"Small kit","kit":"A",
"source":"table 1","items":[{"name":"marker","min_qty":2,"unit":"EACH"},
{"name":"Whistle, loud","min_qty":null,"unit":"each"},{"name":"Whistle; loud","min_qty":1,"unit":"pair"}]}]`))
	require.NoError(t, err)
	store := storetest.OpenSQLite(t)
	h := fixture.New(t, store)
	svc := lists.New(store, func() inventory.Instant { return h.Now }, published)
	all, err := svc.PublishedLists(fixture.Crew)
	require.NoError(t, err)
	require.Len(t, all, 1)
	assert.Equal(t, "invented-1-2026-2", all[0].ID)
	one, err := svc.PublishedList(fixture.Crew, all[0].ID)
	require.NoError(t, err)
	assert.Equal(t, all[0], one)

	k, err := svc.CopyPublished(h.Ctx, fixture.Keeper, one.ID, lists.PublishedCopy{Code: " small "})
	require.NoError(t, err)
	assert.Equal(t, []any{"SMALL", "Small kit", "Invented 1, 2026 §2", "table 1", 1}, []any{k.Code, k.Name, k.Edition,
		k.Source, k.Version})
	assert.Equal(t, []inventory.Line{{Item: "PEN", Par: 2, Minimum: 2}, {Item: "WHISTLE-LOUD", PresenceOnly: true},
		{Item: "WHISTLE-LOUD-2", Par: 1, Minimum: 1}}, k.Lines)
	made, err := svc.Item(h.Ctx, fixture.Crew, "WHISTLE-LOUD-2")
	require.NoError(t, err)
	assert.Equal(t, []any{"Whistle; loud", inventory.CategoryOther, "pair"}, []any{made.Name, made.Category, made.Unit})

	var nobody inventory.Actor
	_, err = svc.PublishedLists(nobody)
	inventorytest.RequireKind(t, inventory.SignedOut, err)
	_, err = svc.PublishedList(fixture.Crew, "other")
	inventorytest.RequireKind(t, inventory.NotFound, err)
	for _, c := range []struct {
		by       inventory.Actor
		id, code string
		kind     inventory.ErrorKind
	}{
		{fixture.Keeper, one.ID, "SMALL", inventory.Conflict}, {fixture.Crew, one.ID, "MINE", inventory.Forbidden},
		{fixture.Keeper, "other", "MINE", inventory.NotFound}, {fixture.Keeper, one.ID, "", inventory.Invalid},
	} {
		_, err := svc.CopyPublished(h.Ctx, c.by, c.id, lists.PublishedCopy{Code: c.code})
		inventorytest.RequireKind(t, c.kind, err)
	}
}

// FuzzPublished: whatever a file of published lists holds, it is read whole or refused.
func FuzzPublished(f *testing.F) {
	f.Add(testdata.KitStandards)
	f.Add([]byte(`[{"standard":"X 1","items":[{"min_qty":0}]}]`))
	f.Add([]byte(`[{}]`)) // had no address
	f.Fuzz(func(t *testing.T, data []byte) {
		all, err := lists.ParsePublished(data)
		if err != nil {
			assert.Empty(t, all)
		}
		for _, l := range all {
			assert.NotEmpty(t, l.ID)
		}
	})
}
