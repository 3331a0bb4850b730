package services_test

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/register"
	"stowkeeper/inventory/store/storetest"
)

func page(h *fixture.House, place string) register.RegisterPage {
	p, err := h.S.Register.Register(h.Ctx, fixture.Admin, "AMP", place, register.Period{})
	require.NoError(h.T, err)
	return p
}

// TestAppendIsCalledInOnePlace: signatures are judged where movements are made
// ready for the ledger, so nothing else may write to it.
func TestAppendIsCalledInOnePlace(t *testing.T) {
	var callers []string
	require.NoError(t, filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && d.Name() == "store":
			return filepath.SkipDir
		case filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go"):
			return nil
		}
		text, err := os.ReadFile(path)
		if err == nil && strings.Contains(string(text), ".AppendMovements(") {
			callers = append(callers, strings.TrimPrefix(filepath.ToSlash(path), "../"))
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
	h := fixture.NewDispensary(t, storetest.OpenSQLite(t))
	_, err := h.S.Lists.CreatePlace(h.Ctx, fixture.Admin, inventory.Place{Code: "N-CLEO", Station: "NORTH",
		Kind: inventory.KindCarrier, Purpose: inventory.ForIssue, Name: "Cleo's pouch", Holder: "Cleo"})
	require.NoError(t, err)
	lot := h.ReceiveAmps(20)
	h.Amps(lot.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.Amps(lot.ID, 2, "NORTH-STORE", "N-REPAIR", inventory.ReasonAway)
	h.Amps(lot.ID, 2, "NORTH-STORE", "N-CLEO", inventory.ReasonStow)
	program := fixture.PDA
	program.Stations = fixture.Keeper.Stations
	for _, c := range controlledWrites {
		old := h.Signed(c.by, witnessOf(c.by))
		h.Pass(2 * time.Minute)
		alone, err := h.S.Account.Sign(h.Ctx, c.by, fixture.Signing(c.by.Name, ""), fixture.Reversed{})
		require.NoError(t, err)
		oneNamed, err := h.S.Account.Sign(h.Ctx, program, fixture.Signing("Quinn", ""), fixture.Reversed{})
		require.NoError(t, err)
		for how, by := range map[string]inventory.Actor{"no PIN": c.by, "one's own PIN alone": alone,
			"proofs from before": old, "a program": program, "a program with one person": oneNamed} {
			before := books(h)
			err := undone(h, c, by, lot)
			if c.kept || c.owed && how != "a program" {
				assert.NoError(t, err, "%s with %s", c.name, how)
			} else if c.owed && how == "a program" {
				assert.True(t, err == nil || inventory.KindOf(err) == inventory.Invalid ||
					inventory.KindOf(err) == inventory.Forbidden, "%s: %v", c.name, err)
			} else if assert.Error(t, err, "%s with %s", c.name, how) {
				assert.Equal(t, inventory.Invalid, inventory.KindOf(err), "%s with %s: %v", c.name, how, err)
				assert.Contains(t, err.Error(), "witness", "%s with %s", c.name, how)
			}
			assert.Equal(t, before, books(h), "%s with %s was undone by the test", c.name, how)
		}
		assert.NoError(t, undone(h, c, h.Signed(c.by, witnessOf(c.by)), lot), c.name+" with two")
		if c.by.Name == "Quinn" {
			assert.NoError(t, undone(h, c, h.Signed(program, "Wil"), lot), c.name+" by a program that names two")
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
func undone(h *fixture.House, c controlledWrite, by inventory.Actor, lot inventory.Lot) error {
	take := fmt.Errorf("taken back")
	var failed error
	ctx := h.Ctx
	err := h.S.Ledger.Together(ctx, func(ctx context.Context) error {
		h.Ctx = ctx
		checks := len(page(h, "N-01").Entries)
		if failed = c.do(h, by, lot); failed == nil && c.name == "balance check" {
			require.Len(h.T, page(h, "N-01").Entries, checks+1)
		}
		judgeSignatures(h, c.owed)
		return take
	})
	h.Ctx = ctx
	require.ErrorIs(h.T, err, take)
	return failed
}

// judgeSignatures looks at every movement there is.
func judgeSignatures(h *fixture.House, owedAllowed bool) {
	ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Admin, inventory.MovementFilter{Item: "AMP"}, inventory.Page{})
	require.NoError(h.T, err)
	rows, err := h.S.Register.OwedRows(h.Ctx, fixture.Admin, nil)
	require.NoError(h.T, err)
	owed := map[int64]bool{}
	for _, r := range rows {
		owed[r.Entry] = true
	}
	for _, m := range ms {
		require.NotEqual(h.T, m.By, m.Witness, "%+v", m)
		require.NotEqual(h.T, "pager", m.By, "a program is not one of the two: %+v", m)
		require.NotEqual(h.T, "pager", m.Witness)
		if m.Witness == "" {
			require.True(h.T, owedAllowed && owed[m.ID] && m.Reason == inventory.ReasonUsed, "one signature and none owed: %+v",
				m)
		}
	}
}

// books is what must not have changed.
func books(h *fixture.House) string {
	ms, err := h.S.Ledger.Movements(h.Ctx, fixture.Admin, inventory.MovementFilter{}, inventory.Page{})
	require.NoError(h.T, err)
	return fmt.Sprint(len(ms), page(h, "N-01"), page(h, "NORTH-STORE"))
}
