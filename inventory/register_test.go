package inventory_test

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store/storetest"
)

var ampoule = inventory.Item{Code: "AMP", Name: "Controlled ampoule", Category: inventory.CategoryPainRelief, Unit: "ampoule", TrackedBy: inventory.ByLot, Dated: true,
	Witnessed: true, Strength: "10 mg in 1 ml", Form: "ampoule", Life: inventory.Life{OpenedDays: 1}}

var (
	wil = inventory.Actor{Name: "Wil", Role: inventory.Crew, Sites: []string{"NORTH"}}
	pda = inventory.Actor{Name: "pager", Role: inventory.Quartermaster, Sites: []string{"NORTH"}, Program: true}
)

var pins = map[string]inventory.PIN{"Cleo": "4821", "Wil": "7093", "Sol": "5164", "Quinn": "nine doors by the sea", "Ada": "seven lamps at dusk"}

// newDispensary is a house that keeps a controlled item, and whose people have
// PINs.
func newDispensary(t require.TestingT, s inventory.Store) *house {
	h := newHouse(t, s)
	for _, p := range []inventory.Actor{crew, wil, keeper, admin, {Name: "Sol", Role: inventory.Crew, Sites: []string{"SOUTH"}}} {
		h.person(p.Name, p.Role, string(pins[p.Name]), p.Sites...)
	}
	_, err := h.s.CreateItem(h.ctx, admin, ampoule)
	require.NoError(t, err)
	return h
}

// signing is what by and a witness type; an empty name leaves one out.
func signing(by, witness string) inventory.Signing {
	var in inventory.Signing
	if by != "" {
		in.Signature = &inventory.Signature{Person: by, PIN: pins[by]}
	}
	if witness != "" {
		in.Witness = &inventory.Signature{Person: witness, PIN: pins[witness]}
	}
	return in
}

// signed is an actor who signed for one write together with a witness.
func (h *house) signed(by inventory.Actor, witness string) inventory.Actor {
	first := by.Name
	if by.Program {
		first = "Quinn"
	}
	out, err := h.s.Sign(h.ctx, by, signing(first, witness), reversed{})
	require.NoError(h.t, err)
	return out
}

func (h *house) receiveAmps(qty int) inventory.Lot {
	lot, err := h.s.Receive(h.ctx, h.signed(keeper, "Cleo"), inventory.Receipt{Place: "NORTH-STORE", Item: "AMP", LotNo: "A1", EndPrinted: "2029-01", EndWording: "expiry", Qty: qty})
	require.NoError(h.t, err)
	return lot
}

// amps moves ampoules with two signatures.
func (h *house) amps(lot int64, qty int, from, to string, reason inventory.Reason) inventory.Movement {
	ms, err := h.s.Move(h.ctx, h.signed(keeper, "Wil"), []inventory.Movement{{LotID: lot, Qty: qty, From: from, To: to, Reason: reason, Cause: causeFor(reason)}})
	require.NoError(h.t, err)
	return ms[0]
}

func (h *house) page(place string) inventory.RegisterPage {
	p, err := h.s.Register(h.ctx, admin, "AMP", place)
	require.NoError(h.t, err)
	return p
}

