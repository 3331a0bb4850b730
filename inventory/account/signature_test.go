package account_test

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

// TestSign: two different people, each by their own PIN at that moment; wrong
// PINs count as wrong tries to sign in.
func TestSign(t *testing.T) {
	t.Parallel()
	h := fixture.NewDispensary(t, storetest.OpenSQLite(t))
	sign := func(by inventory.Actor, in account.Signing) error {
		_, err := h.S.Account.Sign(h.Ctx, by, in, fixture.Reversed{})
		return err
	}
	wrong := fixture.Signing("Cleo", "Wil")
	wrong.Witness.PIN = "4821" // Cleo's own
	stranger := fixture.Signing("Cleo", "Wil")
	stranger.Witness.Person = "Nobody"
	unproven := fixture.Signing("Cleo", "Wil")
	unproven.Witness.PIN = ""
	for _, c := range []struct {
		by    inventory.Actor
		in    account.Signing
		paths []string
	}{
		{fixture.Crew, fixture.Signing("Cleo", "Cleo"), []string{"witness.person"}},
		{fixture.Crew, account.Signing{Signature: &account.Signature{PIN: "4821"},
			Witness: &account.Signature{Person: " cLEO ",
				PIN: "4821"}}, []string{"witness.person"}},
		{fixture.Crew, fixture.Signing("", "Wil"), []string{"signature.pin"}},
		{fixture.Crew, fixture.Signing("Wil", "Cleo"), []string{"signature.person"}}, // a session signs for nobody else
		{fixture.Crew, unproven, []string{"witness.pin"}},
		{fixture.Crew, wrong, []string{"witness.pin"}},
		{fixture.Crew, stranger, []string{"witness.pin"}},
		{fixture.PDA, account.Signing{Signature: &account.Signature{PIN: "4821"}, Witness: &account.Signature{Person: "Wil",
			PIN: "7093"}}, []string{"signature.person"}},
		{fixture.PDA, fixture.Signing("Quinn", "Quinn"), []string{"witness.person"}},
		{fixture.PDA, account.Signing{Signature: &account.Signature{Person: "pager", PIN: "4821"},
			Witness: &account.Signature{Person: "Wil", PIN: "7093"}}, []string{"signature.pin"}},
	} {
		err := sign(c.by, c.in)
		inventorytest.RequireFields(t, err, c.paths...)
		for _, pin := range fixture.Pins {
			assert.NotContains(t, err.Error(), string(pin))
		}
	}
	require.NoError(t, sign(fixture.Crew, fixture.Signing("Cleo", "Wil")), "Wil's one wrong try is forgotten")
	entries, _, err := h.S.History.History(h.Ctx, fixture.Admin, inventory.HistoryFilter{Person: "Wil"}, inventory.Page{})
	require.NoError(t, err)
	require.Equal(t, inventory.HistorySignRefused, entries[0].Kind)
	require.Equal(t, "Cleo", entries[0].By)
	require.NoError(t, h.S.Account.DisablePerson(h.Ctx, fixture.Admin, "Sol"))
	inventorytest.RequireFields(t, sign(fixture.Crew, fixture.Signing("Cleo", "Sol")), "witness.pin")

	for range account.FreeAttempts {
		inventorytest.RequireFields(t, sign(fixture.Crew, wrong), "witness.pin")
	}
	inventorytest.RequireKind(t, inventory.TooMany, sign(fixture.Crew, fixture.Signing("Cleo", "Wil")))
	_, err = h.SignIn("Wil", "7093")
	require.NoError(t, err, "whoever tries to sign with another's PIN keeps nobody from their station")
	h.Pass(account.LockStep + time.Second)
	require.NoError(t, sign(fixture.Crew, fixture.Signing("Cleo", "Wil")))
}

// TestPINsAreWrittenNowhere: no JSON, log or printed value holds one.
func TestPINsAreWrittenNowhere(t *testing.T) {
	in := fixture.Signing("Cleo", "Wil")
	b, err := json.Marshal(in)
	require.NoError(t, err)
	var log strings.Builder
	slog.New(slog.NewJSONHandler(&log, nil)).Info("write", "signing", in, "pin", in.Witness.PIN)
	slog.New(slog.NewTextHandler(&log, nil)).Info("write", "signing", *in.Witness, "pin", in.Witness.PIN)
	all := string(b) + log.String() + fmt.Sprintf("%v %+v %#v %s", *in.Witness, in.Witness, *in.Witness, in.Witness.PIN)
	assert.Contains(t, all, "Wil", "it was written")
	assert.NotContains(t, all, "7093")
	assert.NotContains(t, all, "4821")
}
