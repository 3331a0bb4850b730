package inventory_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/store/storetest"
)

var ampoule = inventory.Item{Code: "AMP", Name: "Controlled ampoule", Category: inventory.CategoryPainRelief,
	Unit: "ampoule", TrackedBy: inventory.ByLot, Dated: true,
	Controlled: true, Strength: "10 mg in 1 ml", Form: "ampoule", Life: inventory.Life{OpenedDays: 1}}

var (
	wil = inventory.Actor{Name: "Wil", Role: inventory.Crew, Stations: []string{"NORTH"}}
	pda = inventory.Actor{Name: "pager", Role: inventory.Quartermaster, Stations: []string{"NORTH"}, Program: true}
)

var pins = map[string]account.PIN{"Cleo": "4821", "Wil": "7093", "Sol": "5164", "Quinn": "nine doors by the sea",
	"Ada": "seven lamps at dusk"}

// newDispensary is a house that keeps a controlled item, and whose people have
// PINs.
func newDispensary(t require.TestingT, s inventory.Store) *house {
	h := newHouse(t, s)
	for _, p := range []inventory.Actor{crew, wil, keeper, admin, {Name: "Sol", Role: inventory.Crew,
		Stations: []string{"SOUTH"}}} {
		h.person(p.Name, p.Role, string(pins[p.Name]), p.Stations...)
	}
	_, err := h.s.Lists.CreateItem(h.ctx, admin, ampoule)
	require.NoError(t, err)
	return h
}

// signing is what by and a witness type; an empty name leaves one out.
func signing(by, witness string) account.Signing {
	var in account.Signing
	if by != "" {
		in.Signature = &account.Signature{Person: by, PIN: pins[by]}
	}
	if witness != "" {
		in.Witness = &account.Signature{Person: witness, PIN: pins[witness]}
	}
	return in
}

// signed is an actor who signed for one write together with a witness.
func (h *house) signed(by inventory.Actor, witness string) inventory.Actor {
	first := by.Name
	if by.Program {
		first = "Quinn"
	}
	out, err := h.s.Account.Sign(h.ctx, by, signing(first, witness), reversed{})
	require.NoError(h.t, err)
	return out
}

func (h *house) receiveAmps(qty int) inventory.Lot {
	lot, err := h.s.Ledger.Receive(h.ctx, h.signed(keeper, "Cleo"), inventory.Receipt{Place: "NORTH-STORE", Item: "AMP",
		BatchNo: "A1", EndPrinted: "2029-01", EndWording: "expiry", Qty: qty})
	require.NoError(h.t, err)
	return lot
}

// amps moves ampoules with two signatures.
func (h *house) amps(lot int64, qty int, from, to string, reason inventory.Reason) inventory.Movement {
	ms, err := h.s.Ledger.Move(h.ctx, h.signed(keeper, "Wil"), []inventory.Movement{{LotID: lot, Qty: qty, From: from,
		To: to, Reason: reason, Cause: causeFor(reason)}})
	require.NoError(h.t, err)
	return ms[0]
}

func (h *house) page(place string) inventory.RegisterPage {
	p, err := h.s.Register.Register(h.ctx, admin, "AMP", place)
	require.NoError(h.t, err)
	return p
}