// TestSign: two different people, each by their own PIN at that moment; wrong
// PINs count as wrong tries to sign in.
func TestSign(t *testing.T) {
	t.Parallel()
	h := newDispensary(t, storetest.OpenSQLite(t))
	sign := func(by inventory.Actor, in inventory.Signing) error {
		_, err := h.s.Sign(h.ctx, by, in, reversed{})
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
		in    inventory.Signing
		paths []string
	}{
		{crew, signing("Cleo", "Cleo"), []string{"witness.person"}},
		{crew, inventory.Signing{Signature: &inventory.Signature{PIN: "4821"}, Witness: &inventory.Signature{Person: " cLEO ", PIN: "4821"}}, []string{"witness.person"}},
		{crew, signing("", "Wil"), []string{"signature.pin"}},
		{crew, signing("Wil", "Cleo"), []string{"signature.person"}}, // a session signs for nobody else
		{crew, unproven, []string{"witness.pin"}},
		{crew, wrong, []string{"witness.pin"}},
		{crew, stranger, []string{"witness.pin"}},
		{pda, inventory.Signing{Signature: &inventory.Signature{PIN: "4821"}, Witness: &inventory.Signature{Person: "Wil", PIN: "7093"}}, []string{"signature.person"}},
		{pda, signing("Quinn", "Quinn"), []string{"witness.person"}},
		{pda, inventory.Signing{Signature: &inventory.Signature{Person: "pager", PIN: "4821"}, Witness: &inventory.Signature{Person: "Wil", PIN: "7093"}}, []string{"signature.pin"}},
	} {
		err := sign(c.by, c.in)
		requireFields(t, err, c.paths...)
		for _, pin := range pins {
			assert.NotContains(t, err.Error(), string(pin))
		}
	}
	require.NoError(t, sign(crew, signing("Cleo", "Wil")), "Wil's one wrong try is forgotten")
	deeds, _, err := h.s.History(h.ctx, admin, inventory.DeedFilter{Person: "Wil"}, inventory.Page{})
	require.NoError(t, err)
	require.Equal(t, inventory.DeedSignRefused, deeds[0].Kind)
	require.Equal(t, "Cleo", deeds[0].By)
	require.NoError(t, h.s.DisablePerson(h.ctx, admin, "Sol"))
	requireFields(t, sign(crew, signing("Cleo", "Sol")), "witness.pin")

	for range inventory.FreeTries {
		requireFields(t, sign(crew, wrong), "witness.pin")
	}
	requireKind(t, inventory.TooMany, sign(crew, signing("Cleo", "Wil")))
	_, err = h.signIn("Wil", "7093")
	require.NoError(t, err, "whoever tries to sign with another's PIN keeps nobody from their station")
	h.pass(inventory.LockStep + time.Second)
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
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	var callers []string
	for _, f := range files {
		text, err := os.ReadFile(f)
		require.NoError(t, err)
		if !strings.HasSuffix(f, "_test.go") && strings.Contains(string(text), ".AppendMovements(") {
			callers = append(callers, f)
		}
	}
	assert.Equal(t, []string{"recorder.go", "signing.go"}, callers, "the recorder hands on what it wraps")
}

// controlledWrite is a use case that moves controlled units or counts them.
type controlledWrite struct {
	name string
	kept bool // a crew's record: without signatures it waits, and posts nothing
	owed bool // one person alone may record it, and a signature is owed then
	by   inventory.Actor
	do   func(h *house, by inventory.Actor, lot inventory.Lot) error
}

func moves(name, from, to string, reason inventory.Reason) controlledWrite {
	return controlledWrite{name: name, by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Move(h.ctx, by, []inventory.Movement{{LotID: lot.ID, Qty: 1, From: from, To: to, Reason: reason, Cause: causeFor(reason)}})
		return err
	}}
}

