package account_test

import (
	"testing"
	"time"

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

	_, err = h.S.Account.TokenNamed(h.Ctx, fixture.Manager, "scales")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = h.S.Account.TokenNamed(h.Ctx, fixture.Admin, "scale")
	inventorytest.RequireKind(t, inventory.NotFound, err)
	named, err := h.S.Account.TokenNamed(h.Ctx, fixture.Admin, " BOARD ")
	require.NoError(t, err)
	assert.Equal(t, all[1], named)

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

// TestATokenHandsOnNoMore: an administrator's token that is kept to a station, to some actions and to a day makes
// tokens that are kept so too, whatever it asks for, and lets nobody else in.
func TestATokenHandsOnNoMore(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	s := h.S.Account
	ends := h.Now.Add(time.Hour)
	text, err := s.CreateToken(h.Ctx, fixture.Admin, inventory.Token{Name: "narrow", Role: inventory.Administrator,
		Stations: []string{"NORTH"}, Scope: []inventory.Action{inventory.ActKeepPeople, inventory.ActSee}, EndsAt: ends})
	require.NoError(t, err)
	narrow, err := s.TokenActor(h.Ctx, text)
	require.NoError(t, err)

	text, err = s.CreateToken(h.Ctx, narrow, inventory.Token{Name: "heir", Role: inventory.Administrator})
	require.NoError(t, err)
	heir, err := s.TokenActor(h.Ctx, text)
	require.NoError(t, err)
	assert.Equal(t, []string{"NORTH"}, heir.Stations)
	assert.ElementsMatch(t, narrow.Scope, heir.Scope)
	assert.Equal(t, ends, heir.EndsAt)

	for name, in := range map[string]inventory.Token{
		"elsewhere": {Role: inventory.Administrator, Stations: []string{"SOUTH"}},
		"more":      {Role: inventory.Administrator, Scope: []inventory.Action{inventory.ActKeepStock}},
		"longer":    {Role: inventory.Administrator, EndsAt: ends.Add(time.Second)},
	} {
		in.Name = name
		_, err = s.CreateToken(h.Ctx, narrow, in)
		inventorytest.RequireKind(t, inventory.Forbidden, err)
	}
	_, err = s.CreatePerson(h.Ctx, narrow, inventory.Person{Name: "Eve", Role: inventory.Crew,
		Stations: []string{"NORTH"}}, "4826", fixture.Reversed{})
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	_, err = s.CreatePerson(h.Ctx, fixture.Admin, inventory.Person{Name: "Cleo", Role: inventory.Crew,
		Stations: []string{"NORTH"}}, "4826", fixture.Reversed{})
	require.NoError(t, err)
	_, err = s.AddTerminal(h.Ctx, narrow, "a browser", "NORTH")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	inventorytest.RequireKind(t, inventory.Forbidden, s.SetSecret(h.Ctx, narrow, "Cleo", "4826", fixture.Reversed{}))
}