// TestSign: two different people, each by their own PIN at that moment; wrong
// PINs count as wrong tries to sign in.
func TestSign(t *testing.T) {
	t.Parallel()
	h := newDispensary(t, storetest.OpenSQLite(t))
	sign := func(by inventory.Actor, in account.Signing) error {
		_, err := h.s.Account.Sign(h.ctx, by, in, reversed{})
		return err
	}
	wrong := signing("Cleo", "Wil")
	wrong.Witness.PIN = "4821" // Cleo's own
	stranger := signing("Cleo", "Wil")
	stranger.Witness.Person = "Nobody"
	unproven := signing("Cleo", "Wil")
	unproven.Witness.PIN = ""
	for _, c := range []struct {
		by    inventory.Actor
		in    account.Signing
		paths []string
	}{
		{crew, signing("Cleo", "Cleo"), []string{"witness.person"}},
		{crew, account.Signing{Signature: &account.Signature{PIN: "4821"}, Witness: &account.Signature{Person: " cLEO ",
			PIN: "4821"}}, []string{"witness.person"}},
		{crew, signing("", "Wil"), []string{"signature.pin"}},
		{crew, signing("Wil", "Cleo"), []string{"signature.person"}}, // a session signs for nobody else
		{crew, unproven, []string{"witness.pin"}},
		{crew, wrong, []string{"witness.pin"}},
		{crew, stranger, []string{"witness.pin"}},
		{pda, account.Signing{Signature: &account.Signature{PIN: "4821"}, Witness: &account.Signature{Person: "Wil",
			PIN: "7093"}}, []string{"signature.person"}},
		{pda, signing("Quinn", "Quinn"), []string{"witness.person"}},
		{pda, account.Signing{Signature: &account.Signature{Person: "pager", PIN: "4821"},
			Witness: &account.Signature{Person: "Wil", PIN: "7093"}}, []string{"signature.pin"}},
	} {
		err := sign(c.by, c.in)
		requireFields(t, err, c.paths...)
		for _, pin := range pins {
			assert.NotContains(t, err.Error(), string(pin))
		}
	}
	require.NoError(t, sign(crew, signing("Cleo", "Wil")), "Wil's one wrong try is forgotten")
	entries, _, err := h.s.History.History(h.ctx, admin, inventory.HistoryFilter{Person: "Wil"}, inventory.Page{})
	require.NoError(t, err)
	require.Equal(t, inventory.HistorySignRefused, entries[0].Kind)
	require.Equal(t, "Cleo", entries[0].By)
	require.NoError(t, h.s.Account.DisablePerson(h.ctx, admin, "Sol"))
	requireFields(t, sign(crew, signing("Cleo", "Sol")), "witness.pin")

	for range account.FreeAttempts {
		requireFields(t, sign(crew, wrong), "witness.pin")
	}
	requireKind(t, inventory.TooMany, sign(crew, signing("Cleo", "Wil")))
	_, err = h.signIn("Wil", "7093")
	require.NoError(t, err, "whoever tries to sign with another's PIN keeps nobody from their station")
	h.pass(account.LockStep + time.Second)
	require.NoError(t, sign(crew, signing("Cleo", "Wil")))
}

// TestPINsAreWrittenNowhere: no JSON, log or printed value holds one.
func TestPINsAreWrittenNowhere(t *testing.T) {
	in := signing("Cleo", "Wil")
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

// TestAppendIsCalledInOnePlace: signatures are judged where movements are made
// ready for the ledger, so nothing else may write to it.
func TestAppendIsCalledInOnePlace(t *testing.T) {
	var callers []string
	require.NoError(t, filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && path == "store":
			return filepath.SkipDir
		case filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go"):
			return nil
		}
		text, err := os.ReadFile(path)
		if err == nil && strings.Contains(string(text), ".AppendMovements(") {
			callers = append(callers, filepath.ToSlash(path))
		}
		return err
	}))
	assert.Equal(t, []string{"history/writer.go", "ledger/signature.go"}, callers,
		"the history's writer hands on what it wraps")
}