// controlledWrites is every way in which a unit can move, and the count. 8 units
// lie in the store, 4 in bag N-01, 2 away and 2 on Cleo's carrier.
var controlledWrites = []controlledWrite{
	moves("stow", "NORTH-STORE", "N-01", inventory.ReasonStow), moves("return", "N-01", "NORTH-STORE", inventory.ReasonReturn),
	moves("transfer", "NORTH-STORE", "SOUTH-STORE", inventory.ReasonTransfer), moves("to a carrier", "NORTH-STORE", "N-BELT", inventory.ReasonStow),
	moves("quarantine", "N-01", "NORTH-QUARANTINE", inventory.ReasonQuarantine), moves("away", "N-01", "N-REPAIR", inventory.ReasonAway),
	moves("used at the desk", "N-01", "used", inventory.ReasonUsed), moves("destroyed", "N-01", "disposed", inventory.ReasonDisposed),
	moves("lost", "N-01", "lost", inventory.ReasonLost), moves("found", "found", "N-01", inventory.ReasonFound),
	{name: "correction", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		ms, err := h.s.Movements(h.ctx, keeper, inventory.MovementFilter{Place: "N-01"}, inventory.Page{})
		require.NoError(h.t, err)
		m := ms[0]
		_, err = h.s.Move(h.ctx, by, []inventory.Movement{{LotID: m.IntoLotID, Qty: m.Qty, From: m.To, To: m.From, Reason: inventory.ReasonCorrection, Corrects: m.ID}})
		return err
	}},
	{name: "receipt", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.Receive(h.ctx, by, inventory.Receipt{Place: "NORTH-STORE", Item: "AMP", LotNo: "A2", EndPrinted: "2029-01", EndWording: "expiry", Qty: 1})
		return err
	}},
	{name: "restock in", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.RecordRestock(h.ctx, by, inventory.Restock{Bag: "N-01", Lines: []inventory.RestockLine{{LotID: lot.ID, Qty: 1}}}, 0)
		return err
	}},
	{name: "restock out", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.RecordRestock(h.ctx, by, inventory.Restock{Bag: "N-01", TakeOut: []inventory.TakeOutLine{{LotID: lot.ID, Qty: 1, To: "disposed", Reason: inventory.ReasonDisposed, Cause: inventory.CauseExpired}}}, 0)
		return err
	}},
	{name: "use", by: crew, owed: true, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.RecordUse(h.ctx, by, inventory.Use{Bag: "N-01", Incident: "I-1", SeenPosition: h.bag("N-01").Position, Lines: []inventory.UseLine{{LotID: lot.ID, Qty: 1}}}, "")
		return err
	}},
	{name: "full check", by: crew, kept: true, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.RecordCheck(h.ctx, by, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck, SeenPosition: h.bag("N-01").Position,
			Lines: []inventory.CheckLine{{LotID: lot.ID, Counted: 3, Reason: inventory.CountMissing}}}, "")
		return err
	}},
	{name: "decided use", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		u, err := h.s.RecordUse(h.ctx, crew, inventory.Use{Bag: "N-01", Incident: "I-2", SeenPosition: 0, Lines: []inventory.UseLine{{LotID: lot.ID, Qty: 1}}}, "")
		require.NoError(h.t, err)
		require.Equal(h.t, inventory.StatusWaiting, u.Status)
		_, err = h.s.DecideUse(h.ctx, by, u.ID, inventory.UseDecision{Decision: inventory.DecidePost, Reason: "so it was"})
		return err
	}},
	{name: "decided check", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		c, err := h.s.RecordCheck(h.ctx, crew, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck, SeenPosition: 0, Lines: []inventory.CheckLine{{LotID: lot.ID, Counted: 3, Reason: inventory.CountMissing}}}, "")
		require.NoError(h.t, err)
		require.Equal(h.t, inventory.StatusWaiting, c.Status)
		_, err = h.s.DecideCheck(h.ctx, by, c.ID, inventory.CheckDecision{Decision: inventory.DecideAdjust, Reason: "so it was", Lines: c.Lines})
		return err
	}},
	{name: "left somewhere", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.SendAway(h.ctx, by, inventory.AwayTrip{From: "N-01", Where: "Hospital", Lines: []inventory.AwayLine{{LotID: lot.ID, Qty: 1}}})
		return err
	}},
	{name: "come back", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.ComeBack(h.ctx, by, "N-REPAIR", []inventory.ReturnLine{{LotID: lot.ID, Qty: 1}})
		return err
	}},
	{name: "opened", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.OpenUnits(h.ctx, by, lot.ID, inventory.Opened{Place: "N-01", Qty: 1})
		return err
	}},
	{name: "pulled", by: keeper, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		n, err := h.s.CreateNotice(h.ctx, keeper, inventory.Notice{Reference: "N", Action: inventory.NoticeWithdraw, Item: "AMP", LotNos: []string{"A1"}})
		require.NoError(h.t, err)
		_, err = h.s.Pull(h.ctx, by, n.ID, "N-01")
		return err
	}},
	{name: "found in a check", by: crew, kept: true, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.RecordCheck(h.ctx, by, inventory.Check{Bag: "N-01", Kind: inventory.FullCheck, SeenPosition: h.bag("N-01").Position, Lines: []inventory.CheckLine{{LotID: lot.ID, Counted: 4}},
			Found: []inventory.FoundLine{{Item: "AMP", Qty: 1, Unidentified: true}}}, "")
		return err
	}},
	{name: "signed out", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.PostEntry(h.ctx, by, inventory.Posting{Kind: inventory.PostSignOut, Place: "NORTH-STORE", Lines: []inventory.PostingLine{{LotID: lot.ID, Qty: 1}}})
		return err
	}},
	{name: "signed back", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.PostEntry(h.ctx, by, inventory.Posting{Kind: inventory.PostBack, Place: "N-CLEO", Lines: []inventory.PostingLine{{LotID: lot.ID, Qty: 1}}})
		return err
	}},
	{name: "used from a carrier", by: crew, owed: true, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.PostEntry(h.ctx, by, inventory.Posting{Kind: inventory.PostUse, Place: "N-CLEO", Reference: "I-3", Lines: []inventory.PostingLine{{LotID: lot.ID, Qty: 1, Given: "10 mg"}}})
		return err
	}},
	{name: "broken on a carrier", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.PostEntry(h.ctx, by, inventory.Posting{Kind: inventory.PostDestroy, Place: "N-CLEO", Cause: inventory.CauseDamaged, Lines: []inventory.PostingLine{{LotID: lot.ID, Qty: 1}}})
		return err
	}},
	{name: "balance check", by: crew, do: func(h *house, by inventory.Actor, lot inventory.Lot) error {
		_, err := h.s.RecordBalanceCheck(h.ctx, by, inventory.BalanceCheck{Item: "AMP", Place: "N-01", Counted: 4})
		return err
	}},
}

