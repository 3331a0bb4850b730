package account_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

// TestTokensEndOnce: tokens are listed by id, one that is revoked among them, which
// lets its program in no longer and is revoked once.
func TestTokensEndOnce(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	texts := map[string]string{}
	for _, name := range []string{"scales", "board"} {
		text, err := h.S.Account.CreateToken(h.Ctx, fixture.Admin, inventory.Token{Name: name, Role: inventory.Manager})
		require.NoError(t, err)
		texts[name] = text
	}
	_, err := h.S.Account.Tokens(h.Ctx, fixture.Manager)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	all, err := h.S.Account.Tokens(h.Ctx, fixture.Admin)
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Equal(t, []string{"scales", "board"}, []string{all[0].Name, all[1].Name})

	_, err = h.S.Account.RevokeToken(h.Ctx, fixture.Keeper, all[0].ID)
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = h.S.Account.RevokeToken(h.Ctx, fixture.Admin, 99)
	inventorytest.RequireKind(t, inventory.NotFound, err)
	gone, err := h.S.Account.RevokeToken(h.Ctx, fixture.Admin, all[0].ID)
	require.NoError(t, err)
	assert.Equal(t, h.Now, gone.RevokedAt)
	_, err = h.S.Account.RevokeToken(h.Ctx, fixture.Admin, all[0].ID)
	inventorytest.RequireKind(t, inventory.Conflict, err)
	_, err = h.S.Account.TokenActor(h.Ctx, texts["scales"])
	inventorytest.RequireKind(t, inventory.SignedOut, err)
	board, err := h.S.Account.TokenActor(h.Ctx, texts["board"])
	require.NoError(t, err)
	assert.Equal(t, "board", board.Name)
}

// TestAboutPerson: what the history tells of a person says who wrote it, from
// where and when.
func TestAboutPerson(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	by := fixture.Admin
	by.From = "desk"
	assert.Equal(t, inventory.HistoryEntry{RecordedAt: h.Now, By: "Ada", From: "desk", Kind: inventory.HistorySecretSet,
		Person: "Cleo", Detail: "x"}, h.S.Account.AboutPerson(by, inventory.HistorySecretSet, inventory.Person{Name: "Cleo"},
		"x"))
}