// TestNothingControlledMovesOnOneSignature walks every way in which units move
// × every way of not having two signatures: a person or a program with none, a
// person with their own PIN alone, a program with one person, and two proofs
// kept from before. Then with both, which goes through. Over all of it, no
// movement has one person twice, or one alone that does not owe a signature.
func TestNothingControlledMovesOnOneSignature(t *testing.T) {
	t.Parallel()
	h := newDispensary(t, storetest.OpenSQLite(t))
	_, err := h.s.Lists.CreatePlace(h.ctx, admin, inventory.Place{Code: "N-CLEO", Station: "NORTH",
		Kind: inventory.KindCarrier, Purpose: inventory.ForIssue, Name: "Cleo's pouch", Holder: "Cleo"})
	require.NoError(t, err)
	lot := h.receiveAmps(20)
	h.amps(lot.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.amps(lot.ID, 2, "NORTH-STORE", "N-REPAIR", inventory.ReasonAway)
	h.amps(lot.ID, 2, "NORTH-STORE", "N-CLEO", inventory.ReasonStow)
	program := pda
	program.Stations = keeper.Stations
	for _, c := range controlledWrites {
		old := h.signed(c.by, witnessOf(c.by))
		h.pass(2 * time.Minute)
		alone, err := h.s.Account.Sign(h.ctx, c.by, signing(c.by.Name, ""), reversed{})
		require.NoError(t, err)
		oneNamed, err := h.s.Account.Sign(h.ctx, program, signing("Quinn", ""), reversed{})
		require.NoError(t, err)
		for how, by := range map[string]inventory.Actor{"no PIN": c.by, "one's own PIN alone": alone,
			"proofs from before": old, "a program": program, "a program with one person": oneNamed} {
			before := h.books()
			err := h.undone(c, by, lot)
			if c.kept || c.owed && how != "a program" {
				assert.NoError(t, err, "%s with %s", c.name, how)
			} else if c.owed && how == "a program" {
				assert.True(t, err == nil || inventory.KindOf(err) == inventory.Invalid ||
					inventory.KindOf(err) == inventory.Forbidden, "%s: %v", c.name, err)
			} else if assert.Error(t, err, "%s with %s", c.name, how) {
				assert.Equal(t, inventory.Invalid, inventory.KindOf(err), "%s with %s: %v", c.name, how, err)
				assert.Contains(t, err.Error(), "witness", "%s with %s", c.name, how)
			}
			assert.Equal(t, before, h.books(), "%s with %s was undone by the test", c.name, how)
		}
		assert.NoError(t, h.undone(c, h.signed(c.by, witnessOf(c.by)), lot), c.name+" with two")
		if c.by.Name == "Quinn" {
			assert.NoError(t, h.undone(c, h.signed(program, "Wil"), lot), c.name+" by a program that names two")
		}
	}
}

func witnessOf(by inventory.Actor) string {
	if by.Name == "Wil" {
		return "Cleo"
	}
	return "Wil"
}

// undone does a write, judges what it left, and takes all of it back.
func (h *house) undone(c controlledWrite, by inventory.Actor, lot inventory.Lot) error {
	take := fmt.Errorf("taken back")
	var failed error
	ctx := h.ctx
	err := h.s.Ledger.Together(ctx, func(ctx context.Context) error {
		h.ctx = ctx
		checks := len(h.page("N-01").Entries)
		if failed = c.do(h, by, lot); failed == nil && c.name == "balance check" {
			require.Len(h.t, h.page("N-01").Entries, checks+1)
		}
		h.judgeSignatures(c.owed)
		return take
	})
	h.ctx = ctx
	require.ErrorIs(h.t, err, take)
	return failed
}

// judgeSignatures looks at every movement there is.
func (h *house) judgeSignatures(owedAllowed bool) {
	ms, err := h.s.Ledger.Movements(h.ctx, admin, inventory.MovementFilter{Item: "AMP"}, inventory.Page{})
	require.NoError(h.t, err)
	rows, err := h.s.Register.OwedRows(h.ctx, admin, nil)
	require.NoError(h.t, err)
	owed := map[int64]bool{}
	for _, r := range rows {
		owed[r.Entry] = true
	}
	for _, m := range ms {
		require.NotEqual(h.t, m.By, m.Witness, "%+v", m)
		require.NotEqual(h.t, "pager", m.By, "a program is not one of the two: %+v", m)
		require.NotEqual(h.t, "pager", m.Witness)
		if m.Witness == "" {
			require.True(h.t, owedAllowed && owed[m.ID] && m.Reason == inventory.ReasonUsed, "one signature and none owed: %+v",
				m)
		}
	}
}

// books is what must not have changed.
func (h *house) books() string {
	ms, err := h.s.Ledger.Movements(h.ctx, admin, inventory.MovementFilter{}, inventory.Page{})
	require.NoError(h.t, err)
	return fmt.Sprint(len(ms), h.page("N-01"), h.page("NORTH-STORE"))
}