// TestNothingControlledMovesOnOneSignature walks every way in which units move
// × every way of not having two signatures: a person or a program with none, a
// person with their own PIN alone, a program with one person, and two proofs
// kept from before. Then with both, which goes through. Over all of it, no
// movement has one person twice, or one alone that does not owe a signature.
func TestNothingControlledMovesOnOneSignature(t *testing.T) {
	t.Parallel()
	h := newDispensary(t, storetest.OpenSQLite(t))
	_, err := h.s.CreatePlace(h.ctx, admin, inventory.Place{Code: "N-CLEO", Site: "NORTH", Kind: inventory.KindCarrier, Purpose: inventory.ForIssue, Name: "Cleo's pouch", Holder: "Cleo"})
	require.NoError(t, err)
	lot := h.receiveAmps(20)
	h.amps(lot.ID, 4, "NORTH-STORE", "N-01", inventory.ReasonStow)
	h.amps(lot.ID, 2, "NORTH-STORE", "N-REPAIR", inventory.ReasonAway)
	h.amps(lot.ID, 2, "NORTH-STORE", "N-CLEO", inventory.ReasonStow)
	program := pda
	program.Sites = keeper.Sites
	for _, c := range controlledWrites {
		old := h.signed(c.by, witnessOf(c.by))
		h.pass(2 * time.Minute)
		alone, err := h.s.Sign(h.ctx, c.by, signing(c.by.Name, ""), reversed{})
		require.NoError(t, err)
		oneNamed, err := h.s.Sign(h.ctx, program, signing("Quinn", ""), reversed{})
		require.NoError(t, err)
		for how, by := range map[string]inventory.Actor{"no PIN": c.by, "one's own PIN alone": alone, "proofs from before": old, "a program": program, "a program with one person": oneNamed} {
			before := h.books()
			err := h.undone(c, by, lot)
			if c.kept || c.owed && how != "a program" {
				assert.NoError(t, err, "%s with %s", c.name, how)
			} else if c.owed && how == "a program" {
				assert.True(t, err == nil || inventory.KindOf(err) == inventory.Invalid || inventory.KindOf(err) == inventory.Forbidden, "%s: %v", c.name, err)
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
	err := h.s.Together(ctx, func(ctx context.Context) error {
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
	ms, err := h.s.Movements(h.ctx, admin, inventory.MovementFilter{Item: "AMP"}, inventory.Page{})
	require.NoError(h.t, err)
	rows, err := h.s.OwedRows(h.ctx, admin, nil)
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
			require.True(h.t, owedAllowed && owed[m.ID] && m.Reason == inventory.ReasonUsed, "one signature and none owed: %+v", m)
		}
	}
}

// books is what must not have changed.
func (h *house) books() string {
	ms, err := h.s.Movements(h.ctx, admin, inventory.MovementFilter{}, inventory.Page{})
	require.NoError(h.t, err)
	return fmt.Sprint(len(ms), h.page("N-01"), h.page("NORTH-STORE"))
}
