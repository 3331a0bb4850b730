package lists_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/lists"
	"stowkeeper/inventory/store/storetest"
)

// TestCopyPublished: a copy takes the items that there are by name and unit and
// makes the others; what has no number asks for presence only.
func TestCopyPublished(t *testing.T) {
	t.Parallel()
	published, err := lists.ParsePublished([]byte(`[{"standard":"Invented 1, 2026 §2","title":"Small kit","kit":"A",
"source":"nowhere","items":[{"name":"marker","min_qty":2,"unit":"EACH"},
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
	assert.Equal(t, []any{"SMALL", "Small kit", "Invented 1, 2026 §2", "nowhere", 1}, []any{k.Code, k.Name, k.Edition,
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
